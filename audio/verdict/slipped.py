"""Frames lost or inserted, in words."""

from __future__ import annotations

from collections.abc import Sequence

from audio.verdict.case import Case, Change
from audio.verdict.thresholds import BOTH_WAYS_S
from audio.verdict.words import MORE_ROOM, counted, listing, place_time, times
from audio.vocab.alignment import Disturbance, Slip
from audio.vocab.findings import Finding, Verdict
from audio.vocab.units import ms_from_frames


def slipped(case: Case, by_what: str, slips: Sequence[Slip]) -> Finding:
    """Return one finding for all slips, with the first one's place."""
    first = min(slips, key=lambda s: s.at_frame)
    at_s, within_s = case.di_s(first.at_frame), first.within_frames / case.rate
    within = f" ± {within_s:.2f} s" if within_s > 0.005 else ""
    undone = len(slips) == 2 and undo_each_other(*slips, rate=case.rate)
    afterwards = ", all in place again afterwards" if undone else ""
    where = _where(at_s, count=len(slips))
    text = f"Frames slipped {where}{within}: {_sums(slips)}{afterwards}, by {by_what}."
    return Finding(
        code="frames-slipped",
        weight="redo",
        text=text,
        at_s=max(case.order.from_s, at_s),
        advice=MORE_ROOM,
    )


def undo_each_other(one: Slip, other: Slip, *, rate: int) -> bool:
    """Return whether a slip puts back, within `BOTH_WAYS_S`, what the one before it moved."""
    near = other.at_frame - one.at_frame <= BOTH_WAYS_S * rate
    return near and one.frames + other.frames == 0


_DISTURBED: dict[str, tuple[Verdict, str, str]] = {
    "moved": (
        "redo",
        "Frames slipped and were put back within {ms} ms {where}, no telling how many, by {by_what}.",
        MORE_ROOM,
    ),
    "silent": (
        "redo",
        "Silence stood in the DI's place for {ms} ms {where}, by {by_what}.",
        MORE_ROOM,
    ),
    "strange": (
        "look",
        "For {ms} ms something else than the DI came back {where}, by {by_what}.",
        "Listen to the microphones there; if they are clean, check that cable for a loose contact.",
    ),
}
"""Weight, text and advice by kind, the heaviest first."""


def disturbed(case: Case, by_what: str, disturbances: Sequence[Disturbance]) -> list[Finding]:
    """Return a finding for each kind of what was disturbed for a moment, with the first one's place."""
    found = []
    for kind, (weight, text, advice) in _DISTURBED.items():
        those = [one for one in disturbances if one.kind == kind]
        if not those:
            continue
        at_s = max(case.order.from_s, case.di_s(those[0].at_frame))
        where = _where(at_s, count=len(those))
        ms = ms_from_frames(max(one.frames for one in those), rate=case.rate)
        said = text.format(ms=f"{ms:.0f}", where=where, by_what=by_what)
        found.append(
            Finding(code="frames-disturbed", weight=weight, text=said, at_s=at_s, advice=advice)
        )
    return found


def _where(at_s: float, *, count: int) -> str:
    """Return the place of the first of some."""
    return (
        f"at {place_time(at_s)}" if count == 1 else f"{times(count)}, first at {place_time(at_s)}"
    )


def _sums(slips: Sequence[Slip]) -> str:
    lost = -sum(s.frames for s in slips if s.frames < 0)
    more = sum(s.frames for s in slips if s.frames > 0)
    said = [(lost, "lost"), (more, "inserted")]
    return listing([f"{counted(n, 'frame', 'frames')} {word}" for n, word in said if n])


def slipped_by_click(case: Case, name: str, here: Change) -> Finding:
    """Return what two clicks prove, in place where the music saw it, too."""
    word = "inserted" if here.by > 0 else "lost"
    text = f"The closing click came {by(here)} than the opening one on {name}: frames were {word}."
    seen = case.music.slips if case.music else ()
    at_s = max(case.order.from_s, case.di_s(seen[0].at_frame)) if seen else None
    if at_s is not None:
        text = f"{text} The music shows it at {place_time(at_s)}."
    return Finding(code="frames-slipped", weight="redo", text=text, at_s=at_s, advice=MORE_ROOM)


def by(here: Change) -> str:
    """Return a change in words: ``3.00 frames later``."""
    return f"{abs(here.by):.2f} frames {'later' if here.by > 0 else 'earlier'}"
