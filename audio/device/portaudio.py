"""Real devices through PortAudio: the one module that knows sounddevice.

Loading it loads PortAudio and freezes its list of devices, so it belongs in the engine's process or in
a fresh child. Where the library is missing, loading raises `DeviceError`.
"""

from __future__ import annotations

import ctypes
import os
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from time import perf_counter
from typing import Any

from audio.device.finding import check_channels, find
from audio.device.hosts import JACK, HostRule, rule_for
from audio.device.patch import Patch
from audio.device.port import INPUT_OVERFLOW, OUTPUT_UNDERFLOW, Block, BlockFunction, Gate
from audio.vocab.devices import DeviceFacts
from audio.vocab.errors import DeviceError, UseError
from audio.vocab.patching import PatchName
from audio.vocab.wiring import PortAudioDevice as Named
from audio.vocab.wiring import Wiring

os.environ.setdefault("SD_ENABLE_ASIO", "1")  # read once, when sounddevice is loaded
try:
    import sounddevice as sd
except OSError as error:
    raise DeviceError("PortAudio is missing; on Debian, apt install libportaudio2") from error

FIRST_CALL_WITHIN_S = 3.0
"""How long a device may take from opening to its first callback; a healthy one needs 0.1 s."""

LOOK_S = 0.05
"""How often it is looked at meanwhile: a server that dies says so."""

INVALID_RATE = -9997
"""PortAudio's code ``paInvalidSampleRate`` (portaudio.h)."""


class PortAudioDevice:
    """One full-duplex stream on one device; implements `audio.device.port.Device`.

    The stream runs from construction on and plays silence until `start`, so that what the wiring says
    is proven, and the true block is known, before anything is promised.

    A `UseError` says which device, channel or rate of the wiring is not there; a `DeviceError` that the
    system refuses, no server answers, or no callback came within `FIRST_CALL_WITHIN_S`.

    Parameters
    ----------
    named
        Host and name of the device.
    wiring
        The wiring it belongs to: rate, channels, block.
    """

    def __init__(self, named: Named, wiring: Wiring) -> None:
        devices = list_devices()
        index = find(named, hosts=_hosts(), devices=devices)
        facts = devices[index]
        check_channels(wiring, facts)
        rule = rule_for(facts.host)
        self.sample_format = rule.sample_format
        _check_rate(wiring.sample_rate, facts, index, rule)
        self.paced = True
        self.rate = wiring.sample_rate
        self.inputs, self.outputs = wiring.inputs_needed, wiring.outputs_needed
        self.failure: str | None = None
        """Why calls ended, when this device ended them itself."""
        self.block_frames = 0 if rule.server_period else wiring.block_frames or 512
        self._block: BlockFunction | None = None
        self._called = threading.Event()
        self._stream = self._open(index)
        self._patch = _patch(wiring) if facts.host == JACK else None

    def start(self, block: BlockFunction, gate: Gate) -> None:  # noqa: ARG002 - a paced device waits for nobody
        """Begin calling `block` with the next callback; `gate` is not used.

        Parameters
        ----------
        block
            Called in PortAudio's thread, `when_s` on the clock of `time.perf_counter`. What it raises
            ends the stream: the outputs go silent, `failure` says why, `alive` is False.
        gate
            For devices that are not paced.
        """
        self._block = block

    def alive(self) -> bool:
        """Return whether the stream still runs, as far as PortAudio knows, and its cables are in place."""
        if self.failure is not None or not self._stream.active:
            return False
        if self._patch is not None:
            self.failure = self._patch.changed()
        return self.failure is None

    def plug(self, chain: str) -> None:
        """Do nothing: chains of a real device are plugged by hand."""

    def patch(self, patch: PatchName) -> None:
        """Do nothing: cables of a real device are plugged by hand."""

    def close(self) -> None:
        """Stop and let go; hangs where the driver hangs, so the caller bounds it."""
        self._block = None
        with _without_chatter():
            self._stream.abort(ignore_errors=True)
            self._stream.close(ignore_errors=True)
            if self._patch is not None:
                self._patch.close()

    # ------------------------------------------------------------------ opening

    def _open(self, index: int) -> Any:
        try:
            with _without_chatter():
                return self._run(self._new_stream(index))
        except sd.PortAudioError as error:
            raise DeviceError(
                f"the device would not start: {_words(error)}; close what else uses it"
            ) from error

    def _run(self, stream: Any) -> Any:
        """Start a stream and wait for its first call; close it if either fails."""
        with ExitStack() as undo:
            undo.callback(stream.close, ignore_errors=True)
            stream.start()
            give_up = perf_counter() + FIRST_CALL_WITHIN_S
            while not self._called.wait(LOOK_S):
                if perf_counter() > give_up or not stream.active:
                    raise DeviceError(
                        "the device opened but never asked for sound; see that it is still there"
                    )
            undo.pop_all()
        return stream

    def _new_stream(self, index: int) -> Any:
        return sd.Stream(
            device=(index, index),
            channels=(self.inputs, self.outputs),
            samplerate=self.rate,
            blocksize=self.block_frames,
            dtype=self.sample_format,
            latency="high",  # delay is measured, never feared; a deep buffer loses fewer blocks
            dither_off=True,  # what leaves is what the file holds
            callback=self._call,
        )

    # ------------------------------------------------------------------ the callback

    def _call(self, indata: Block, outdata: Block, frames: int, _times: Any, status: Any) -> None:
        when_s = perf_counter()
        try:
            self._check_block(frames)
            if self._block is None:
                outdata.fill(0)
            else:
                self._block(indata, outdata, frames, when_s, _flags(status) if status else 0)
        except Exception as error:  # noqa: BLE001 - what escapes would be printed and known to nobody
            outdata.fill(0)
            self.failure = str(error) or type(error).__name__
            raise sd.CallbackAbort from None

    def _check_block(self, frames: int) -> None:
        if not self.block_frames:
            self.block_frames = frames
        if frames != self.block_frames:
            change = f"from {self.block_frames} to {frames} frames"
            raise DeviceError(f"the device's block changed {change}, and the round trip with it")
        self._called.set()


