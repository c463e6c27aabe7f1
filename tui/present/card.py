"""What stands on the card in the amp room, for each picture of the desk: read from three metres."""

from __future__ import annotations

import math
from typing import Literal

import msgspec
from rich.style import Style
from rich.text import Text

from audio.vocab.card import CardState, Role
from audio.vocab.findings import Verdict
from audio.vocab.units import clock_time
from tui.present.chain_card import drawn
from tui.present.looks import (
    ACCENT,
    BAD,
    CARE,
    FAINT,
    STRONG,
    paragraph,
    text,
    two_sided,
)

CAUTION = "ears away from the speaker: the amp plays as loud as it is set"

Kind = Literal["plain", "accent", "well", "care", "bad"]
"""How a large word looks."""

_VERDICTS: dict[Verdict, Kind] = {"good": "well", "look": "care", "redo": "bad"}


class Picture(msgspec.Struct, kw_only=True):
    """What a card knows."""

    state: CardState | None = None
    """None before the first, and while the desk is lost."""
    role: Role | None = None
    """What this card may do; None like the state."""
    lost: str = ""
    """Why the desk is lost; empty while it is not."""
    notice: str = ""
    """What became of the last key."""


def top(picture: Picture, columns: int) -> Text:
    """Return session and part, and the pass's number at the right."""
    state = picture.state
    if state is None:
        return text(" ")
    places = [one for one in (state.session, state.part) if one]
    number = "" if state.number is None else f" pass {state.number:03d} "
    number = f" {state.place} " if state.place else number
    return two_sided(text((f" {' ▸ '.join(places)}", FAINT)), text((number, STRONG)), columns)


def word(picture: Picture) -> tuple[str, Kind]:
    """Return the word that stands largest."""
    state = picture.state
    if state is None:
        return ("NO DESK", "bad") if picture.lost else ("WAIT", "plain")
    if state.word == "verdict" and state.verdict:
        return state.verdict.upper(), _VERDICTS[state.verdict]
    if state.word == "fault":
        return "FAULT", "bad"
    if state.word == "by hand":
        return ("HELD", "care") if state.finding else ("SET", "accent")
    if state.word == "countdown":
        return (
            "STARTS",
            "accent",
        )  # short enough to stand large on a phone, and the figure is the rest
    return state.word.upper(), "accent" if state.sounding else "plain"


def figure(picture: Picture) -> str:
    """Return the time that stands large: until it starts, or until the DI ends; or nothing."""
    state = picture.state
    if state is None:
        return ""
    if state.countdown_s is not None:
        return str(max(0, math.ceil(state.countdown_s)))
    if state.left_s is None or state.word == "tail":
        return ""
    return clock_time(math.ceil(state.left_s))


def chain(picture: Picture, columns: int) -> list[Text]:
    """Return the chain's name, in two lines at most."""
    state = picture.state
    return paragraph(state.chain, columns, STRONG)[:2] if state and state.chain else []


def by_hand(
    picture: Picture, columns: int, rows: int, *, first: int = 0, key: str = "↓"
) -> list[Text]:
    """Return what is to be set by hand, as large as there is room for; empty where nothing is.

    Parameters
    ----------
    picture
        What the card knows.
    columns
        Cells there are.
    rows
        Rows there are.
    first
        How far somebody has walked down a chain that does not fit, lines, up to `beyond`.
    key
        How the key that walks on is written.

    Returns
    -------
    list of Text
        At most so many rows; where something stands below, the last one says so.
    """
    state = picture.state
    if state is None or not state.card:
        return []
    lines = drawn(state.card, columns, rows)
    shown, left = lines[first : first + rows], len(lines) - first - rows
    if left > 0:
        shown[-1] = text((f" {key} {left + 1} lines more", ACCENT))
    return shown


def beyond(picture: Picture, columns: int, rows: int) -> int:
    """Return how many lines of what is to be set by hand do not fit in so many rows."""
    state = picture.state
    return max(len(drawn(state.card, columns, rows)) - rows, 0) if state and state.card else 0


def told(picture: Picture, columns: int) -> list[Text]:
    """Return whether it sounds, which card drives, the finding and what to do, or how it goes on."""
    state = picture.state
    if state is None:
        return _without_a_desk(picture, columns)
    lines = [_sounding(state), *_lines(driving(picture.role), columns, _weight(picture.role))]
    for words, look in ((state.finding, STRONG), (state.advice, Style())):
        lines += _lines(words, columns, look)
    if not state.finding and not state.card:  # whoever sets a chain needs the room for it
        lines += _lines(state.said, columns, FAINT)
    return lines


def driving(role: Role | None) -> str:
    """Return which card drives; nothing where this one does and is the only one."""
    if role is None or not role.card:
        return ""
    if role.drives:
        return f"card {role.card} of {role.cards} drives" if role.cards > 1 else ""
    return f"card {role.card} watches: {role.watching}"


def _weight(role: Role | None) -> Style:
    return Style() if role is not None and role.drives else CARE


def ahead(picture: Picture, columns: int) -> list[Text]:
    """Return what became of the last key, what go would start, and the caution that belongs to it."""
    state = picture.state
    lines = _lines(picture.notice, columns, CARE)[:2]
    if state is None:
        return lines
    if state.next and not state.card:
        lines += paragraph(f"next: {state.next}", columns)[:2]
    if state.may_go or state.word == "countdown":
        lines += _lines(CAUTION, columns, FAINT)
    return lines


def keys(picture: Picture) -> tuple[tuple[str, str], ...]:
    """Return the keys that do something now, and what."""
    state, leave = picture.state, ("quit", "leave")
    if state is None:
        return (("stop", "try to stop"), leave)
    if state.may_stop or state.sounding:
        return (("go", "stop"), ("stop", "stop"), leave)
    if picture.role is not None and not picture.role.drives:
        return (("stop", "stop"), ("drive", "take over"), leave)
    return (("go", "go"), ("stop", "stop"), leave) if state.may_go else (("stop", "stop"), leave)


def one_line(state: CardState) -> str:
    """Return a state in one line, for a log or a script's eye."""
    number = "" if state.number is None else f"pass {state.number:03d}"
    left = "" if state.left_s is None else f"{clock_time(math.ceil(state.left_s))} left"
    pieces = (
        " ▸ ".join(one for one in (state.session, state.song, state.part) if one),
        f"{state.verdict or state.word}" if state.word == "verdict" else state.word,
        number,
        state.chain,
        left,
        "sounds" if state.sounding else "nothing sounds",
        state.finding,
        f"next: {state.next}" if state.next else "",
    )
    return "; ".join(piece for piece in pieces if piece)


def _without_a_desk(picture: Picture, columns: int) -> list[Text]:
    if not picture.lost:
        return _lines("the desk has not said anything yet", columns, FAINT)
    return [
        *_lines("not connected: look at the desk", columns, BAD),
        *_lines("it may be sounding: nobody here can tell", columns, STRONG),
        text(),
        *_lines(picture.lost, columns, FAINT),
    ]


def _sounding(state: CardState) -> Text:
    return (
        text((" ■ SENDING: the amp plays", ACCENT)) if state.sounding else text(" □ nothing sounds")
    )


def _lines(words: str, columns: int, look: Style) -> list[Text]:
    """Return words in lines; none for no words."""
    return paragraph(words, columns, look) if words else []
