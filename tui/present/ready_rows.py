"""The list of a checked DI: findings, the hits that are furthest off, and what a second DI lacks."""

from __future__ import annotations

from dataclasses import dataclass

from rich.text import Text

from audio.grid.places import lateness
from audio.vocab.checked import Checked
from audio.vocab.findings import Verdict
from audio.vocab.readiness import DiFinding, Hit
from audio.vocab.timing import BarTiming, Doubles, LoneHit, PairedHit, PlacedHit, Timing
from audio.vocab.units import signed
from tui.present.check_words import WORDS, finding_sure, hit_words
from tui.present.glyphs import cells_of, cut
from tui.present.looks import FAINT, HERE, PLAIN, VERDICT_LOOKS, in_sight, text
from tui.present.wave_words import exact_time

SHAPES: dict[Verdict, str] = {"redo": "×", "look": "▲", "good": "·"}
PLACE_CELLS = 24
"""Most cells a place in bars takes."""


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the list."""

    weight: Verdict
    frame: int | None
    """Where it leads; None where it is everywhere."""
    place: str
    """In bars; empty where no tempo is known."""
    words: str
    advice: str = ""
    sure: str = ""


def items(checked: Checked, beside: Doubles | None, *, other: str) -> list[Item]:
    """Return the list: findings first, the heaviest on top, then what was mended, then hits.

    Parameters
    ----------
    checked
        The DI.
    beside
        Its hits beside another recording's; None where there is none.
    other
        What that is called.

    Returns
    -------
    list of Item
        In the order in which they are told.
    """
    rate = checked.measures.facts.sample_rate
    listed = [_finding(one) for one in checked.findings]
    if checked.change is not None:
        listed += [_gone(one) for one in checked.change.gone]
    if isinstance(checked.timing, Timing):
        listed += [_worst(one, rate) for one in checked.timing.worst]
    if beside is not None:
        listed += [_lone(one, f"missing: {other} has a hit here", rate) for one in beside.missing]
        listed += [_lone(one, f"extra: {other} has no hit here", rate) for one in beside.extra]
        listed += [_apart(one, other, rate) for one in beside.worst]
    return listed


def _finding(one: DiFinding) -> Item:
    return Item(
        weight=one.weight,
        frame=one.frame,
        place=one.place,
        words=one.text,
        advice=one.advice,
        sure=finding_sure(one),
    )


def _gone(one: DiFinding) -> Item:
    """Return a line for what was mended since the revision before; the place is that one's, and is gone."""
    words = one.text[0].lower() + one.text[1:]
    return Item("good", None, one.place, f"gone since the revision before: {words}")


def _worst(one: PlacedHit, rate: int) -> Item:
    return Item("good", round(one.at_s * rate), one.place, f"hit {lateness(one.deviation_ms)}")


def _lone(one: LoneHit, words: str, rate: int) -> Item:
    return Item("good", round(one.at_s * rate), one.place, words)


def _apart(one: PairedHit, other: str, rate: int) -> Item:
    words = f"hit {lateness(one.deviation_ms)} beside {other}"
    return Item("good", round(one.at_s * rate), one.place, words)


def rows(listed: list[Item], at: int, *, columns: int, most: int, rate: int) -> list[Text]:
    """Return the lines around one, in at most so many rows."""
    places = min(max((cells_of(one.place) for one in listed), default=0), PLACE_CELLS)
    return [
        _row(listed[number], columns, rate, places, here=number == at)
        for number in in_sight(len(listed), at, most)
    ]


def _row(one: Item, columns: int, rate: int, places: int, *, here: bool) -> Text:
    time = "" if one.frame is None else exact_time(one.frame, rate=rate)
    head = text(
        " ▸ " if here else "   ",
        (f"{SHAPES[one.weight]} {_word(one.weight):<5}", VERDICT_LOOKS[one.weight]),
        (f"{time:>10}  ", FAINT),
        (f"{cut(one.place, places):<{places}}{'  ' if places else ''}", PLAIN),
    )
    room = max(columns - head.cell_len - 1, 8)
    return head + text((cut(one.words, room), HERE if here else PLAIN))


def _word(weight: Verdict) -> str:
    return "" if weight == "good" else WORDS[weight]


def hit_line(hit: Hit, placed: PlacedHit | None, rate: int, *, bar: BarTiming | None) -> str:
    """Return all that is known of one hit, and how its bar sits as a whole."""
    told = [hit_words(placed)] if placed is not None else []
    if placed is not None and placed.stray is not None:
        told = [f"{placed.place}: between the places of the grid, not counted"]
    told.append(f"{exact_time(round(hit.frame), rate=rate)}, frame {hit.frame:.1f}")
    if hit.width_ms:
        told.append(f"a chord, {hit.width_ms:.0f} ms wide or more")
    told += [f"{signed(hit.level_dbfs, digits=0)} dBFS", f"{hit.confidence:.0%} sure"]
    if bar is not None:
        told.append(f"bar {bar.bar} {lateness(bar.mean_ms)} on average")
    return " · ".join(told)
