"""The simulated room behind the device port: blocks, clock and what goes wrong with both."""

from __future__ import annotations

import threading
import time

import numpy as np
from numpy.typing import NDArray

from audio.device.port import INPUT_OVERFLOW, OUTPUT_UNDERFLOW, BlockFunction, Gate, SampleFormat
from audio.device.simulated.room import Room
from audio.device.simulated.truth import Truth
from audio.vocab.errors import DeviceError, UseError
from audio.vocab.patching import PatchName
from audio.vocab.wiring import SimulatedDevice, Wiring

_LATE_BLOCKS = 2
"""A flag about lost frames comes up to this many blocks late, as real ones do."""
_JOIN_S = 1.0


class SimulatedRoom:
    """A device without hardware; implements `audio.device.port.Device`.

    24-bit codes stand in the upper bits of 32-bit integers. Paced, a block is called when its input
    would be complete; free, when the gate lets it, and the clock counts frames.
    """

    sample_format: SampleFormat = "int32"

    def __init__(self, wiring: Wiring) -> None:
        """Build the room; raise `UseError` with one sentence where it cannot be built."""
        self.room = Room(wiring)
        device = wiring.device
        if not isinstance(
            device, SimulatedDevice
        ):  # Room has refused it: this tells the type checker
            raise UseError("device.kind is not 'simulated'.")
        self.rate = wiring.sample_rate
        self.block_frames = self.room.block_frames
        self.inputs = device.inputs
        self.outputs = device.outputs
        self.paced = device.pace == "clock"
        self.failure: str | None = None
        self.error: BaseException | None = None
        """What the block function or the gate raised, which ended the calls."""
        self._draw = np.random.default_rng([device.seed, 3])
        self._clock_s = 0.0
        self._flags_in: list[int] = []
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._lock = threading.Lock()
        self._heard = np.empty((self.block_frames, self.inputs))
        self._indata = np.empty((self.block_frames, self.inputs), dtype=np.int32)
        self._outdata = np.empty((self.block_frames, self.outputs), dtype=np.int32)
        self._sent = np.empty((self.block_frames, self.outputs))

    def start(self, block: BlockFunction, gate: Gate) -> None:
        """Begin calling `block` from a thread of the device's own; once only.

        Parameters
        ----------
        block
            Called for each block of `block_frames`.
        gate
            Asked before each block when the device is not `paced`.

        Raises
        ------
        DeviceError
            When the device was started or closed before.
        """
        with self._lock:
            if self._thread is not None or self._stop.is_set():
                raise DeviceError("The simulated room has been started before; open another one.")
            self._thread = threading.Thread(
                target=self._run, args=(block, gate), name="simulated room", daemon=True
            )
            self._thread.start()

    def alive(self) -> bool:
        """Return whether calls still come."""
        return self._thread is not None and self._thread.is_alive()

    def plug(self, chain: str) -> None:
        """Plug a chain in, from the next block on."""
        self.room.plug(chain)

    def patch(self, patch: PatchName) -> None:
        """Plug cables as `patch` says, from the next block on."""
        self.room.patch(patch)

    def truth(self, input_number: int) -> Truth:
        """Return what is true of the path to an input (from 1), as things are now."""
        return self.room.truth(input_number)

    def close(self) -> None:
        """Stop calling; returns within a second, whatever the block function does."""
        self._stop.set()
        with self._lock:
            thread = self._thread
        if thread is not None and thread is not threading.current_thread():
            thread.join(_JOIN_S)

    # ------------------------------------------------------------------ the thread

    def _run(self, block: BlockFunction, gate: Gate) -> None:
        started = time.monotonic() if self.paced else 0.0
        try:
            while self._step(block, gate, started):
                pass
        except BaseException as error:  # noqa: BLE001 - kept for whoever asks why calls ended
            self.error = error

    def _step(self, block: BlockFunction, gate: Gate, started: float) -> bool:
        """Call one block; return whether another one follows."""
        if not self._events():
            return False
        self._clock_s += self.block_frames / self._true_rate()
        due = started + self._clock_s
        if not self._wait(gate, due):
            return False
        _to_codes(self.room.capture(self.block_frames, self._heard), self._indata)
        block(self._indata, self._outdata, self.block_frames, due, self._flags())
        np.multiply(self._outdata >> 8, 2.0**-23, out=self._sent)
        self.room.emit(self._sent)
        return True

    def _wait(self, gate: Gate, due: float) -> bool:
        """Wait for the block's moment; return False when the device shall end."""
        if self.paced:
            self._stop.wait(max(0.0, due - time.monotonic()))
        elif self._stop.is_set() or not gate(self.block_frames):
            return False
        return not self._stop.is_set()

    def _true_rate(self) -> float:
        rate = float(self.rate)
        for fault, _ in self.room.faults.lasting("wrong clock", frame=self.room.frame, frames=1):
            rate *= 1.0 + fault.words["ppm"] * 1e-6
        return rate

    def _events(self) -> bool:
        """Let happen what is due; return False when the device goes away."""
        for fault in self.room.faults.sudden(self.room.frame):
            if fault.kind == "disappear":
                return False
            frames = fault.words["frames"]
            if fault.kind == "slip":
                self.room.slip(frames)
            else:
                # Time passes without calls: silence leaves, and nobody takes what arrives.
                self.room.emit(np.zeros((frames, self.outputs)))
                self.room.capture(frames)
                self._clock_s += frames / self.rate
            if fault.words["flag"]:
                self._flags_in.append(int(self._draw.integers(0, _LATE_BLOCKS + 1)))
        return True

    def _flags(self) -> int:
        due = 0 in self._flags_in
        self._flags_in = [blocks - 1 for blocks in self._flags_in if blocks]
        return INPUT_OVERFLOW | OUTPUT_UNDERFLOW if due else 0


def _to_codes(heard: NDArray[np.float64], codes: NDArray[np.int32]) -> None:
    """Round to 24-bit codes, in the upper bits of `codes`; in place."""
    np.multiply(heard, 2.0**23, out=heard)
    np.rint(heard, out=heard)
    np.clip(heard, -(2.0**23), 2.0**23 - 1.0, out=heard)
    codes[...] = heard
    np.left_shift(codes, 8, out=codes)
