"""How findings are worded: lists, plurals."""

from __future__ import annotations

from collections.abc import Sequence

CHECK_AMP = (
    "Check the speaker cable first, then fuse, standby and the cables of the chain. Keep a speaker or a "
    "rated load on a valve amp, and put it to standby before replugging; the inside of an amp is for a "
    "qualified technician."
)
"""Said wherever an amp may have died."""

CHECK_CHAIN = (
    "In this order: amp on standby, volume pedal down, tuner muted, a cable between the pedals, "
    "the speaker cable (a valve amp goes to standby before replugging, and never runs without a speaker)"
)
"""Said, without its full stop, wherever nothing comes back through the chain."""

HUM_ADVICE = (
    "Find the loose or broken cable; against hum use the ground lift of the reamp or DI box, "
    "never lift the mains safety earth."
)
"""Said wherever hum is in the way."""

MORE_ROOM = (
    "Close other programs or set a larger block_frames in the wiring, then play the pass again."
)
"""Said wherever frames went missing."""


CLICK_REASONS = {
    "nothing": "nothing clear of the noise",
    "digital silence": "digital silence",
    "only hum": "only hum",
    "unclear": "the clicks contradict each other",
    "clipped": "the converter clipped",
    None: "none was played",
}
"""Why a click has no delay, in words."""


def listing(names: Sequence[str]) -> str:
    """Return names, as given, in one phrase: ``a``, ``a and b``, ``a, b and c``."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def counted(number: int, one: str, many: str) -> str:
    """Return a number with its noun: ``1 frame``, ``2 frames``, ``no frames``."""
    return f"{number or 'no'} {one if number == 1 else many}"


def times(number: int) -> str:
    """Return how often: ``once``, ``twice``, ``5 times``."""
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


def place_time(seconds: float) -> str:
    """Return a place in a pass as ``m:ss.cc``, never before 0:00.00."""
    hundredths = max(0, round(seconds * 100))
    return f"{hundredths // 6000}:{hundredths % 6000 / 100:05.2f}"
