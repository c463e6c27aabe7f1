"""The recall sheet as one HTML page: needs nothing but itself, on a screen and on paper.

Values in, text out. What comes from outside is escaped where it is put in (`audio.handover.markup`).
"""

from __future__ import annotations

from importlib.resources import files

from audio.handover.markup import Markup, facts, items, joined, own, tag
from audio.handover.sheet_sound import sound_article, title_of
from audio.handover.sheet_texts import CAUTIONS, HOW_TO_READ, MEASURED
from audio.handover.words import day
from audio.vocab.sheet import OriginalTold, Sheet, SheetPart
from audio.vocab.units import with_sign

POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
"""Whatever stood in the page, nothing would be fetched and nothing would run."""


def sheet_page(sheet: Sheet) -> str:
    """Return the whole page.

    Parameters
    ----------
    sheet
        What stands on it.

    Returns
    -------
    str
        HTML with its style and pictures in it; the same sheet gives the same text.
    """
    title = f"Recall sheet: {sheet.session}"
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", http_equiv="Content-Security-Policy", content=POLICY),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="color-scheme", content="light dark"),
        tag("title", title),
        tag("style", _style()),
    )
    seen: dict[bytes, str] = {}
    parts = [_part(one, number, seen) for number, one in enumerate(sheet.parts, start=1)]
    main = tag("main", *parts, _room("How the figures were measured", items(MEASURED)))
    page = tag("html", head, tag("body", _top(sheet), main), lang="en")
    return f"<!doctype html>\n{page}\n"


def _style() -> Markup:
    """Return our own style; it holds no sign that would end it."""
    return Markup((files("audio.handover") / "sheet.css").read_text(encoding="utf-8"))


def _top(sheet: Sheet) -> Markup:
    made = tag("p", own(sheet.name), f", made {day(sheet.made_at)}", class_="where")
    contents = tag("nav", tag("h2", "Contents"), _contents(sheet), aria_label="Contents")
    left = _room("Left out", items([own(one) for one in sheet.left_out])) if sheet.left_out else ""
    return tag(
        "header",
        tag("h1", "Recall sheet: ", own(sheet.session)),
        made,
        contents,
        _room("How to read it", items(HOW_TO_READ)),
        _room("Before you switch on", items(CAUTIONS)),
        left,
        class_="top",
    )


def _room(name: str, inside: Markup) -> Markup:
    return tag("section", tag("h2", name), inside, class_="room")


def _contents(sheet: Sheet) -> Markup:
    rows = []
    for number, part in enumerate(sheet.parts, start=1):
        sounds = [
            tag("a", title_of(one), href=f"#{_sound_at(number, at)}")
            for at, one in enumerate(part.sounds, start=1)
        ]
        name = tag("a", _where(part), href=f"#part-{number}")
        rows.append(joined([name, items(sounds)]))
    return items(rows, class_="contents")


def _sound_at(part: int, sound: int) -> str:
    return f"sound-{part}-{sound}"


def _where(part: SheetPart) -> Markup:
    return joined([own(part.song), " · ", own(part.part)])


def _part(part: SheetPart, number: int, seen: dict[bytes, str]) -> Markup:
    at = f"part-{number}"
    tempo = tag("p", own(part.tempo), class_="where") if part.tempo else ""
    sounds = [
        sound_article(one, at=_sound_at(number, which), where=_where(part), seen=seen)
        for which, one in enumerate(part.sounds, start=1)
    ]
    return tag(
        "section",
        tag("h2", _where(part), id=f"{at}-name"),
        tempo,
        _originals(part.originals),
        *sounds,
        class_="part",
        id=at,
        aria_labelledby=f"{at}-name",
    )


def _originals(originals: tuple[OriginalTold, ...]) -> Markup:
    if not originals:
        return tag("p", "There is no original: no first recording of the amp to hold them against.")
    told = [facts(_original(one)) for one in originals]
    return tag(
        "section",
        tag("h3", "The original: the first recording of the amp"),
        *told,
        class_="original",
    )


def _original(one: OriginalTold) -> list[tuple[str, str]]:
    sure = "" if one.plus_minus_frames is None else f" ± {one.plus_minus_frames:.2f}"
    frames = one.offset_frames
    lies = "" if frames is None else f" ({with_sign(frames, digits=1)}{sure} frames)"
    polarity = {"normal": ", the same way round", "inverted": ", upside down"}
    match = one.match_db
    return [
        ("Original", own(one.name)),
        ("Lies", joined([own(one.text), lies, polarity.get(one.polarity, "")])),
        (
            "As loud as these sounds",
            "not known" if match is None else f"at {with_sign(match, digits=1)} dB",
        ),
    ]
