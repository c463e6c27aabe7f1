"""One open stream: the device, its callback, the threads that feed and drain it.

Knows nothing of pipes. `roll` starts one, the writing thread ends it; everything between is asked of
the program that plays.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic, sleep

from audio.device.port import Device
from audio.engine.block import Callback
from audio.engine.fades import fade_frames
from audio.engine.meters import MeterBank
from audio.engine.mix import Change
from audio.engine.outlets import Outlets
from audio.engine.program import Program
from audio.engine.recording import Recording
from audio.engine.ring import size_for
from audio.engine.timeline import Timeline
from audio.engine.voice import UnfitError, Voice
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

FADE_LIMIT_S = 0.5
"""How long a closing stream waits for what sounds to fade out."""

GONE = "the audio device stopped answering"

DEAD_CLOSE_S = 0.1
"""A device that is gone mostly hangs whoever closes it: the engine's end lets go of it, too."""

ABANDON_S, ABANDON_BLOCKS = 0.02, 3
"""How long a device that still calls has to end a roll with its fade, blocks on top of seconds."""

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
    outlets
        Where its outputs lead.
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
        outlets: Outlets,
        publish: Callable[[MeterBank], None],
        ended: Callable[[Ended], None],
        broken: Callable[[str], None],
    ) -> None:
        self.device = device
        self.outlets = outlets
        self._fade = fade_frames(device.rate)
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
            If another roll is under way, a source cannot be played or may not reach where it is sent, or
            a channel does not exist.
        OSError
            If a capture cannot be made.
        """
        if self.recording is not None:
            raise UseError("another roll is under way; wait until it has ended")
        self._check(roll)
        program = self._program(roll)
        try:
            while program.feed(0):
                pass
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
        if roll.from_frame < 0:
            raise UseError("the roll begins before the start of its timeline")
        self._check_loop(roll.loop, roll.splice_frames)

    def _check_loop(self, loop: Span | None, splice_frames: int) -> None:
        if loop is None:
            return
        if loop.start < 0 or loop.end - loop.start <= max(splice_frames, self._fade):
            raise UseError(
                "the loop is shorter than the fade at its joint, or begins before the roll"
            )

    def _program(self, roll: Roll) -> Program:
        device = self.device
        to_codes = device.sample_format == "int32"
        gains = self.outlets.first_gains(roll.sources, outputs=device.outputs)
        voices: list[Voice] = []
        sends = any(source.reaches_send for source in roll.sources)
        try:
            for source in roll.sources:
                aside = sends and not source.reaches_send
                voices.append(
                    Voice(
                        source,
                        rate=device.rate,
                        to_codes=to_codes,
                        aside=aside,
                        paced=device.paced,
                    )
                )
        except BaseException:
            for voice in voices:
                voice.close()
            raise
        splice = max(roll.splice_frames, self._fade)
        program = Program(
            Timeline(tuple(voices), loop=roll.loop, splice_frames=splice, start=roll.from_frame),
            gains,
            allowed=self.outlets.allowed(roll.sources, outputs=device.outputs),
            ring_frames=size_for(PLAY_RING_S, rate=device.rate),
            block_frames=device.block_frames,
            rate=device.rate,
            length=roll.length_frames,
        )
        if voices and not sends:
            program.read_ahead(tuple(voices), rate=device.rate)
        return program

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
        if recording is not None:
            recording.program.end_at(length_frames)
            self._wake.set()

    def loop(self, span: Span | None) -> None:
        """Set or clear the stretch that repeats; `UseError` if it is too short to be joined."""
        recording = self.recording
        if recording is not None:
            self._check_loop(span, recording.program.timeline.splice_frames)
            recording.program.loop(span)
            self._wake.set()

    def jump(self, to_frame: int) -> None:
        """Continue the timeline elsewhere; `UseError` if that is before the roll."""
        recording = self.recording
        if to_frame < 0:
            raise UseError("a jump leads before the start of the roll")
        if recording is not None:
            recording.program.jump(to_frame)
            self._wake.set()

    def gain(self, gain: Gain) -> None:
        """Fade the mixing product of the roll under way; `UseError` if a source may not go there."""
        recording = self.recording
        if recording is None:
            return
        program = recording.program
        target = self.outlets.changed(program.gains, gain, allowed=program.allowed)
        at = max(0, self.callback.frame - recording.first_frame)
        start = at if gain.at_frame is None else max(at, gain.at_frame)
        frames = max(self._fade, gain.ramp_frames)
        program.change(Change(target, at_frame=start, frames=frames, shape=gain.shape))

    @property
    def behind(self) -> int | None:
        """The roll that was stopped because the disk does not keep up, while it is being written."""
        recording = self.recording
        return recording.roll.roll_id if recording and recording.program.behind else None

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

    def trouble(self) -> str | None:
        """Look, at most once in 50 ms, what is wrong with the device.

        Returns
        -------
        str or None
            What is wrong, without the way out; None while all is well.
        """
        now = monotonic()
        if now - self._looked < LOOK_S:
            return None
        self._looked = now
        if not self.device.alive():
            return self.device.failure or GONE
        return GONE if self.device.paced and self._is_frozen() else None

    def _is_frozen(self) -> bool:
        frame = self.callback.frame
        self._still = 0 if frame != self._last_frame else self._still + 1
        self._last_frame = frame
        return self._still >= (DEAD_POLLS if frame else FIRST_POLLS)

    def abandon(self, note: str) -> None:
        """End the roll under way: with a fade while calls still come, else without the device's help."""
        recording, rate = self.recording, self.device.rate
        if recording is None:
            return
        recording.stop("device", note=note)
        give_up = monotonic() + ABANDON_S + ABANDON_BLOCKS * self.device.block_frames / rate
        while self.recording is recording and monotonic() < give_up:
            sleep(POLL_S)
        self._writer.abandon(note)

    def close(self) -> None:
        """End everything; bounded to about four seconds, even where the device hangs."""
        self._fade_out()
        self._leave = True
        self._wake.set()
        with self._progress:
            self._progress.notify_all()
        self._writer.close(timeout_s=2.0)
        dead = not self.device.alive() and self.device.failure is None
        closing = threading.Thread(target=self.device.close, name="closing", daemon=True)
        closing.start()
        closing.join(DEAD_CLOSE_S if dead else 1.0)

    def _fade_out(self) -> None:
        """Stop what sounds, and wait until the device has taken the fade; a device that is gone has not.

        Where a device vanishes under a roll nothing can be faded: its last sample is what it sent last.
        """
        recording = self.recording
        if recording is None:
            return
        recording.stop("closed")
        end = monotonic() + FADE_LIMIT_S
        with self._progress:
            while not recording.program.is_over(self.callback.frame) and monotonic() < end:
                self._progress.wait(POLL_S)

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
                self._stop_unfed(program, error)
            self._wake.wait(POLL_S)

    def _stop_unfed(self, program: Program | None, error: Exception) -> None:
        """Stop a roll that cannot be fed; another one may have begun meanwhile."""
        recording = self.recording
        if recording is not None and recording.program is program:
            reason: EndReason = "unfit" if isinstance(error, UnfitError) else "starved"
            recording.stop(reason, note=str(error))

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
        if program is None or program.is_over(callback.frame):
            return False
        room = callback.captured.size // 2 - (callback.frame - callback.drained)
        return room >= frames and program.ready(callback.frame, frames)
