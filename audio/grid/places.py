"""Places in a bar, and what a part is played on, in the words players count with.

"One e and a" for sixteenths and "and" for eighths, triplets and sextuplets by their number (common
practice, no source). A beat is the metre's lower number: 6/8 has six, and its sixteenths are called "and".
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache

_SPOKEN = {
    Fraction(0): "",
    Fraction(1, 2): " and",
    Fraction(1, 4): " e",
    Fraction(3, 4): " a",
    Fraction(1, 3): ", 2nd triplet",
    Fraction(2, 3): ", 3rd triplet",
    Fraction(1, 6): ", 2nd sextuplet",
    Fraction(5, 6): ", 6th sextuplet",
    Fraction(1, 8): ", between beat and e",
    Fraction(3, 8): ", between e and and",
    Fraction(5, 8): ", between and and a",
    Fraction(7, 8): ", behind the a",
}

_NOTES = {
    1: "whole notes",
    2: "half notes",
    4: "quarters",
    8: "eighths",
    16: "sixteenths",
    32: "thirty-seconds",
}


def place_name(*, bar: int, beat: int, step: int = 0, parts: int = 1) -> str:
    """Return the name of a place in a bar.

    Parameters
    ----------
    bar
        As the song counts it.
    beat
        From 1, within its bar.
    step
        Which of the beat's parts, from 0, the beat itself.
    parts
        Into how many the beat is divided.

    Returns
    -------
    str
        Such as ``bar 12 beat 3 and``.
    """
    return f"bar {bar} beat {beat}{step_name(step, parts)}"


@cache
def step_name(step: int, parts: int) -> str:
    """Return what is said behind the beat's number for one of its parts, nothing for the beat itself."""
    return _SPOKEN.get(Fraction(step, parts), f", {step + 1} of {parts}")


def lateness(deviation_ms: float) -> str:
    """Return a deviation in words, to a tenth of a millisecond: ``18 ms late``, ``3.4 ms early``."""
    tenths = round(abs(deviation_ms) * 10)
    if tenths == 0:
        return "in time"
    return f"{tenths / 10:g} ms {'late' if deviation_ms > 0 else 'early'}"


def subdivision_name(parts: int, *, note: int, swing: float | None = None) -> str:
    """Return what a part is played on.

    Parameters
    ----------
    parts
        Of a beat: 1, 2, 3, 4, 6 or 8.
    note
        The metre's lower number: which note a beat is, 1, 2, 4, 8 or 16.
    swing
        Share of the first of two parts in the pair, 0 to 1; None where the parts are even.

    Returns
    -------
    str
        Such as ``eighths``, ``eighth triplets`` or ``eighths, swung 62 %``.
    """
    if parts % 3 == 0:
        single = _NOTES.get(note * parts * 2 // 3, f"1/{note * parts * 2 // 3} notes")
        return f"{single.removesuffix('s')} triplets"
    name = _NOTES.get(note * parts, f"1/{note * parts} notes")
    return name if swing is None else f"{name}, swung {100 * swing:.0f} %"
