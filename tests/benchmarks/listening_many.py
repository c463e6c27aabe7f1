"""Sixteen variants of four long microphones to listen to, and who flips between them for minutes.

One pass is really played, the others are told after it (`many`); then every recording is replaced by a file
of its own, minutes long, of noise at the level of a loud guitar, so that 64 files are open at once and none
shares the system's memory with another one. The face is the screen's own runner, in this process.
"""

from __future__ import annotations

import os
import random
import shutil
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from threading import Condition
from time import monotonic, sleep
from typing import Any
from unittest.mock import patch

import numpy as np
import report  # noqa: F401 - makes the tests' own modules found
import soundfile
from accidents import engine_under
from many import Shape, fill, part_name, played_session
from material import RATE
from msgspec.structs import replace
from processes import descendants, pss_bytes, rss_bytes, runs
from session import simulated_wiring

from audio.jobs import news
from audio.jobs.deck import Deck
from audio.jobs.orders import Count, Listen, OpenStream
from audio.jobs.runner import Runner
from audio.session import layout
from audio.vocab.balance import Balance, Fader
from audio.vocab.listening import Flip, GoRound, ListeningNow, SetBalance
from audio.vocab.messages import Counters, Ended, Span
from audio.vocab.wiring import Wiring

VARIANTS, MICROPHONES = 16, 4
PART = part_name(0)
LOUD = 0.1
"""RMS of noise as loud as a loud guitar's recording, −20 dBFS (common practice, no source)."""
BLOCK_FRAMES = 512
LIMIT_S = 120.0
LOOK_S = 0.002
FLIP_S = (0.1, 0.6)
MOVE_EVERY, FADE_EVERY = 6, 5
"""So many flips, on average, between two moves of the loop, and between two of a fader."""
SHORTEST_S, LONGEST_S = 1.0, 20.0


def listened_session(folder: Path, *, minutes: float, seed: int) -> Path:
    """Make the session; it takes 5.5 GB for ten minutes."""
    shape = Shape(parts=1, chains=VARIANTS, each=1)
    session = played_session(folder, shape)
    fill(session, shape, seed=seed)
    _forget_opinions(session.folder)
    first = _noise(folder / "noise.wav", minutes=minutes, seed=seed)
    for path in recordings(session.folder):
        path.unlink()
        shutil.copyfile(first, path)
    first.unlink()
    return session.folder


def recordings(session: Path) -> list[Path]:
    """Return the files of all variants."""
    return sorted(session.glob(f"passes/{PART}/*/{PART}_*_mic-*.wav"))


def bytes_needed(minutes: float) -> int:
    """Return what the session takes of a disk."""
    return round((VARIANTS * MICROPHONES + 1) * minutes * 60 * RATE * 3)


def _forget_opinions(session: Path) -> None:
    """Leave out what was said of the variants: some of it discards them."""
    journal = layout.journal(session)
    lines = journal.read_text().splitlines(keepends=True)
    journal.write_text("".join(line for line in lines if '"event": "said"' not in line))


def _noise(path: Path, *, minutes: float, seed: int) -> Path:
    draw = np.random.default_rng(seed)
    second = draw.normal(0.0, LOUD, 10 * RATE).clip(-1.0, 1.0)
    with soundfile.SoundFile(path, "w", RATE, 1, "PCM_24") as file:
        for _ in range(round(minutes * 6)):
            file.write(np.roll(second, int(draw.integers(len(second)))))
    return path


def room_wiring() -> Wiring:
    """Return the simulated room by the clock, with outputs where people listen."""
    wiring = simulated_wiring(paced=True)
    return replace(wiring, listen_outputs=(1, 2), block_frames=BLOCK_FRAMES)


# ---------------------------------------------------------------- the system's memory of files


