"""One open stream: the device, its callback, the threads that feed and drain it.

Knows nothing of pipes. `roll` starts one, the writing thread ends it; everything between is asked of
the program that plays.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic

import numpy as np

from audio.device.port import Device
from audio.engine.block import Callback
from audio.engine.meters import MeterBank
from audio.engine.mix import Change, Gains
from audio.engine.program import Program
from audio.engine.recording import Recording
from audio.engine.ring import size_for
from audio.engine.timeline import Timeline, Voice
from audio.engine.writer import Writer
from audio.vocab.errors import UseError
from audio.vocab.messages import Ended, EndReason, Gain, Roll, Span

PLAY_RING_S = 1.0
"""How long the feeding thread may stall before the send starves."""

START_MARGIN_S = 0.03
"""Between the decision to start and the first frame: the writing thread must know of it before."""

POLL_S = 0.01
LOOK_S = 0.05
DEAD_POLLS = 8
"""Looks at 50 ms each without one new frame before the device counts as gone: 400 ms. Looks are
counted, not time: a process that was itself stopped for a while must not blame the device."""

FIRST_POLLS = 60
"""The same before the first frame has come: opening may take three seconds."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the stream and its roll are."""

    stream_frame: int
    roll_frame: int
    timeline_frame: int
    roll_length: int
    roll_id: int
    dropouts: int
    flagged: int


