"""A DI that was checked before it is sent: frozen values."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from audio.vocab.findings import Verdict, worst
from audio.vocab.readiness import DiFinding, DiMeasures
from audio.vocab.timing import NoTiming, Timing

PARTS = (1, 2, 3, 4, 6, 8)
"""Into how many places a beat may be divided."""

SWING = (0.5, 0.75)


class HitsAsked(msgspec.Struct, frozen=True, kw_only=True):
    """What a part's hits are held against."""

    parts: int | None = None
    """Places of a beat; found by itself where left out."""
    swing: float | None = None
    """Share of the first of two in the pair, 0.5 to 0.75; found by itself where left out."""
    own_mean: bool = False
    """The part's own mean lies on the grid: a steady push or drag is not counted."""


def hits_problem(asked: HitsAsked) -> str:
    """Return what is wrong with what hits are to be held against, with the way out; empty if nothing is."""
    if asked.parts is not None and asked.parts not in PARTS:
        return f"a beat has 1, 2, 3, 4, 6 or 8 places here, not {asked.parts}"
    if asked.swing is None:
        return ""
    if not SWING[0] <= asked.swing <= SWING[1]:  # also what is no number
        return "swing is the share of the first of two, 50 % (straight) to 75 %"
    if asked.parts not in (None, 2, 4, 8):
        return "swing needs pairs: 2, 4 or 8 places in a beat"
    return ""


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """A revision beside the one before it; findings that only inform are left out."""

    gone: tuple[DiFinding, ...]
    new: tuple[DiFinding, ...]
    stayed: int
    hits_before: int
    hits_now: int
    mean_before_ms: float | None = None
    mean_now_ms: float | None = None
    spread_before_ms: float | None = None
    spread_now_ms: float | None = None


def still_open(findings: Iterable[DiFinding], accepted: frozenset[str]) -> tuple[DiFinding, ...]:
    """Return findings that will spoil a pass, and whose codes nobody has accepted."""
    return tuple(one for one in findings if one.weight == "redo" and one.code not in accepted)


class Checked(msgspec.Struct, frozen=True, kw_only=True):
    """A DI, and all that is to be said of it."""

    measures: DiMeasures
    findings: tuple[DiFinding, ...]
    """The heaviest first, then by place."""
    timing: Timing | NoTiming
    played_on: str = ""
    """The subdivision in words, such as ``eighths, swung 62 %``; empty where there is none."""
    accepted: frozenset[str] = frozenset()
    """Codes that somebody said may be sent as they are."""
    change: Change | None = None
    """What is other than in the revision before; None where there is none, or it was not measured."""

    @property
    def verdict(self) -> Verdict:
        """What the findings add up to; what was accepted still counts."""
        return worst(self.findings)

    @property
    def open_worst(self) -> tuple[DiFinding, ...]:
        """Findings that will spoil a pass and that nobody has accepted."""
        return still_open(self.findings, self.accepted)
