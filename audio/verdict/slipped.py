"""Frames lost or inserted, in words."""

from __future__ import annotations

from collections.abc import Sequence

from audio.verdict.case import Case, Change
from audio.verdict.words import MORE_ROOM, counted, listing, place_time, times
from audio.vocab.alignment import Slip
from audio.vocab.findings import Finding


def slipped(case: Case, by_what: str, slips: Sequence[Slip]) -> Finding:
    """Return one finding for all slips, with the first one's place."""
    first = min(slips, key=lambda s: s.at_frame)
    at_s, within_s = first.at_frame / case.rate, first.within_frames / case.rate
    where = f"at {place_time(at_s)}" + (f" ± {within_s:.2f} s" if within_s > 0.005 else "")
    if len(slips) > 1:
        where = f"{times(len(slips))}, first {where}"
    text = f"Frames slipped {where}: {_sums(slips)}, by {by_what}."
    return Finding(
        code="frames-slipped", weight="redo", text=text, at_s=max(0.0, at_s), advice=MORE_ROOM
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
    at_s = max(0.0, seen[0].at_frame / case.rate) if seen else None
    if at_s is not None:
        text = f"{text} The music shows it at {place_time(at_s)}."
    return Finding(code="frames-slipped", weight="redo", text=text, at_s=at_s, advice=MORE_ROOM)


def by(here: Change) -> str:
    """Return a change in words: ``3.00 frames later``."""
    return f"{abs(here.by):.2f} frames {'later' if here.by > 0 else 'earlier'}"
