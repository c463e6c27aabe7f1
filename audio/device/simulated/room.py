"""The room: everything between the interface's outputs and its inputs."""

from __future__ import annotations

from collections import Counter, deque

import numpy as np
from numpy.typing import NDArray

from audio.device.simulated.amp import Amplifier
from audio.device.simulated.boxes import CHAIN_HEARS, DiInput, Reamp
from audio.device.simulated.cabinet import cabinet_response
from audio.device.simulated.faults import Faults
from audio.device.simulated.filters import Signal
from audio.device.simulated.inputs import NO_NOISE_DBFS, Inputs
from audio.device.simulated.monitor import MIXER_FRAMES, Monitor
from audio.device.simulated.near import with_distance
from audio.device.simulated.paths import Path, Paths
from audio.device.simulated.pedals.chain import Board
from audio.device.simulated.truth import Truth
from audio.vocab.air import ROOM_CELSIUS, speed_of_sound_m_s
from audio.vocab.errors import UseError
from audio.vocab.patching import AMP_HEARS, PatchName
from audio.vocab.units import ratio_from_db
from audio.vocab.wiring import Microphone, SimulatedDevice, Wiring

BLOCK_FRAMES = 512
"""Frames of a block when the wiring does not say."""


class Room:
    """Send, pedals, amp, cabinets, air, microphones, and the cables beside them.

    The round trip of a path is one block of the interface's buffer (what is captured in a block was
    sent before that block began), `converter_frames`, the chain's own delay and the air. A room whose
    inputs will lose frames by slips has so many more of them in that buffer.
    """

    def __init__(self, wiring: Wiring) -> None:
        """Build the room of a wiring; raise `UseError` with one sentence where it cannot be built."""
        device = wiring.device
        if not isinstance(device, SimulatedDevice):
            raise UseError(
                "device.kind is not 'simulated'; only such a device has a simulated room."
            )
        _check_channels(wiring, device)
        self.rate = wiring.sample_rate
        self.block_frames = wiring.block_frames or BLOCK_FRAMES
        self._wiring = wiring
        self._device = device
        self.faults = Faults(
            device.faults, rate=self.rate, inputs=device.inputs, chains=list(device.chains)
        )
        self._board = Board(device.chains, rate=self.rate)
        self._amp = Amplifier(device.amp, rate=self.rate)
        self._second = Amplifier(device.second_amp or device.amp, rate=self.rate)
        self._at_second = [one.second_amp for one in device.microphones]
        self._plugs: deque[str] = deque()  # asked for since the last block
        self._times: Counter[str] = Counter()
        self._patch: PatchName = "amp"
        self._reamp = Reamp(device.reamp, self.faults, rate=self.rate)
        self._di_input = DiInput(
            device.di_box,
            converter_frames=device.converter_frames,
            seed=device.seed,
            quiet=device.noise_dbfs <= NO_NOISE_DBFS,
        )
        self._build_paths()
        self._inputs = Inputs(device, self.faults, rate=self.rate)
        self._monitor = Monitor(device, self.faults)
        self._waiting: deque[Signal] = deque()
        # What the inputs will lose must be waiting there: nothing comes back before it was sent.
        lost = sum(min(0, int(fault.words["frames"])) for fault in self.faults.of("slip"))
        self._slipped = -lost
        self._frame = -self.block_frames - self._slipped
        self.emit(np.zeros((-self._frame, device.outputs)))

    # ------------------------------------------------------------------ for the device and for tests

    @property
    def frame(self) -> int:
        """Frames sent since the stream was opened."""
        return self._frame

    def plug(self, chain: str) -> None:
        """Plug a chain in, from the next block on, over a fade of 10 ms."""
        self._board.plug(chain)
        self._plugs.append(chain)

    def patch(self, patch: PatchName) -> None:
        """Plug cables as `patch` says, from the next block on; at first all is as in ``amp``."""
        self._patch = patch

    def process(
        self, sent: NDArray[np.floating], out: NDArray[np.float64] | None = None
    ) -> NDArray[np.float64]:
        """Return what the inputs hold while `sent` is played.

        The result does not depend on how a signal is cut into blocks.

        Parameters
        ----------
        sent
            Shape (frames, outputs), full scale 1.0, any number of frames.
        out
            Shape (frames, inputs), filled and returned when given.

        Returns
        -------
        NDArray[np.float64]
            Shape (frames, inputs), −1 to the largest code, not yet rounded to codes.
        """
        self.emit(sent)
        return self.capture(len(sent), out)

    def emit(self, sent: NDArray[np.floating]) -> None:
        """Send a block of shape (frames, outputs) into the room."""
        send = np.ascontiguousarray(sent[:, self._wiring.send_output - 1], dtype=np.float64)
        loop = self._wiring.loop
        looped = (
            None
            if loop is None
            else np.ascontiguousarray(sent[:, loop.output - 1], dtype=np.float64)
        )
        if not self._monitor.in_use:
            self._waiting.append(self._hear(send, looped))
            return
        for at in range(0, send.size, MIXER_FRAMES):
            now = slice(at, at + MIXER_FRAMES)
            mixed = self._monitor.mix(send[now], self._frame)
            heard = self._hear(mixed, None if looped is None else looped[now])
            self._monitor.hear(heard)
            self._waiting.append(heard)

    def slip(self, frames: int) -> None:
        """Come back later by `frames` from now on: the outputs run dry while the inputs go on.

        Less than 0, earlier: the inputs lose so many frames while the outputs go on.
        """
        if frames < 0:
            self.capture(-frames)
        else:
            self.emit(np.zeros((frames, self._device.outputs)))
        self._slipped += frames

    def capture(self, frames: int, out: NDArray[np.float64] | None = None) -> NDArray[np.float64]:
        """Return the next `frames` of the inputs; at most one block more than was sent can be had."""
        result = np.empty((frames, self._device.inputs)) if out is None else out
        done = 0
        while done < frames:
            block = self._waiting.popleft()
            taken = min(frames - done, len(block))
            result[done : done + taken] = block[:taken]
            if taken < len(block):
                self._waiting.appendleft(block[taken:])
            done += taken
        return result

    def truth(self, input_number: int) -> Truth:
        """Return what is true of the path to an input (from 1), with chain and faults as they are now.

        Chain and patch are those asked for last, though the room changes over at its next block only.

        For the loop's input the path begins at the loop's output, for every other at the send.
        """
        number = self._behind(input_number)
        base = self.block_frames + self._slipped + self._device.converter_frames
        loop = self._wiring.loop
        if number == self._di_input.input and self._patch == "box to DI input":
            turned = self._device.reamp.inverted ^ self._device.di_box.inverted
            return Truth(delay_frames=base, inverted=turned, connected=True)
        if number == self._di_input.input and self._patch == "send to input":
            return Truth(delay_frames=base, inverted=False, connected=True)
        if loop is not None and number == loop.input:
            return Truth(delay_frames=base, inverted=False, connected=True)
        if number == self._wiring.witness_input:
            turned, heard = self._device.reamp.inverted, self._patch in CHAIN_HEARS
            return Truth(delay_frames=base, inverted=turned, connected=heard)
        found = [one for one in self._device.microphones if one.input == number]
        if not found:
            return Truth(delay_frames=base, inverted=None, connected=False)
        return self._microphone_truth(found[0], base)

    # ------------------------------------------------------------------ building

    def _build_paths(self) -> None:
        device = self._device
        responses = [self._response(one) for one in device.microphones]
        converters = device.converter_frames
        plain = Path(converters, np.ones(1))
        self._straight = Paths([plain], spent=0, converter_frames=converters)
        self._looped = Paths([plain], spent=0, converter_frames=converters)
        self._witnessed = Paths([plain], spent=0, converter_frames=converters)
        self._microphones, self._at_the_second = (
            Paths(
                [
                    Path(converters + self._air(one), response)
                    for one, response in zip(device.microphones, responses, strict=True)
                    if one.second_amp == second
                ],
                spent=self._board.latency + amp.latency,
                converter_frames=converters,
            )
            for second, amp in ((False, self._amp), (True, self._second))
        )
        self._leaks = device.crosstalk_db is not None or bool(self.faults.of("crosstalk"))

    def _response(self, microphone: Microphone) -> Signal:
        where = f"device.microphones, input {microphone.input}"
        response = cabinet_response(microphone.cabinet, rate=self.rate, where=where)
        if microphone.near_field:
            cm = microphone.distance_cm
            response = with_distance(response, distance_cm=cm, rate=self.rate)
        return response * (
            ratio_from_db(microphone.gain_db) * (-1.0 if microphone.inverted else 1.0)
        )

    def _air(self, microphone: Microphone) -> float:
        return microphone.distance_cm / 100.0 / speed_of_sound_m_s(ROOM_CELSIUS) * self.rate

    # ------------------------------------------------------------------ the sound

    def _hear(self, send: Signal, looped: Signal | None) -> Signal:
        """Return what stands at the inputs one buffer later, shape (frames, inputs)."""
        frames, frame, patch = send.size, self._frame, self._patch
        if self._board.change():
            self.faults.plug(self._board.plugged.name, frame)
        while self._plugs:
            chain = self._plugs.popleft()
            self._times[chain] += 1
            self.faults.count(chain, self._times[chain], frame)
        self.faults.hear(send, frame)
        straight = self._straight.process(send)[0] if self._leaks else send
        boxed = self._reamp.process(send, frame)
        patched = self._di_input.hear(patch, send=send, boxed=boxed)
        cables = self._cables(boxed if patch in CHAIN_HEARS else np.zeros(frames), looped)
        arrived = self._arrived(self._driven(boxed, patch))
        self._frame += frames
        return self._inputs.hear(
            arrived,
            straight,
            cables,
            None if patched is None else (self._di_input.input, patched),
            patch=patch,
            frame=frame + self.block_frames,
        )

    def _cables(self, boxed: Signal, looped: Signal | None) -> list[tuple[int, Signal]]:
        """Return input and signal of what stays in its input: witness and loop."""
        cables, wiring = [], self._wiring
        if wiring.witness_input is not None:
            cables.append((wiring.witness_input, self._witnessed.process(boxed)[0]))
        if wiring.loop is not None and looped is not None:
            cables.append((wiring.loop.input, self._looped.process(looped)[0]))
        return cables

    def _arrived(self, driven: Signal) -> list[Signal]:
        """Return what each microphone hears of what drives the amps, shape (frames,) each."""
        first = iter(self._microphones.process(self._amplified(self._amp, driven)))
        if not any(self._at_second):
            return list(first)
        second = iter(self._at_the_second.process(self._amplified(self._second, driven)))
        return [next(second if at_second else first) for at_second in self._at_second]

    def _driven(self, boxed: Signal, patch: PatchName) -> Signal:
        """Return what reaches the amps for what left the reamp box, shape (frames,) both."""
        frames, frame = boxed.size, self._frame
        played = self._board.process(boxed if patch in CHAIN_HEARS else np.zeros(frames))
        if patch == "unplugged":
            played = np.zeros(frames)
        for fault, since in self.faults.lasting(
            "dead cable", "standby", frame=frame, frames=frames
        ):
            if fault.words.get("input") is None:
                played = np.append(played[:since], np.zeros(frames - since))
        return played

    def _amplified(self, amp: Amplifier, played: Signal) -> Signal:
        """Return what leaves an amp, shape (frames,) both."""
        frames, frame = played.size, self._frame
        loud = amp.process(played)
        for fault, since in self.faults.lasting("level", frame=frame, frames=frames):
            if fault.words["input"] is None:
                loud = np.append(loud[:since], ratio_from_db(fault.words["gain_db"]) * loud[since:])
        return loud

    # ------------------------------------------------------------------ truth

    def _behind(self, number: int) -> int:
        """Return the input whose cable is in input `number` now."""
        for fault, _ in self.faults.lasting("swapped inputs", frame=self._frame, frames=1):
            pair = fault.words["inputs"]
            if number in pair:
                number = pair[1 - pair.index(number)]
        return number

    def _microphone_truth(self, microphone: Microphone, base: float) -> Truth:
        chain = self._board.asked
        turned = microphone.inverted ^ self._device.reamp.inverted
        connected = self._patch in AMP_HEARS and not any(p.mutes for p in chain.pedals)
        for fault, _ in self.faults.lasting(
            "dead cable", "standby", "inverted microphone", frame=self._frame, frames=1
        ):
            here = fault.words.get("input") in (None, microphone.input)
            if fault.kind == "inverted microphone":
                turned ^= here
            else:
                connected &= not here
        return Truth(
            delay_frames=base + self._air(microphone) + chain.delay_frames,
            inverted=None if chain.inverts is None else turned ^ chain.inverts,
            connected=connected,
            moves=any(p.moves for p in chain.pedals),
        )


def _check_channels(wiring: Wiring, device: SimulatedDevice) -> None:
    taken = [one.input for one in device.microphones]
    taken += [] if wiring.witness_input is None else [wiring.witness_input]
    taken += [] if wiring.loop is None else [wiring.loop.input]
    for number in taken:
        if taken.count(number) > 1:
            raise UseError(
                f"device.microphones: input {number} has two cables in it; give each its own input."
            )
    for what, needed, there in (
        ("input", max([*taken, wiring.inputs_needed, device.di_box.input]), device.inputs),
        ("output", wiring.outputs_needed, device.outputs),
    ):
        if needed > there:
            raise UseError(
                f"device.{what}s is {there}, but {what} {needed} is in use; write {needed} or more."
            )
