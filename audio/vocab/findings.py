"""Verdict and findings: what a pass was worth, and why, in trade words."""

from __future__ import annotations

from typing import Literal

import msgspec

Verdict = Literal["good", "look", "redo"]


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """One thing worth saying of a pass or a measurement."""

    code: str
    """Stable word for scripts, such as ``nothing-came-back``."""
    weight: Verdict
    """What this finding alone would make of the verdict; ``good`` informs only."""
    text: str
    """One line in trade words."""
    at_s: float | None = None
    """Where, seconds from the DI's first frame; None when it is everywhere or nowhere."""
    advice: str = ""
    """What to do now."""


_WEIGHTS: tuple[Verdict, ...] = ("good", "look", "redo")


def worst(findings: tuple[Finding, ...]) -> Verdict:
    """Return the verdict that the findings add up to: the heaviest of them."""
    return max((f.weight for f in findings), key=_WEIGHTS.index, default="good")


def heaviest_first(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Return the findings by their weight; those that weigh alike stay in their order."""
    return tuple(sorted(findings, key=lambda f: -_WEIGHTS.index(f.weight)))
