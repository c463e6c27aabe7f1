"""The letter that lies on top of a hand-over: what is in it, and how it is placed; pure."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from audio.handover import places
from audio.handover.listing import Listed, timecode
from audio.vocab.characters import escaped
from audio.vocab.handover import HandoverOrder, SongStart
from audio.vocab.units import signed

COLUMNS = 76


def letter(order: HandoverOrder, listed: Sequence[Listed], *, left_out: Sequence[str]) -> str:
    """Return the letter as plain text.

    Parameters
    ----------
    order
        What was decided.
    listed
        The files.
    left_out
        What could not be handed over, a sentence each.

    Returns
    -------
    str
        Lines of at most `COLUMNS` characters, but for names that are longer.
    """
    pieces = [
        _paragraph(
            f"{order.session}: {_count(len(order.sounds), 'sound')}, handed over {order.made_at}."
        ),
        _heading("Where to look"),
        *_looks(order),
        _heading("Where the files go"),
        *_placed(order, listed),
        _heading("What each file is"),
        *_files(listed),
    ]
    if left_out:
        pieces += [_heading("Left out"), *(_paragraph(one) for one in left_out)]
    return "\n".join(pieces) + "\n"


def _looks(order: HandoverOrder) -> list[str]:
    looks = [
        (f"{places.SOUNDS}/", "the sound files, a folder for each song"),
        (
            f"{places.TABLE}, {places.RECORD}",
            "all that is known of each file, for a spreadsheet and for a program",
        ),
        (
            places.CHECKSUMS,
            "proves that everything arrived whole: sha256sum --check " + places.CHECKSUMS,
        ),
    ]
    if order.asked.sheet:
        looks.insert(
            0, (places.SHEET, "how to set each sound up again; opens in a browser, and prints")
        )
    if order.asked.page:
        text = "open index.html in a browser, listen, and send back what you choose; phones want it from"
        more = "a web server, such as `python3 -m http.server` in that folder"
        looks.insert(0, (f"{places.PAGE}/", f"the listening page: {text} {more}"))
    return [_item(name, words) for name, words in looks]


def _placed(order: HandoverOrder, listed: Sequence[Listed]) -> list[str]:
    rates = sorted({one.piece.sample_rate for one in listed})
    rate = " and ".join(f"{one} Hz" for one in rates)
    if order.asked.start == "recorded":
        stamped = (
            "Each WAV file carries the place where it was recorded as a time stamp (bext, EBU Tech"
        )
        text = f"{stamped} 3285): import it at its time stamp, at {rate}. The list has it as well."
        return [_paragraph(text)]
    text = f"All files of a song begin at the same place, at {rate}: put them there side by side."
    return [_paragraph(text), *(_item(one.song, _start(one)) for one in order.starts)]


def _start(one: SongStart) -> str:
    at = f"{timecode(one.at_s)} of the recorder"
    if one.before_bar_1_s is None:
        return f"{at}; nobody has noted where bar 1 lies"
    if one.before_bar_1_s == 0.0:
        return f"{at}, which is bar 1"
    return f"{at}, {signed(one.before_bar_1_s, digits=3)} s before bar 1"


def _files(listed: Sequence[Listed]) -> list[str]:
    lines = []
    for one in listed:
        said = one.opinion
        name = (said.called or said.chain if said else "") or (
            one.variant.chain.name if one.variant else ""
        )
        words = [
            one.piece.kind if one.piece.kind != "microphone" else "",
            one.piece.microphone,
            name,
        ]
        told = ", ".join(word for word in words if word)
        lines.append(_item(one.done.path, told))
    return lines


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _heading(text: str) -> str:
    return f"\n{text}\n"


def _paragraph(text: str) -> str:
    return "\n".join(
        textwrap.wrap(escaped(text), COLUMNS, break_long_words=False, break_on_hyphens=False)
    )


def _item(name: str, words: str) -> str:
    """Return a name and, under it or behind it, what it is."""
    told = textwrap.wrap(
        f"{escaped(name)}  {escaped(words)}",
        COLUMNS,
        initial_indent="  ",
        subsequent_indent="      ",
        break_long_words=False,
        break_on_hyphens=False,
    )
    return "\n".join(told)
