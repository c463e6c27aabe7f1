"""What has to be touched between two chains, what that costs, and the order that costs least."""

from __future__ import annotations

from audio.vocab.chain import Chain, Change
from audio.vocab.plan import Costs


def changes(before: Chain | None, after: Chain) -> tuple[Change, ...]:
    """Return what a hand has to do; everything is new where nothing is plugged in."""
    raise NotImplementedError


def cost(before: Chain | None, after: Chain, costs: Costs) -> float:
    """Return what it costs to get from one chain to another, points, 0 where they are set alike."""
    raise NotImplementedError