class Stream:
    """A device that runs.

    Parameters
    ----------
    device
        Opened, not started.
    publish
        Called from the writing thread when meters are new.
    ended
        Called from the writing thread when a roll is written and closed.
    broken
        Called from the writing thread when it failed itself.
    """

    def __init__(
        self,
        device: Device,
        *,
        publish: Callable[[MeterBank], None],
        ended: Callable[[Ended], None],
        broken: Callable[[str], None],
    ) -> None:
        self.device = device
        self.callback = Callback(device)
        self._progress = threading.Condition()
        self._writer = Writer(
            self.callback,
            rate=device.rate,
            block_frames=device.block_frames,
            progress=self._progress,
            publish=publish,
            ended=ended,
            broken=broken,
        )
        self._wake = threading.Event()
        self._leave = False
        self._feeder = threading.Thread(target=self._feed, name="feeder", daemon=True)
        self._last_frame = 0
        self._still = 0
        self._looked = 0.0

    def start(self) -> None:
        """Let the device run; outputs carry zeros until a roll starts."""
        self._writer.start()
        self._feeder.start()
        self.device.start(self.callback, self._gate)

    # ------------------------------------------------------------ rolls

    def roll(self, roll: Roll) -> int:
        """Start a roll.

        Parameters
        ----------
        roll
            What to play and record; outputs and inputs must exist.

        Returns
        -------
        int
            Stream frame of roll frame 0.

        Raises
        ------
        audio.vocab.errors.UseError
            If a source cannot be played or a channel does not exist.
        OSError
            If a capture cannot be made.
        """
        self._check(roll)
        program = self._program(roll)
        try:
            recording = Recording(
                roll,
                program,
                rate=self.device.rate,
                inputs=self.device.inputs,
                outputs=self.device.outputs,
            )
        except BaseException:
            program.close()
            raise
        while program.feed(0):
            pass
        margin = max(2 * self.device.block_frames, round(START_MARGIN_S * self.device.rate))
        program.start_frame = self.callback.frame + margin
        self._writer.begin(recording)
        self.callback.program = program
        self._wake.set()
        return program.start_frame

    def _check(self, roll: Roll) -> None:
        inputs, outputs = self.device.inputs, self.device.outputs
        wanted_out = [o for s in roll.sources for o, _ in s.outputs]
        wanted_out += [o for c in roll.captures for o in c.outputs]
        wanted_in = [i for c in roll.captures for i in c.inputs]
        wanted_in += [i for end in (roll.quiet, roll.dead) if end for i in end.inputs]
        if roll.dead:
            wanted_out.append(roll.dead.output)
        for kind, wanted, there in (("input", wanted_in, inputs), ("output", wanted_out, outputs)):
            missing = [c + 1 for c in wanted if not 0 <= c < there]
            if missing:
                raise UseError(f"the stream has {there} {kind}s; {kind} {missing[0]} was asked for")
        if roll.loop and roll.loop.end - roll.loop.start <= roll.splice_frames:
            raise UseError("the loop is shorter than the fade at its joint")

    def _program(self, roll: Roll) -> Program:
        device = self.device
        to_codes = device.sample_format == "int32"
        voices: list[Voice] = []
        try:
            for source in roll.sources:
                voices.append(Voice(source, rate=device.rate, to_codes=to_codes))  # noqa: PERF401 -- closed below on error
        except BaseException:
            for voice in voices:
                voice.close()
            raise
        gains: Gains = np.zeros((max(1, len(voices)), device.outputs), dtype=np.float32)
        for row, source in enumerate(roll.sources):
            for output, gain in source.outputs:
                gains[row, output] = gain
        return Program(
            Timeline(tuple(voices), loop=roll.loop, splice_frames=roll.splice_frames),
            gains,
            ring_frames=size_for(PLAY_RING_S, rate=device.rate),
            block_frames=device.block_frames,
            rate=device.rate,
            length=roll.length_frames,
        )

    @property
    def recording(self) -> Recording | None:
        """The roll under way."""
        return self._writer.recording

    def stop(self, reason: EndReason) -> None:
        """Fade out and end the roll under way, if there is one."""
        recording = self.recording
        if recording is not None:
            recording.stop(reason)

    def extend(self, length_frames: int) -> None:
        """Move the end of the roll under way, unless that frame is past."""
        recording = self.recording
        if recording is None or recording.program.stopped:
            return
        now = self.callback.frame - recording.first_frame
        if length_frames > now:
            recording.program.end_frame = length_frames

    def loop(self, span: Span | None) -> None:
        """Set or clear the stretch that repeats."""
        recording = self.recording
        if recording is not None:
            recording.program.timeline.loop = span

    def jump(self, to_frame: int) -> None:
        """Continue the timeline elsewhere."""
        recording = self.recording
        if recording is not None:
            recording.program.jump(to_frame)
            self._wake.set()

    def gain(self, gain: Gain) -> None:
        """Fade the mixing product of the roll under way."""
        recording = self.recording
        if recording is None:
            return
        target = recording.program.gains.copy()
        for source, output, value in gain.gains:
            if not (0 <= source < target.shape[0] and 0 <= output < target.shape[1]):
                raise UseError(f"source {source + 1} or output {output + 1} is not in this roll")
            target[source, output] = value
        at = max(0, self.callback.frame - recording.first_frame)
        start = at if gain.at_frame is None else max(at, gain.at_frame)
        recording.program.change(
            Change(target, at_frame=start, frames=max(1, gain.ramp_frames), shape=gain.shape)
        )

    def place(self) -> Place:
        """Return where everything is now."""
        frame = self.callback.frame
        flagged = self.callback.log.flagged
        recording = self.recording
        if recording is None:
            return Place(frame, 0, 0, 0, -1, 0, flagged)
        at = frame - recording.first_frame
        return Place(
            stream_frame=frame,
            roll_frame=at,
            timeline_frame=recording.program.timeline.at(max(0, at)),
            roll_length=recording.program.end_frame,
            roll_id=recording.roll.roll_id,
            dropouts=len(recording.dropouts),
            flagged=flagged,
        )

    # ------------------------------------------------------------ health and end

    def gone(self) -> bool:
        """Look, at most once in 50 ms: return whether the device has stopped calling."""
        if not self.device.paced:
            return not self.device.alive()
        now = monotonic()
        if now - self._looked < LOOK_S:
            return False
        self._looked = now
        frame = self.callback.frame
        self._still = 0 if frame != self._last_frame else self._still + 1
        self._last_frame = frame
        return self._still >= (DEAD_POLLS if frame else FIRST_POLLS)

    def abandon(self, note: str) -> None:
        """Close the roll under way without the device's help."""
        self._writer.abandon(note)

    def close(self) -> None:
        """End everything; bounded to about three seconds, even where the device hangs."""
        self._leave = True
        self._wake.set()
        with self._progress:
            self._progress.notify_all()
        self._writer.close(timeout_s=2.0)
        closing = threading.Thread(target=self.device.close, name="closing", daemon=True)
        closing.start()
        closing.join(1.0)

    # ------------------------------------------------------------ threads

    def _feed(self) -> None:
        while not self._leave:
            self._wake.clear()
            program = self.callback.program
            try:
                while program is not None and program.feed(self.callback.frame):
                    with self._progress:
                        self._progress.notify_all()
            except Exception as error:  # noqa: BLE001 - a file that cannot be read ends its roll only
                self._stop_unfed(str(error))
            self._wake.wait(POLL_S)

    def _stop_unfed(self, why: str) -> None:
        recording = self.recording
        if recording is not None:
            recording.stop("starved", note=why)

    def _gate(self, frames: int) -> bool:
        while not self._leave:
            if self._is_ready(frames):
                return True
            self._wake.set()
            self._writer.hurry()
            with self._progress:
                self._progress.wait(0.005)
        return False

    def _is_ready(self, frames: int) -> bool:
        callback = self.callback
        program = callback.program
        if program is None or callback.frame >= program.start_frame + program.end_frame:
            return False
        room = callback.captured.size // 2 - (callback.frame - callback.drained)
        return room >= frames and program.ready(callback.frame, frames)
