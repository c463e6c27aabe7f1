"""A plan held in memory, for tests of runs: lines answered by variants that are good enough, in the order
written."""

from __future__ import annotations

from typing import Any

import pytest

from audio.jobs import snapshots
from audio.session import plans
from audio.session.opened import Session
from audio.vocab.plan import PlanLine, PlanNow, Wanted
from audio.vocab.variant import Summary


class Plan:
    """Parts and chains, in the order in which they are offered."""

    def __init__(self, *lines: tuple[str, str]) -> None:
        self.wanted = [
            Wanted(key=f"{part}/{chain}", part=part, chain=chain) for part, chain in lines
        ]
        self.skipped: set[str] = set()

    def put_in(self, patch: pytest.MonkeyPatch) -> None:
        """Let the desk read this plan."""
        patch.setattr(snapshots, "plan_now", self.now)
        patch.setattr(plans, "skip", self._skip)

    def _skip(self, _session: Session, key: str, *, skipped: bool) -> None:
        (self.skipped.add if skipped else self.skipped.discard)(key)

    def now(self, _session: Session, *, variants: tuple[Summary, ...], **_: Any) -> PlanNow:
        return PlanNow(lines=tuple(self._line(one, variants) for one in self.wanted))

    def _line(self, wanted: Wanted, variants: tuple[Summary, ...]) -> PlanLine:
        if wanted.key in self.skipped:
            return PlanLine(wanted=wanted, state="skipped")
        for one in reversed(variants):
            same = (one.part, one.chain.name) == (wanted.part, wanted.chain)
            if same and one.state != "stopped" and one.verdict != "redo":
                return PlanLine(wanted=wanted, state="done", number=one.number, verdict=one.verdict)
        return PlanLine(wanted=wanted)
