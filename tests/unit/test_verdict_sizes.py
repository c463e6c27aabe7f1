"""Every fault has a size from which it must be found, and every such size is one that is judged by."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from audio.verdict.sizes import MINIMUM_SIZES

VERDICT = Path(__file__).parents[2] / "audio" / "verdict"

WORDS_ONLY = {
    "amps-apart",
    *(
        "chain-adds",
        "chain-late",
        "chain-moves",
        "chain-gates",
        "polarity-differs",
    ),  # music, no fault
    *("no-closing-click", "clicks-differ"),  # evidence that is missing, no size to it
    *("stopped", "stream-closed", "disk-full", "disk-slow", "device-gone"),  # how a roll ended
    *("send-starved", "send-unfit"),
}
OF_THE_CLICK_ALONE = {
    *(
        "click-clipped",
        "click-faint",
        "input-dead",
        "clicks-contradict",
        "only-hum",
        "return-silent",
    ),
    *("witness-unclear", "witness-silent", "send-dead", "fed-back", "repeats-early"),
}
"""Said by `secondpass delay` and before a pass, never by a pass's verdict."""

OF_A_DROP_IN = {
    "join-apart",
    "join-cancels",
    "join-chains",
    "join-level",
    "join-moves",
    "join-noise",
    "join-trim",
}
"""Said of a drop-in, whose joints were chosen, not found; never by a pass's verdict."""

OF_THE_SET_UP = {
    *("pair-inverted", "converters-moved", "converters-constant"),
    *("send-level-nothing", "send-level-elsewhere", "send-level-off", "send-level-unsure"),
    *("one-leg-dead", "loop-inverted", "loop-highs-lost", "loop-hum", "trim-set", "trim-not-set"),
    *("edit-pan-law", "edit-normalised", "edit-level", "edit-not-found"),
    *("return-dead", "return-clips", "return-gain-off", "sound-moved", "sound-restless"),
    *("no-loop", "hum-of-amp", "hum-by-cable", "hum-cured", "gate-shut", "loop-silent"),
    *("tone-clipped", "send-astray", "only-leak", "monitor-unknown", "monitor-reaches-send"),
}
"""Said by a step of the set-up, with its figure; never by a pass's verdict."""


OF_A_DI = {
    *(
        "rate-differs",
        "few-bits",
        "padded-bits",
        "no-time-stamp",
        "silence-at-start",
        "silence-at-end",
    ),
    *("channels-differ", "channels-alike", "channel-silent", "tempo-unread", "hits-off"),
    *("over-full-scale", "between-samples", "very-low", "flat-tops"),
    *("starts-hard", "ends-hard", "joints-hidden", "stops-dead"),
}
"""Said of a DI before it is sent, with its size and how sure it is; never by a pass's verdict."""


def written_codes() -> set[str]:
    """Every text in the verdict's source that has the form of a code."""
    found = set()
    for path in VERDICT.glob("*.py"):
        if path.name == "sizes.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                found |= set(re.findall(r"^[a-z]+(?:-[a-z]+)+$", node.value))
    return found | {"stopped", "clipped"}


def test_every_code_has_a_size_or_a_reason_for_none() -> None:
    known = WORDS_ONLY | OF_THE_CLICK_ALONE | OF_A_DROP_IN | OF_THE_SET_UP | OF_A_DI
    assert written_codes() == set(MINIMUM_SIZES) | known


@pytest.mark.parametrize("code", MINIMUM_SIZES)
def test_a_size_is_a_number_with_its_unit_and_its_conditions(code: str) -> None:
    size = MINIMUM_SIZES[code]
    assert size.value != 0
    assert size.unit in {"frames", "samples", "ms", "s", "dB", "ppm", "returns"}
    assert len(size.words) > 10
