"""The device port: what the engine asks of anything that plays and records.

`audio.device.portaudio` and `audio.device.simulated` implement it and pass one conformance suite
(``tests/contract``).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from audio.vocab.patching import PatchName

SampleFormat = Literal["int32", "float32"]
"""``int32``: full scale is 2**31 (24-bit codes in the upper bits); ``float32``: full scale is 1.0."""

Block = NDArray[np.int32] | NDArray[np.float32]

BlockFunction = Callable[[Block, Block, int, float, int], None]
"""``(indata, outdata, frames, when_s, flags)``: arrays of shape (frames, channels) in the device's
format; `when_s` is the device's monotonic clock at the start of the call in seconds (the system's for
a real device, the room's own for the simulated one); `flags` is a sum of the constants below.
`outdata` arrives with undefined content and must be filled."""

INPUT_OVERFLOW = 1
OUTPUT_UNDERFLOW = 2

Gate = Callable[[int], bool]
"""A device that is not `paced` calls ``gate(frames)`` before each block; it blocks while the engine's
rings are not ready for `frames` more and returns False when the device shall stop waiting and end."""


class Device(Protocol):
    """A full-duplex device, opened but silent until `start`."""

    rate: int
    """Frames a second."""
    block_frames: int
    """Frames of a callback; no callback is longer."""
    inputs: int
    outputs: int
    sample_format: SampleFormat
    paced: bool
    """True when its clock runs by itself: a frozen counter then means a dead device."""
    failure: str | None
    """Why it is not alive, without the way out, where it knows; calls may still come then."""

    def start(self, block: BlockFunction, gate: Gate) -> None:
        """Begin calling `block`, input frame *n* and output frame *n* in the same call."""

    def alive(self) -> bool:
        """Return whether calls still come and all is as it was opened, as far as the device knows."""

    def plug(self, chain: str) -> None:
        """Plug a chain in, where the device is able to: only the simulated room is."""

    def patch(self, patch: PatchName) -> None:
        """Plug cables as `patch` says, where the device is able to: only the simulated room is."""

    def close(self) -> None:
        """Stop calling and let go of the device; may hang where the system's own call hangs."""
