"""What the steps of the set-up are called; light, for the command line's help."""

from __future__ import annotations

from typing import Literal

StepName = Literal["wire", "silence", "send level", "return gain", "polarity", "delay", "sound"]

STEPS: tuple[StepName, ...] = (
    "wire",
    "silence",
    "send level",
    "return gain",
    "polarity",
    "delay",
    "sound",
)
"""In the order in which they are walked; each can be skipped."""
