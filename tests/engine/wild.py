"""Rolls at random, steered at random, on a device turned by hand: what may never be sent, looked for.

The same drawing serves ``test_safety.py`` and ``bench_safety.py``. What a seed draws is settled but for how
the threads run, which decides at which frame a wish is fulfilled. The sources are slow, with soft ends:
every step of level that is found was made by the engine.
"""

from __future__ import annotations

import queue
import time
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

import msgspec
import numpy as np
import soundfile
from hand import Hand, turn_while

from audio.engine.outlets import Outlets
from audio.engine.program import Program
from audio.engine.stream import Stream
from audio.vocab.errors import UseError
from audio.vocab.messages import DeadEnd, Ended, Gain, QuietEnd, Roll, Source, Span

RATE = 16_000
FADE = RATE // 100
LEVEL = 0.25
MOST_SOURCES = 3
CHANNELS = 6
SEND, LOOP, EARS, UNUSED = 2, 5, (0, 1), (3, 4)
OUTLETS = Outlets(amp=frozenset({SEND, LOOP}), ears=frozenset(EARS))

STEEPEST = MOST_SOURCES * LEVEL * 5 * (np.pi / 2) / FADE
"""Largest difference of two neighbouring samples that fades can make: the valve, a gain, a splice (both
sides of it move) and the end of a roll at once, on every source. A cut of one source is a step of 0.25."""

BLOCKS = (16, 64, 100, 256, 512)


