"""How a recording lies against what was played: frozen values for the worker's pipe and ``variant.json``.

A failure to place is a value too: the figure is None, and a reason stands beside it.
"""

from __future__ import annotations

from typing import Literal

import msgspec

Polarity = Literal["normal", "inverted", "unsure"]

Proof = Literal["loop", "witness", "clicks", "music", "counters"]
"""What proves that no frame was lost, strongest first."""


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """Where the recording lies at one spot."""

    at_frame: int
    """Of what was played."""
    delay_frames: float
    """Frame of the recording less frame of what was played."""
    plus_minus_frames: float
    """Half width of its 95 % interval."""


class Slip(msgspec.Struct, frozen=True, kw_only=True):
    """Whole frames lost or inserted at one spot."""

    at_frame: int
    """Of what was played; the recording lies otherwise from here on."""
    within_frames: int
    """How far from `at_frame` it may have happened, either way."""
    frames: int
    """More than 0: inserted, the recording is later from here on; less: lost."""


class Disturbance(msgspec.Struct, frozen=True, kw_only=True):
    """A stretch that is not what was played, though before and behind it all lies alike."""

    at_frame: int
    """Of what was played; it begins here or later."""
    frames: int
    """Within so many it ends."""
    kind: Literal["moved", "silent", "strange"]
    """``moved``: frames were lost or inserted and put back, no telling how many; ``silent``: they were
    replaced by silence; ``strange``: neither, as where a cable crackles."""


class Alignment(msgspec.Struct, frozen=True, kw_only=True):
    """A recording compared with what was played."""

    delay_frames: float | None
    """First arrival at the beginning of what was played: frame of the recording less frame of what was
    played, extrapolated along `drift_ppm`; None where `reason` is set."""
    plus_minus_frames: float | None = None
    """Half width of its 95 % interval."""
    polarity: Polarity = "unsure"
    confidence: float = 0.0
    """0 to 1: how likely the place is the right one, not another at which the two look alike."""
    drift_ppm: float | None = None
    """How much slower the recording's clock ran than that of what was played: delay grows by so many
    millionths; None where it cannot be told."""
    drift_plus_minus_ppm: float | None = None
    gain_db: float | None = None
    """Recording over what was played, where the one is a copy of the other."""
    slips: tuple[Slip, ...] = ()
    """Those that undo each other within a moment among them."""
    disturbances: tuple[Disturbance, ...] = ()
    """Told for a copy only."""
    places: tuple[Place, ...] = ()
    """In the order of their frames, some hundred at most."""
    reason: str | None = None
    """Why there is no delay: one sentence in trade words, with the way out."""


class Together(msgspec.Struct, frozen=True, kw_only=True):
    """How one return's sound sits to the reference return's."""

    polarity: Polarity
    """By sum against difference at 80 to 400 Hz once their delay is taken out: ``normal`` where the sum
    is louder."""
    sum_over_difference_db: float | None
    """None where one of the two was silent."""
