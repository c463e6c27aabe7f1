"""Ten minutes of flips, loops moved and microphones faded, on sounds that tell their own frames.

Each sound has two microphones, one heard on each of two outputs: the first counts frames from 0 to 65 535
over and over, the second counts how often, and both carry the sound's number above that. So each pair of
samples that leaves is one sound and one frame of it, exactly, in 24 bits. Faders stand at 0, −6.02 and
−12.04 dB: half a code, and a quarter of it, are exact in a float. The device is turned by hand, so a
flip's first frame is known.
"""

from __future__ import annotations

import queue
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import report
import soundfile
from numpy.typing import NDArray

sys.path.append(str(report.TESTS / "engine"))
from accidents import wait_for
from hand import Hand, turn_while

from audio.engine.outlets import Outlets
from audio.engine.program import LANDING_S
from audio.engine.stream import Stream
from audio.vocab.messages import Ended, Gain, Roll, Source, Span

RATE = 48_000
BLOCK = 512
FADE = RATE // 100
CODES = 1 << 23
LOW_BITS = 16
SOUNDS = 6
EARS = (0, 1)
GAINS = (1.0, 1.0, 0.5, 0.25)
LANDING = round(LANDING_S * RATE) + FADE + BLOCK
"""Frames after which a moved loop must have landed, from the block in which it was asked for."""
SHORTEST_S, LONGEST_S = 0.3, 20.0
TURN = 8
"""Blocks between two looks at what was asked, on average."""
ROUNDED = 1.0
"""Codes by which the middle of a fade may differ: it is computed in floats of 24 bits."""

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Asked:
    """What was asked for, and the roll frame from which on it can be obeyed."""

    frame: int
    sound: int
    gains: tuple[float, float]
    span: Span


@dataclass
class Held:
    """What came of holding what left against what was asked."""

    samples: int = 0
    in_fades: int = 0
    wrong: int = 0
    first_wrong: int | None = None
    flips: int = 0
    late_flips: int = 0
    moves: int = 0
    lost_moves: int = 0
    latest_move: int = 0
    fades: int = 0
    rounds: int = 0
    """How often the stretch went round."""
    worst_in_fade: float = 0.0
    """Of flips alone: how far a sample lies off an equal-power fade, codes."""
    leaked: int = 0
    """Samples on other outputs that are not zero."""


def low_code(sound: int, frame: Ints) -> Ints:
    """Return what the first microphone holds."""
    return (np.int64(sound + 1) << LOW_BITS) | (frame & ((1 << LOW_BITS) - 1))


def high_code(sound: int, frame: Ints) -> Ints:
    """Return what the second one holds."""
    return (np.int64(sound + 1) << LOW_BITS) | (frame >> LOW_BITS)


def write_ramps(folder: Path, frames: int) -> tuple[Source, ...]:
    """Write two files for each sound; return them as sources, silent at first."""
    sources = []
    for sound in range(SOUNDS):
        for output, code in zip(EARS, (low_code, high_code), strict=True):
            path = folder / f"{sound}-{output}.wav"
            with soundfile.SoundFile(path, "w", RATE, 1, "PCM_24") as file:
                for at in range(0, frames, 60 * RATE):
                    numbers = np.arange(at, min(at + 60 * RATE, frames), dtype=np.int64)
                    file.write((code(sound, numbers) << 8).astype(np.int32))
            sources.append(Source(path=str(path), outputs=((output, 0.0),)))
    return tuple(sources)


