"""The callback: copies between preallocated rings, and one mixing product. Nothing else.

What it notes of itself (when it ran, for how long, with which flags) goes into preallocated rows that
other threads read behind it.
"""

from __future__ import annotations

from time import perf_counter
from typing import cast

import numpy as np
from numpy.typing import NDArray

from audio.device.port import Block, Device
from audio.engine.program import Program
from audio.engine.ring import Ring, in_memory, size_for

CAPTURE_RING_S = 3.0
"""How long the writing thread may stall before frames are lost."""

LOG_ROWS = 1 << 14
"""Callbacks remembered one by one; at 512 frames and 48 kHz nearly three minutes."""

CODES = float(1 << 23)


class Log:
    """One row for each callback: its first frame, its clock, its flags, its duration."""

    def __init__(self) -> None:
        self.count = 0
        self.flagged = 0
        self.frame = in_memory(LOG_ROWS, np.int64)
        self.when = in_memory(LOG_ROWS, np.float64)
        self.flags = in_memory(LOG_ROWS, np.int32)
        self.took = cast("NDArray[np.float32]", in_memory(LOG_ROWS, np.float32))

    def note(self, frame: int, when: float, flags: int, took: float) -> None:
        """Write the next row."""
        row = self.count & (LOG_ROWS - 1)
        self.frame[row] = frame
        self.when[row] = when
        self.flags[row] = flags
        self.took[row] = took
        if flags:
            self.flagged += 1
        self.count += 1


class Callback:
    """The block function of the engine.

    Parameters
    ----------
    device
        Gives channels, format and the longest block.
    """

    def __init__(self, device: Device) -> None:
        self.frame = 0
        self.drained = 0
        self.program: Program | None = None
        self.log = Log()
        self.integer = device.sample_format == "int32"
        dtype = np.int32 if self.integer else np.float32
        size = size_for(CAPTURE_RING_S, rate=device.rate)
        self.captured = Ring(size, device.inputs, dtype)
        """Inputs, in the device's format."""
        self.sent = Ring(size, device.outputs, dtype)
        """Outputs as they were sent, at the same frames."""
        self._mixed = np.zeros((device.block_frames, device.outputs), dtype=np.float32)
        self._codes = np.zeros((device.block_frames, device.outputs))

    def __call__(
        self, indata: Block, outdata: Block, frames: int, when_s: float, flags: int
    ) -> None:
        """Handle one block; see `audio.device.port.BlockFunction`."""
        began = perf_counter()
        frame = self.frame
        program = self.program
        if program is None:
            outdata.fill(0)
        else:
            self._play(program, frame, outdata)
        self.captured.put(frame, indata)
        self.sent.put(frame, outdata)
        self.log.note(frame, when_s, flags, perf_counter() - began)
        self.frame = frame + frames

    def _play(self, program: Program, frame: int, outdata: Block) -> None:
        mixed = self._mixed[: len(outdata)]
        program.play(frame, mixed)
        if not self.integer:
            np.clip(mixed, -1.0, 1.0, out=cast("NDArray[np.float32]", outdata))
            return
        codes = self._codes[: len(outdata)]
        np.multiply(mixed, CODES, out=codes)
        np.rint(codes, out=codes)
        np.clip(codes, -CODES, CODES - 1.0, out=codes)
        np.multiply(codes, 256.0, out=codes)
        np.copyto(outdata, codes, casting="unsafe")
