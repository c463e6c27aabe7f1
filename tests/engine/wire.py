"""A device for tests of the engine: every output comes back on the input of the same number, later."""

from __future__ import annotations

import threading
from collections.abc import Callable

import numpy as np

from audio.device.port import Block, BlockFunction, Gate, SampleFormat
from audio.vocab.patching import PatchName


class Wire:
    """Implements `audio.device.port.Device`; runs as fast as the engine's gate lets it.

    `flag_at` maps a block's number to the flags it carries; `lose_at` maps a block's number to frames
    that pass on the clock without being counted; `disturb` may change what comes back.
    """

    paced = False

    def __init__(
        self,
        *,
        rate: int = 48_000,
        block_frames: int = 512,
        channels: int = 4,
        delay: int = 37,
        sample_format: SampleFormat = "float32",
    ) -> None:
        self.rate = rate
        self.block_frames = block_frames
        self.inputs = self.outputs = channels
        self.sample_format = sample_format
        self.flag_at: dict[int, int] = {}
        self.lose_at: dict[int, int] = {}
        self.disturb: Callable[[int, Block], None] | None = None
        self.sent: list[Block] = []
        self._dtype = np.int32 if sample_format == "int32" else np.float32
        self._late = np.zeros((delay, channels), dtype=self._dtype)
        self._clock = 0.0
        self.failure: str | None = None
        self._alive = False
        self._thread: threading.Thread | None = None
        self.plugged: list[str] = []
        self.patched: list[PatchName] = []

    def start(self, block: BlockFunction, gate: Gate) -> None:
        self._alive = True
        self._thread = threading.Thread(target=self._run, args=(block, gate), daemon=True)
        self._thread.start()

    def _run(self, block: BlockFunction, gate: Gate) -> None:
        number = 0
        while gate(self.block_frames):
            self._clock += self.lose_at.get(number, 0) / self.rate
            out = np.full((self.block_frames, self.outputs), 7, dtype=self._dtype)
            coming = self._late[: self.block_frames]
            # A delay shorter than a block needs this block's output: such a wire cannot exist.
            indata = np.ascontiguousarray(coming)
            if self.disturb is not None:
                self.disturb(number * self.block_frames, indata)
            block(indata, out, self.block_frames, self._clock, self.flag_at.get(number, 0))
            self.sent.append(out.copy())
            self._late = np.concatenate([self._late[self.block_frames :], out])
            self._clock += self.block_frames / self.rate
            number += 1
        self._alive = False

    def alive(self) -> bool:
        return self._alive and self.failure is None

    def plug(self, chain: str) -> None:
        self.plugged.append(chain)

    def patch(self, patch: PatchName) -> None:
        self.patched.append(patch)

    def close(self) -> None:
        if self._thread is not None:
            self._thread.join(1.0)