def _patch(wiring: Wiring) -> Patch | None:
    """Return the cables of this process's stream on JACK; None where they cannot be looked at."""
    with suppress(
        OSError, AttributeError
    ):  # another system's library, or a server that just went away
        name = ctypes.c_char_p()
        if ctypes.CDLL("libportaudio.so.2").PaJack_GetClientName(ctypes.byref(name)) == 0:
            return Patch((name.value or b"").decode(), fed=(wiring.send_output - 1,))
    return None


def list_devices() -> tuple[DeviceFacts, ...]:
    """Return every device PortAudio knew when it was loaded, in its order."""
    hosts = _hosts()
    return tuple(
        DeviceFacts(
            host=hosts[d["hostapi"]],
            name=d["name"],
            inputs=d["max_input_channels"],
            outputs=d["max_output_channels"],
            default_rate=d["default_samplerate"],
        )
        for d in sd.query_devices()
    )


def _hosts() -> list[str]:
    return [host["name"] for host in sd.query_hostapis()]


# ---------------------------------------------------------------------- checking


def _check_rate(rate: int, facts: DeviceFacts, index: int, rule: HostRule) -> None:
    settings = {"device": index, "dtype": rule.sample_format, "samplerate": rate}
    try:
        with _without_chatter():
            sd.check_input_settings(channels=1, **settings)
            sd.check_output_settings(channels=1, **settings)
    except sd.PortAudioError as error:
        if INVALID_RATE not in error.args:
            raise DeviceError(
                f"{facts.name!r} cannot be opened: {_words(error)}; close what else uses it"
            ) from error
        raise UseError(
            f"the wiring says {rate} Hz, but {facts.name!r} runs at {facts.default_rate:.0f} Hz; "
            "change one of them"
        ) from error


# ---------------------------------------------------------------------- words and flags


def _flags(status: Any) -> int:
    # Either trouble of a side means that its frames were not carried on.
    lost_in = INPUT_OVERFLOW * (status.input_overflow or status.input_underflow)
    lost_out = OUTPUT_UNDERFLOW * (status.output_underflow or status.output_overflow)
    return int(lost_in + lost_out)


def _words(error: sd.PortAudioError) -> str:
    return str(error.args[0]).rstrip(".")


@contextmanager
def _without_chatter() -> Iterator[None]:
    """Keep what drivers print off standard error; only for a process that has no other use for it."""
    kept = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(nowhere)
        os.close(kept)