def write_sources(folder: Path) -> dict[str, Path]:
    """Write the files rolls are drawn from; ``silent`` is the only one without a level."""
    edge = 0.5 - 0.5 * np.cos(np.pi * (np.arange(4 * FADE) + 0.5) / (4 * FADE))
    made = {}
    for name, frames, level in (
        ("long", 6 * RATE, LEVEL),
        ("short", RATE // 4, -LEVEL),
        ("other", 2 * RATE, LEVEL),
        ("silent", 6 * RATE, 0.0),
    ):
        samples = np.full(frames, level)
        samples[: len(edge)] *= edge
        samples[-len(edge) :] *= edge[::-1]
        made[name] = folder / f"{name}.wav"
        soundfile.write(made[name], samples, RATE, subtype="PCM_24")
    return made


def fulfilled(program: Program) -> None:
    """Wait until the feeding thread has done what was wished for, or the roll is being stopped."""
    while program._wishes and not program.stopped:
        time.sleep(0.0002)


@dataclass
class Seen:
    """What one evening of rolls did."""

    rolls: int = 0
    steered: int = 0
    refused: int = 0
    stops: int = 0
    starved: int = 0
    closed: int = 0
    worst_step: float = 0.0
    wrong: list[str] = field(default_factory=list)

    def add(self, other: Seen) -> None:
        """Take another evening in."""
        for name in ("rolls", "steered", "refused", "stops", "starved", "closed", "wrong"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.worst_step = max(self.worst_step, other.worst_step)


class Evening:
    """One stream, some rolls, everything drawn from one source of chance."""

    def __init__(self, draw: Random, files: dict[str, Path]) -> None:
        self.draw = draw
        self.files = files
        self.seen = Seen()
        self.quiet_amp = draw.random() < 0.5
        """Whether all that may reach the send is silent: whatever is heard there came from a cue."""
        self.sizes = draw.sample(BLOCKS, draw.randint(1, 3))
        self.device = Hand(
            rate=RATE,
            block_frames=max(self.sizes),
            channels=CHANNELS,
            sample_format=draw.choice(("float32", "int32")),
        )
        self._ended: queue.SimpleQueue[Ended] = queue.SimpleQueue()
        self.broken: queue.SimpleQueue[str] = queue.SimpleQueue()
        self.stream = Stream(
            self.device,
            outlets=OUTLETS,
            publish=lambda _: None,
            ended=self._ended.put,
            broken=self.broken.put,
        )
        self.held = False
        self.stopped_at: int | None = None

    def run(self) -> Seen:
        """Play, and judge all that was sent."""
        self.stream.start()
        try:
            for number in range(self.draw.randint(1, 2)):
                self._turn()
                if not self._play(number):
                    break
        finally:
            turn_while(self.device, self.stream.close, frames=self.sizes[0])
        self.device.turn(self.sizes[0])
        self._judge()
        return self.seen

    # ------------------------------------------------------------ one roll

    def _play(self, number: int) -> bool:
        """Order a roll, steer it, see it end; False where the stream shall be closed under it."""
        roll = self._roll(number)
        before = len(self.device.sent)
        try:
            self.stream.roll(roll)
        except UseError:
            self.seen.refused += 1
            return True
        finally:
            self._check_not_sent(before)
        self.seen.rolls += 1
        if any(not self._may(s, output) for s in roll.sources for output, g in s.outputs if g):
            self.seen.wrong.append("a cue was let to the send")
        return self._steer_and_turn(roll)

    def _check_not_sent(self, before: int) -> None:
        if len(self.device.sent) != before:
            self.seen.wrong.append("the device was turned by the order itself")

    @staticmethod
    def _may(source: Source, output: int) -> bool:
        return output in EARS or (output in (SEND, LOOP) and source.reaches_send)

    def _steer_and_turn(self, roll: Roll) -> bool:
        recording = self.stream.recording
        assert recording is not None
        feed = recording.program.feed
        recording.program.feed = lambda frame: False if self.held else feed(frame)  # type: ignore[method-assign]
        leaves_early = self.draw.random() < 0.15
        left, stops_at = self.draw.randint(20, 400), self.draw.randint(0, 300)
        may_stop = self.draw.random() < 0.6
        turns = 0
        ended: Ended | None = None
        after = 0
        while ended is None or after < 12:
            if ended is None and leaves_early and turns >= left:
                break
            if may_stop and turns == stops_at:
                self._stop()
            elif self.draw.random() < 0.08:
                self._steer(roll)
            self._turn()
            turns += 1
            after += ended is not None
            ended = ended or self._over()
            if turns > 20_000:
                self.seen.wrong.append("a roll did not end")
                break
        self.held = False
        self._forget_stop(ended)
        return ended is not None

    def _forget_stop(self, ended: Ended | None) -> None:
        if ended is None:
            self.seen.closed += 1
            return
        self.seen.starved += any(one.kind == "starved" for one in ended.dropouts)
        if ended.reason == "closed":
            self.seen.wrong.append("a roll ended closed")
        self._check_silent_since_stop()
        self.stopped_at = None

    def _over(self) -> Ended | None:
        recording = self.stream.recording
        if recording is not None and not recording.program.is_over(self.device.frame):
            return None
        return self._ended.get(timeout=20)

    def _stop(self) -> None:
        self.seen.stops += 1
        if self.stopped_at is None and self.stream.recording is not None:
            self.stopped_at = self.device.frame
        self.stream.stop("stopped")

    def _turn(self) -> None:
        frames = self.draw.choice(self.sizes)
        callback = self.stream.callback
        program = callback.program
        rolls = program is not None and not program.is_over(self.device.frame)
        if rolls and not self.held:
            assert self.device.gate is not None
            assert self.device.gate(frames)
        while callback.frame - callback.drained > 4000:
            time.sleep(0.0005)  # a device without a clock must not outrun the writer
        self.device.turn(frames)

    # ------------------------------------------------------------ what is drawn

    def _roll(self, number: int) -> Roll:
        draw = self.draw
        sources = tuple(self._source() for _ in range(draw.randint(0, MOST_SOURCES)))
        every = tuple(range(CHANNELS))
        return Roll(
            roll_id=number,
            sources=sources,
            length_frames=draw.choice(
                (0, FADE // 2, draw.randint(1, RATE), draw.randint(1, 60_000))
            ),
            loop=self._span() if draw.random() < 0.3 else None,
            splice_frames=draw.choice((0, 0, 1, 2 * FADE)),
            quiet=QuietEnd(
                after_frame=draw.randint(0, RATE),
                inputs=every,
                under_dbfs=(-60.0,) * CHANNELS,
                for_frames=draw.randint(1, RATE),
            )
            if draw.random() < 0.2
            else None,
            dead=DeadEnd(
                output=SEND,
                loud_dbfs=-40.0,
                inputs=every,
                under_dbfs=(-60.0,) * CHANNELS,
                for_frames=draw.randint(1, RATE),
            )
            if draw.random() < 0.2
            else None,
        )

    def _span(self) -> Span:
        start = self.draw.randint(0, RATE)
        return Span(start=start, end=start + self.draw.choice((1, FADE, 3 * FADE, RATE // 3)))

    def _source(self) -> Source:
        draw = self.draw
        reaches_send = draw.random() < 0.5
        names = ("silent",) if reaches_send and self.quiet_amp else ("long", "short", "other")
        outputs = list(EARS)
        if reaches_send or draw.random() < 0.03:
            outputs += [SEND, LOOP]
        if draw.random() < 0.02:
            outputs += UNUSED
        chosen = draw.sample(outputs, draw.randint(1, min(3, len(outputs))))
        return Source(
            path=str(self.files[draw.choice(names)]),
            at_frame=draw.choice((0, -draw.randint(1, RATE), draw.randint(0, RATE))),
            from_frame=draw.choice((0, 0, draw.randint(0, 3 * RATE))),
            frames=draw.choice((None, None, draw.randint(1, 2 * RATE))),
            gain_db=draw.choice((0.0, -6.0)),
            outputs=tuple((output, draw.choice((1.0, 1.0, 0.3))) for output in chosen),
            reaches_send=reaches_send,
        )

    def _steer(self, roll: Roll) -> None:
        draw, stream = self.draw, self.stream
        self.seen.steered += 1
        what: Any = draw.choice(
            ("extend", "jump", "jump", "gain", "gain", "loop", "hold", "wild gain")
        )
        try:
            match what:
                case "extend":
                    stream.extend(draw.randint(0, 60_000))
                case "jump":
                    for _ in range(draw.randint(1, 3)):
                        stream.jump(draw.randint(0, 4 * RATE))
                case "gain":
                    stream.gain(self._gain(roll, allowed=True))
                case "wild gain":
                    self._wild_gain(roll)
                case "loop":
                    stream.loop(draw.choice((None, self._span())))
                case "hold":
                    self.held = not self.held
        except UseError:
            self.seen.refused += 1
        recording = stream.recording
        if recording is not None and not self.held and draw.random() < 0.7:
            fulfilled(recording.program)

    def _gain(self, roll: Roll, *, allowed: bool) -> Gain:
        draw = self.draw
        pairs = [
            (row, output, draw.choice((0.0, 0.5, 1.0)))
            for row, source in enumerate(roll.sources)
            for output in range(CHANNELS)
            if self._may(source, output) == allowed
        ]
        chosen = draw.sample(pairs, min(len(pairs), draw.randint(0, 4)))
        now = self.device.frame
        return Gain(
            roll_id=roll.roll_id,
            gains=tuple(chosen),
            at_frame=draw.choice((None, 0, max(0, now + draw.randint(-500, 4000)))),
            ramp_frames=draw.choice((0, 1, FADE, 3 * FADE)),
            shape=draw.choice(("linear", "equal power")),
        )

    def _wild_gain(self, roll: Roll) -> None:
        asked = self._gain(roll, allowed=False)
        wild = tuple((s, o, max(value, 0.5)) for s, o, value in asked.gains)
        if not wild:
            return
        try:
            self.stream.gain(msgspec.structs.replace(asked, gains=wild))
        except UseError:
            self.seen.refused += 1
        else:
            if self.stream.recording is not None:
                self.seen.wrong.append("a gain let a cue to the send")

    # ------------------------------------------------------------ judging

    def _check_silent_since_stop(self) -> None:
        if self.stopped_at is not None and self.device.levels()[self.stopped_at + FADE :].any():
            self.seen.wrong.append("something was sent after a stop")

    def _judge(self) -> None:
        sent = self.device.levels()
        seen = self.seen
        if sent[:, UNUSED].any():
            seen.wrong.append("an unused output carried something")
        if self.quiet_amp and sent[:, [SEND, LOOP]].any():
            seen.wrong.append("a cue reached the send")
        if not np.isfinite(sent).all() or np.abs(sent).max(initial=0.0) > 1.0:
            seen.wrong.append("something over full scale was sent")
        seen.worst_step = float(np.abs(np.diff(sent, axis=0, prepend=0.0)).max(initial=0.0))
        if seen.worst_step > STEEPEST:
            at = int(np.abs(np.diff(sent, axis=0, prepend=0.0)).max(axis=1).argmax())
            seen.wrong.append(f"a step of {seen.worst_step:.3f} at frame {at}")
        if not self.broken.empty():
            seen.wrong.append(f"the writer broke: {self.broken.get()}")