def forget_files(paths: list[Path]) -> None:
    """Have the system forget what it holds of files (`posix_fadvise`, which needs them on the disk)."""
    for path in paths:
        with path.open("rb") as file:
            os.fsync(file.fileno())
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def held_share(paths: list[Path]) -> float:
    """Return how much of the files the system holds in memory (util-linux's fincore)."""
    command = ["fincore", "--raw", "--noheadings", "--bytes", "--output", "RES", *map(str, paths)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return sum(map(int, done.stdout.split())) / sum(path.stat().st_size for path in paths)


# ---------------------------------------------------------------- who listens


@dataclass(frozen=True)
class Memory:
    """Of the largest process of a kind, bytes."""

    rss: int
    pss: int


@dataclass
class Sitting:
    """A runner that listens, and what it told."""

    runner: Runner
    ended: list[Ended]
    """How each roll ended."""
    now: ListeningNow | None = None
    counters: Counters | None = None
    troubles: list[str] = field(default_factory=list)
    _idle: int = 0
    _new: Condition = field(default_factory=Condition)

    def tell(self, one: Any) -> None:
        """Take a piece of news."""
        with self._new:
            match one:
                case news.ListeningStands():
                    self.now = one.now
                case news.Counted():
                    self.counters = one.counters
                case news.Trouble():
                    self.troubles.append(one.text)
                case news.Idle():
                    self._idle += 1
                case _:
                    pass
            self._new.notify_all()

    def until(self, right: Callable[[], bool], what: str, *, limit_s: float = LIMIT_S) -> None:
        """Wait for news after which something is so."""
        with self._new:
            if not self._new.wait_for(right, limit_s):
                raise TimeoutError(f"waited in vain: {what}; told meanwhile: {self.troubles}")

    def obeyed(self, asked: Any) -> None:
        """Put an order in and wait until it is done."""
        before = self._idle
        self.runner.ask(asked)
        self.until(lambda: self._idle > before, f"{asked}")

    @property
    def engine_pid(self) -> int:
        """Process id of the engine."""
        return engine_under(os.getpid())

    def idle_flagged(self, seconds: float) -> int:
        """Return how many callbacks the device flags in some seconds in which nothing rolls."""
        before = self._flagged()
        sleep(seconds)
        return self._flagged() - before

    def _flagged(self) -> int:
        status = self.runner.status()
        return status.flagged if status is not None else 0

    def listen(self) -> float:
        """Listen; return after how many seconds something is heard."""
        begun = monotonic()
        self.runner.ask(Listen(part=PART))
        while monotonic() - begun < LIMIT_S:
            status = self.runner.status()
            if status is not None and status.roll_id >= 0 and max(status.outputs.peak[:2]) > 0.0:
                return monotonic() - begun
            sleep(LOOK_S)
        raise TimeoutError(f"nothing was heard: {self.troubles}")

    def stop(self) -> Ended:
        """Stop listening; return how the roll ended."""
        before = self._idle
        self.runner.stop()
        self.until(lambda: self._idle > before, "a stop")
        return self.ended[-1]

    def counted(self) -> Counters:
        """Return what the callback did in its last three minutes."""
        self.obeyed(Count())
        assert self.counters is not None
        return self.counters

    def memory(self) -> dict[str, Memory]:
        """Return what engine and worker hold; of the workers the largest."""
        out = {}
        for name, module in (("engine", "audio.engine.process"), ("worker", "audio.work.process")):
            pids = [pid for pid in descendants(os.getpid()) if runs(pid, module)]
            out[name] = Memory(max(map(rss_bytes, pids)), max(map(pss_bytes, pids)))
        return out


@contextmanager
def sitting(session: Path) -> Iterator[Sitting]:
    """Yield a sitting whose stream is open."""
    ended: list[Ended] = []

    class KeepingDeck(Deck):
        """A deck that keeps how its rolls ended."""

        def play(self, **roll: Any) -> Ended:
            ended.append(super().play(**roll))
            return ended[-1]

    with patch("audio.jobs.runner.Deck", KeepingDeck):
        runner = Runner(session, program="benchmark")
        one = Sitting(runner, ended)
        try:
            runner.start(one.tell)
            one.obeyed(OpenStream())
            if one.troubles:
                raise RuntimeError(one.troubles[0])
            yield one
        finally:
            runner.close()


@dataclass
class Steered:
    """How often what was asked for."""

    flips: int = 0
    moves: int = 0
    fades: int = 0


def steer_at_random(one: Sitting, draw: random.Random, *, seconds: float, moves: bool) -> Steered:
    """Flip, fade and move the loop for so long, as somebody does who cannot decide."""
    done = Steered()
    end = monotonic() + seconds
    while monotonic() < end:
        now = one.now
        assert now is not None
        one.runner.steer(Flip(key=draw.choice(now.sounds).key))
        done.flips += 1
        if moves and not draw.randrange(MOVE_EVERY):
            one.runner.steer(GoRound(span=_span(now, draw)))
            done.moves += 1
        if moves and not draw.randrange(FADE_EVERY):
            one.runner.steer(_fade(now, draw))
            done.fades += 1
        sleep(draw.uniform(*FLIP_S))
    return done


def _span(now: ListeningNow, draw: random.Random) -> Span:
    frames = round(draw.uniform(SHORTEST_S, LONGEST_S) * now.sample_rate)
    start = draw.randrange(now.whole - frames)
    return Span(start=start, end=start + frames)


def _fade(now: ListeningNow, draw: random.Random) -> SetBalance:
    sound = draw.choice([one for one in now.sounds if one.number is not None])
    name = draw.choice(sound.layers).name
    fader = Fader(name=name, db=float(draw.randrange(-20, 1)))
    return SetBalance(key=sound.key, balance=Balance(faders=(fader,)))
