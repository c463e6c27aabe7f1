"""A device that is turned by hand: every block is called by the test, of any length, when it likes."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import numpy as np

from audio.device.port import Block, BlockFunction, Gate, SampleFormat
from audio.vocab.patching import PatchName

GARBAGE = 0x55555555
"""What a block holds before it is filled; as a float it is far over full scale."""


class Hand:
    """Implements `audio.device.port.Device`; what comes in is silence, unless `answer` fills it."""

    paced = True

    def __init__(
        self, *, rate: int, block_frames: int, channels: int, sample_format: SampleFormat
    ) -> None:
        self.rate = rate
        self.block_frames = block_frames
        self.inputs = self.outputs = channels
        self.sample_format = sample_format
        self.frame = 0
        self.sent: list[Block] = []
        self.answer: Callable[[int, Block], None] | None = None
        self._dtype = np.int32 if sample_format == "int32" else np.float32
        self._block: BlockFunction | None = None
        self.gate: Gate | None = None
        self._closed = threading.Event()

    def start(self, block: BlockFunction, gate: Gate) -> None:
        self._block, self.gate = block, gate

    def turn(self, frames: int) -> None:
        """Call one block."""
        assert self._block is not None
        heard = np.zeros((frames, self.inputs), dtype=self._dtype)
        if self.answer is not None:
            self.answer(self.frame, heard)
        out = np.full((frames, self.outputs), GARBAGE, dtype=np.int32).view(self._dtype)
        self._block(heard, out, frames, self.frame / self.rate, 0)
        self.sent.append(out.copy())
        self.frame += frames

    def levels(self) -> np.ndarray:
        """Return all that was sent, shape (frames, outputs), full scale 1.0."""
        everything = np.concatenate(self.sent)
        if self.sample_format == "int32":
            return everything / float(1 << 31)
        return everything.astype(np.float64)

    def alive(self) -> bool:
        return not self._closed.is_set()

    def plug(self, chain: str) -> None:
        """There is nothing to plug in."""

    def patch(self, patch: PatchName) -> None:
        """There is no cable."""

    def close(self) -> None:
        self._closed.set()


def turn_while(device: Hand, do: Callable[[], object], *, frames: int) -> None:
    """Do something that waits for the device, and turn it meanwhile."""
    thread = threading.Thread(target=do)
    thread.start()
    while thread.is_alive():
        device.turn(frames)
        time.sleep(0)  # let the others run: this device knows no clock
        thread.join(0.0005)