class Listener:
    """Asks at random, notes what was asked, and keeps what left."""

    def __init__(self, sources: tuple[Source, ...], *, frames: int, seed: int) -> None:
        self._draw = np.random.default_rng(seed)
        self._frames = frames
        self.device = Hand(rate=RATE, block_frames=BLOCK, channels=3, sample_format="float32")
        self.broken: list[str] = []
        self.ended: queue.SimpleQueue[Ended] = queue.SimpleQueue()
        self.stream = Stream(
            self.device,
            outlets=Outlets(amp=frozenset({2}), ears=frozenset(EARS)),
            publish=lambda _: None,
            ended=self.ended.put,
            broken=self.broken.append,
        )
        self.stream.start()
        span = Span(start=0, end=frames)
        self.asked = [Asked(0, 0, (0.0, 0.0), span)]
        self.start = self.stream.roll(
            Roll(roll_id=1, sources=sources, length_frames=1 << 40, loop=span)
        )
        recording = self.stream.recording
        assert recording is not None
        self._timeline = recording.program.timeline
        self._moved = 0

    def listen(self, frames: int) -> None:
        """Turn the device for so many frames, asking for something else every so often."""
        while self.device.frame < self.start + frames:
            for _ in range(int(self._draw.integers(1, 2 * TURN))):
                assert self.device.gate is not None
                self.device.gate(BLOCK)
                self.device.turn(BLOCK)
            if self.device.frame >= self.start:
                self._ask()

    def _ask(self) -> None:
        now, kind = self.asked[-1], self._draw.integers(24)
        if kind < 16:
            sound = int(self._draw.integers(SOUNDS))
            self._turn(
                Asked(self._at, sound, now.gains if any(now.gains) else (1.0, 1.0), now.span)
            )
        elif kind < 23:
            gains = (float(self._draw.choice(GAINS)), float(self._draw.choice(GAINS)))
            self._turn(Asked(self._at, now.sound, gains, now.span))
        elif self._at > self._moved + 4 * LANDING:
            self._move(now)

    @property
    def _at(self) -> int:
        return self.device.frame - self.start

    def _turn(self, asked: Asked) -> None:
        gains = [
            (2 * sound + output, output, asked.gains[output] if sound == asked.sound else 0.0)
            for sound in range(SOUNDS)
            for output in EARS
        ]
        self.stream.gain(Gain(roll_id=1, gains=tuple(gains)))
        self.asked.append(asked)

    def _move(self, now: Asked) -> None:
        """Move the loop, and let the threads do their part of it: this device knows no clock."""
        length = int(np.exp(self._draw.uniform(*np.log((SHORTEST_S, LONGEST_S)))) * RATE)
        start = int(self._draw.integers(self._frames - length))
        span = Span(start=start, end=start + length)
        self.stream.loop(span)
        wait_for(lambda: self._timeline.loop == span, "the loop was not moved")
        self.asked.append(Asked(self._at, now.sound, now.gains, span))
        self._moved = self._at

    def left(self) -> NDArray[np.float32]:
        """Return what left since the roll began, (frames, outputs)."""
        return np.concatenate(self.device.sent)[self.start :]  # type: ignore[return-value]

    def close(self) -> Ended:
        """Stop; return how it ended."""
        turn_while(self.device, self.stream.close, frames=BLOCK)
        return self.ended.get(timeout=20)


@contextmanager
def listener(sources: tuple[Source, ...], *, frames: int, seed: int) -> Iterator[Listener]:
    """Yield one that is gone afterwards."""
    one = Listener(sources, frames=frames, seed=seed)
    try:
        yield one
    finally:
        if one.stream.recording is not None:
            one.close()


# ---------------------------------------------------------------- held against what was asked


@dataclass
class _Where:
    """The timeline's frame at each roll frame, by what was asked and where moved loops landed."""

    frames: Ints
    faded: NDArray[np.bool_]
    """Within the splice behind a joint."""
    held: Held = field(default_factory=Held)


def hold(asked: list[Asked], left: NDArray[np.float32]) -> Held:
    """Hold every sample that left against what was asked for."""
    where = _where(asked, left)
    held, faded = where.held, where.faded
    due = np.zeros((len(left), 2))
    turning = np.zeros(len(left), dtype=np.bool_)
    turns = [one for at, one in enumerate(asked) if at == 0 or one.span is asked[at - 1].span]
    for one, after in zip(turns, [*turns[1:], None], strict=True):
        rows = slice(one.frame, after.frame if after else len(left))
        due[rows] = _codes(one, where.frames[rows])
        if one.frame:
            turning[one.frame : one.frame + FADE] = True
    codes = left[:, :2].astype(np.float64) * CODES
    _hold_turns(turns, codes, where, held)
    quiet = faded | turning
    wrong = np.flatnonzero((codes != due).any(axis=1) & ~quiet)
    held.samples = 2 * int(np.count_nonzero(~quiet))
    held.in_fades = 2 * int(np.count_nonzero(quiet))
    held.wrong = len(wrong)
    held.first_wrong = int(wrong[0]) if len(wrong) else None
    held.leaked = int(np.count_nonzero(left[:, 2]))
    return held


def _codes(one: Asked, frames: Ints) -> Floats:
    """Return what both outputs carry where a sound is heard by itself."""
    return np.stack((low_code(one.sound, frames), high_code(one.sound, frames)), axis=1) * one.gains


