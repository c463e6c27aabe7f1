"""HTML that nothing from outside can break: whatever is no markup already is escaped where it is put in."""

from __future__ import annotations

import html
from base64 import b64encode
from collections.abc import Iterable, Sequence
from hashlib import sha256

import msgspec

from audio.vocab.characters import escaped, is_hidden
from audio.vocab.sheet import PhotoShown

_NO_END = frozenset({"img", "meta", "col"})


class Markup(str):
    """Text that is HTML already; only this module makes it of anything else."""

    __slots__ = ()


def said(text: str) -> Markup:
    """Return text as HTML; hidden characters stand as escapes."""
    return text if isinstance(text, Markup) else Markup(html.escape(escaped(text), quote=True))


def own(text: str) -> Markup:
    """Return a name or words from outside, held apart so that their direction disturbs no neighbour."""
    return tag("bdi", text)


def joined(pieces: Iterable[str], between: str = "") -> Markup:
    """Return pieces one after the other, as HTML."""
    return Markup(said(between).join(said(one) for one in pieces))


def tag(name: str, /, *inside: str, **attributes: str) -> Markup:
    """Return an element.

    Parameters
    ----------
    name
        What it is called in HTML.
    *inside
        Markup stays, anything else is escaped.
    **attributes
        Escaped; an underscore at the end is left out, one inside becomes a dash.

    Returns
    -------
    Markup
        With its end, where it has one.
    """
    told = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{said(value)}"' for key, value in attributes.items()
    )
    if name in _NO_END:
        return Markup(f"<{name}{told}>")
    return Markup(f"<{name}{told}>{joined(inside)}</{name}>")


def data(value: object) -> str:
    """Return a value as JSON that may stand inside a script element: without tags and hidden characters."""
    plain = msgspec.json.encode(value).decode()
    return "".join(_coded(one) if one in "<>&" or is_hidden(one) else one for one in plain)


def hashed(content: str) -> str:
    """Return a style's or script's text as a Content-Security-Policy names it."""
    return f"'sha256-{b64encode(sha256(content.encode()).digest()).decode()}'"


def items(ordered: Iterable[str], **attributes: str) -> Markup:
    """Return a list whose order means nothing; empty where it has nothing in it."""
    rows = [tag("li", one) for one in ordered]
    return tag("ul", *rows, **attributes) if rows else Markup("")


def facts(pairs: Iterable[tuple[str, str]]) -> Markup:
    """Return names with what is known of them; what is empty is left out."""
    rows = [tag("div", tag("dt", name), tag("dd", what)) for name, what in pairs if what]
    return tag("dl", *rows, class_="facts") if rows else Markup("")


def table(
    caption: str, head: Sequence[str], rows: Iterable[Sequence[str]], *, kind: str = ""
) -> Markup:
    """Return a table that scrolls in a box of its own where it is wide; each row begins with its name.

    Parameters
    ----------
    caption
        What it shows.
    head
        Names of the columns.
    rows
        As many cells each.
    kind
        One more class for the style.

    Returns
    -------
    Markup
        Its box can be reached and moved by keys.
    """
    top = tag("tr", *(tag("th", one, scope="col") for one in head))
    body = [
        tag("tr", tag("th", first, scope="row"), *(tag("td", one) for one in rest))
        for first, *rest in rows
    ]
    whole = tag("table", tag("caption", caption), tag("thead", top), tag("tbody", *body))
    return wide(whole, caption, kind=kind)


def wide(inside: Markup, name: str, *, kind: str = "") -> Markup:
    """Return a box that scrolls by itself where the page is narrow, by keys, too."""
    kinds = f"wide {kind}".strip()
    return tag("div", inside, class_=kinds, role="group", aria_label=name, tabindex="0")


def drawing(svg: str, *, alt: str, caption: str) -> Markup:
    """Return a drawing that lies in the page itself, no smaller than it can be read."""
    drawn = wide(_image(svg.encode(), "image/svg+xml", alt), "Picture")
    return tag("figure", drawn, tag("figcaption", caption), class_="drawn")


def photo(shown: PhotoShown, *, alt: str, caption: str, at: str) -> Markup:
    """Return a photo that lies in the page itself, with what stands under it."""
    size = {"width": str(shown.width), "height": str(shown.height)}
    drawn = _image(shown.jpeg, "image/jpeg", alt, **size)
    return tag("figure", drawn, tag("figcaption", caption), class_="photo", id=at)


def _coded(character: str) -> str:
    """Return a character of a JSON string by its UTF-16 codes, as JSON writes them."""
    codes = character.encode("utf-16-be")
    return "".join(f"\\u{codes[at]:02x}{codes[at + 1]:02x}" for at in range(0, len(codes), 2))


def _image(content: bytes, kind: str, alt: str, **size: str) -> Markup:
    return tag("img", src=f"data:{kind};base64,{b64encode(content).decode()}", alt=alt, **size)
