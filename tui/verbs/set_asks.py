"""What a step of the set-up is asked for, from the words of the command line."""

from __future__ import annotations

import argparse
from typing import assert_never

from audio.vocab.errors import UseError
from audio.vocab.setup import AskDelay, Asked, AskPolarity
from audio.vocab.step_names import StepName


def asked_for(step: StepName, arguments: argparse.Namespace) -> Asked:
    """Return what a step is asked for; `UseError` where it needs to be told more."""
    match step:
        case "polarity":
            return AskPolarity()
        case "delay":
            return AskDelay(patched_input=arguments.patched)
        case "wire" | "silence" | "send level" | "return gain":
            raise UseError(f"{step} cannot be measured yet")
        case _:
            assert_never(step)
