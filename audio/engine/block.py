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
"""At least so long may the writing thread stall before frames are lost; rings are powers of two, so it
is up to twice as long."""

PATIENCE = 0.5
"""Share of that ring that may wait to be written before the roll is stopped: the other half holds the
fade, and what a device that takes long blocks hands over meanwhile."""

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
        """Frames fetched from the rings; the writing thread's. What comes before is overwritten."""
        self.gap_from = self.gap_until = 0
        """Frames that found no room in the rings. The older ones stay: they are a roll's, mostly."""
        self.program: Program | None = None
        self.log = Log()
        self.integer = device.sample_format == "int32"
        dtype = np.int32 if self.integer else np.float32
        self._size = size = size_for(CAPTURE_RING_S, rate=device.rate)
        self.captured = Ring(size, device.inputs, dtype)
        """Inputs, in the device's format."""
        self.sent = Ring(size, device.outputs, dtype)
        """Outputs as they were sent, at the same frames."""
        self._patience = int(size * PATIENCE)
        self._full = False
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
            try:
                self._play(program, frame, outdata)
            except BaseException:
                outdata.fill(0)
                raise
            self._watch(program, frame)
        if self._has_room(frame, frames):
            self.captured.put(frame, indata)
            self.sent.put(frame, outdata)
        self.log.note(frame, when_s, flags, perf_counter() - began)
        self.frame = frame + frames

    def _watch(self, program: Program, frame: int) -> None:
        """Stop a roll whose recording is not written as fast as it comes, long before frames are lost.

        Here, because nothing that a slow disk holds up may be asked.
        """
        since = max(self.drained, program.start_frame)
        if frame - since > self._patience and not program.stopped:
            program.behind = True
            program.stop()

    def _has_room(self, frame: int, frames: int) -> bool:
        """Return whether the rings take another block; once full, they wait until they are empty."""
        if self._full and self.drained >= self.gap_from:
            self.gap_until = frame
            self._full = False
        elif not self._full and frame + frames - max(self.drained, self.gap_until) > self._size:
            self.gap_from = frame
            self._full = True
        return not self._full

    @property
    def held_up(self) -> int | None:
        """Frame from which on nothing is kept, while the rings are full."""
        return self.gap_from if self._full else None

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
