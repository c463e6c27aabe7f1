"""Stages whose work is not there yet: one line that says what will live there, and nothing more."""

from __future__ import annotations

from rich.text import Text

from audio.plan.path import StageName
from tui.present.looks import FAINT, text

KEYS = (("walk_left+walk_right", "walk"), ("go", ""), ("keys", ""))

WORDS: dict[StageName, str] = {
    "amp": "Noise and hum before a pass, and the sound of last week, will live here.",
    "mics": "Distances between the microphones and their polarity will live here.",
}


def lines(name: StageName) -> list[Text]:
    """Return the one line."""
    return [text(), text((f" {WORDS[name]}", FAINT))]