def _hold_turns(turns: list[Asked], codes: Floats, where: _Where, held: Held) -> None:
    """Look at each flip: nothing of it before its block, and an equal-power fade from there on."""
    at = (np.arange(FADE) + 0.5) / FADE * np.pi / 2
    falling, rising = np.cos(at)[:, None], np.sin(at)[:, None]
    for before, one, after in zip(turns[:-1], turns[1:], [*turns[2:], None], strict=True):
        flips = before.sound != one.sound
        held.flips += flips
        held.fades += before.sound == one.sound and before.gains != one.gains
        rows = slice(one.frame, one.frame + FADE)
        whole = after is None or after.frame >= rows.stop
        if not flips or not whole or rows.stop > len(codes) or where.faded[rows].any():
            continue
        if one.frame - before.frame < FADE:
            continue  # it begins in the middle of another one
        frames = where.frames[rows]
        due = _codes(before, frames) * falling + _codes(one, frames) * rising
        off = np.abs(codes[rows] - due).max()
        held.worst_in_fade = max(held.worst_in_fade, float(off))
        first = codes[one.frame : one.frame + BLOCK] != _codes(
            before, frames[:1] + np.arange(BLOCK)
        )
        held.late_flips += not first.any()


def _where(asked: list[Asked], left: NDArray[np.float32]) -> _Where:
    """Return where the timeline must be: straight on, around the loop, elsewhere once a loop was moved."""
    where = _Where(np.zeros(len(left), np.int64), np.zeros(len(left), np.bool_))
    span, at, position = asked[0].span, 0, 0
    for one in [one for at, one in enumerate(asked) if at and one.span is not asked[at - 1].span]:
        where.held.moves += 1
        position = _run(where, span, at, one.frame, position)
        landed = _landed(asked, left, one, span, position)
        where.held.lost_moves += landed is None
        at = min(one.frame + LANDING if landed is None else landed, len(left))
        where.held.latest_move = max(where.held.latest_move, at - one.frame)
        position = _run(where, span, one.frame, at, position)
        span = one.span
        if not span.start <= position < span.end:
            position = span.start
            where.faded[at : at + FADE] = True
    _run(where, span, at, len(left), position)
    return where


def _run(where: _Where, span: Span, at: int, until: int, position: int) -> int:
    """Let the timeline run from one roll frame to another; return where it is then."""
    while at < until:
        step = until - at
        if position < span.end:
            step = min(step, span.end - position)
        where.frames[at : at + step] = position + np.arange(step)
        at, position = at + step, position + step
        if position == span.end:
            position = span.start
            where.faded[at : at + FADE] = True
            where.held.rounds += 1
    return position


def _landed(
    asked: list[Asked], left: NDArray[np.float32], move: Asked, before: Span, position: int
) -> int | None:
    """Return from which roll frame on a new stretch holds, by what left behind it; None if never.

    Every sample is held against what follows from it: a wrong guess hides nothing.
    """
    for row in range(move.frame + LANDING, move.frame + 4 * LANDING, FADE // 4):
        told = _told(asked, left, row)
        if told is None:
            continue
        jumped = row - (told - move.span.start)
        for guess in (jumped, move.frame, move.frame + LANDING):
            if 0 <= guess - move.frame <= LANDING and told == _reached(
                move, before, position, guess, row
            ):
                return guess
        return None
    return None


def _reached(move: Asked, before: Span, position: int, landed: int, row: int) -> int:
    """Return where the timeline is at a row if the new stretch holds from a frame on."""
    position = _round(before, position, landed - move.frame)
    if not move.span.start <= position < move.span.end:
        position = move.span.start
    return _round(move.span, position, row - landed)


def _round(span: Span, position: int, frames: int) -> int:
    """Return where the timeline is so many frames later, in a stretch that goes round."""
    if position >= span.end:
        return position + frames
    return span.start + (position - span.start + frames) % (span.end - span.start)


def _told(asked: list[Asked], left: NDArray[np.float32], at: int) -> int | None:
    """Return the timeline's frame that a row tells by itself; None in a fade, or where nothing is heard."""
    now = [one for one in asked if one.frame <= at][-1]
    if at >= len(left) or 0.0 in now.gains:
        return None
    low, high = (left[at, :2].astype(np.float64) * CODES / now.gains).tolist()
    number = (now.sound + 1) << LOW_BITS
    low, high = low - number, high - number
    if not (
        low.is_integer() and high.is_integer() and 0 <= low < 1 << LOW_BITS and 0 <= high < 1 << 10
    ):
        return None
    return (int(high) << LOW_BITS) + int(low)
