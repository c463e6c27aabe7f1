"""An evening over a private JACK server: a session, who plays it, and what is true of the room.

The face is the screen's own runner, in this process; engine and worker are its children. The reference
return is a wire, so that every frame of its file is known; a second return hears the room's noise.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from time import monotonic
from typing import NamedTuple

import numpy as np
import report  # noqa: F401 - makes the tests' own modules found
import soundfile
from accidents import COMMAND, engine_under, wait_for
from jackroom import rig, spec
from jackroom.pipewire import pipewire_server
from jackroom.server import jack_server
from playing import write_phrase

from audio.files.inspect import inspect
from audio.jobs import news
from audio.jobs.news import News
from audio.jobs.orders import CloseStream, OpenStream, RunPass, Watch
from audio.jobs.runner import Runner
from audio.session.folder import create
from audio.vocab.variant import Variant
from audio.vocab.wiring import Wiring

RATE = 48_000
PERIOD = 512
SECONDS = 4.0
DELAY = 100
PART, CHAIN = "riff", "bare path"
PATHS = (
    spec.Path(output=3, input=2, delay_frames=DELAY),
    spec.Path(output=3, input=3, delay_frames=301.4, gain=0.5, noise_rms=1e-4),
)
LIMIT_S = 60.0
MARK = "SECONDPASS_BENCH"
"""Name of the environment's variable by which processes of an evening are told from others."""


class Heard(NamedTuple):
    """A piece of news and when it came."""

    at: float
    one: News


@dataclass
class Counted:
    """When a lost place was counted."""

    at: float | None = None


@dataclass
class Evening:
    """A runner over a room, and all it told."""

    room: rig.JackRoom
    session: Path
    di: np.ndarray
    """The DI's 24-bit codes."""
    heard: list[Heard] = field(default_factory=list)
    _new: threading.Condition = field(default_factory=threading.Condition)

    def sit_down(self) -> None:
        """Start a face."""
        self.runner = Runner(self.session, program="benchmark")
        self.runner.start(self._tell)

    def leave(self) -> float:
        """End the face; return how long that took, seconds."""
        begun = monotonic()
        self.runner.close()
        return monotonic() - begun

    def _tell(self, one: News) -> None:
        with self._new:
            self.heard.append(Heard(monotonic(), one))
            self._new.notify_all()

    def wait(
        self, right: Callable[[News], bool], *, since: float, limit_s: float = LIMIT_S
    ) -> Heard:
        """Return the first fitting news since a moment; `TimeoutError` if there is none in time."""
        end = monotonic() + limit_s

        def found() -> Heard | None:
            return next((h for h in self.heard if h.at >= since and right(h.one)), None)

        with self._new:
            while (there := found()) is None:
                if not self._new.wait(end - monotonic()):
                    said = [str(h.one)[:160] for h in self.heard if h.at >= since]
                    raise TimeoutError(f"waited in vain; told meanwhile: {said}")
            return there

    def open(self, *, limit_s: float = LIMIT_S) -> tuple[bool, float, str]:
        """Ask for the stream; return whether it opened, after how long, and what was said if not."""
        begun = monotonic()
        self.runner.ask(OpenStream())
        told = self.wait(
            lambda one: isinstance(one, news.StreamOpened | news.Trouble),
            since=begun,
            limit_s=limit_s,
        )
        opened = isinstance(told.one, news.StreamOpened)
        return opened, told.at - begun, "" if opened else told.one.text

    def ask_to_open(self) -> None:
        """Ask for the stream, and do not wait for it."""
        self.runner.ask(OpenStream())

    def watch(self, wiring: Wiring) -> None:
        """Ask for the stream of another wiring, and do not wait for it."""
        self.runner.ask(Watch(wiring=wiring))

    def close_stream(self) -> None:
        """Close the stream."""
        begun = monotonic()
        self.runner.ask(CloseStream())
        self.idle(since=begun)

    @property
    def is_open(self) -> bool:
        """Whether the stream is open, by what was told last."""
        last = [
            h.one for h in self.heard if isinstance(h.one, news.StreamOpened | news.StreamClosed)
        ]
        return bool(last) and isinstance(last[-1], news.StreamOpened)

    def engine_pid(self) -> int:
        """Return the process id of the engine under this face."""
        return engine_under(os.getpid())

    @property
    def client(self) -> str:
        """Name of the engine's client on the server: PortAudio's own."""
        return "PortAudio"

    def start_pass(self) -> float:
        """Ask for a pass; return when."""
        begun = monotonic()
        self.runner.ask(RunPass(part=PART, chain=CHAIN))
        return begun

    def rolls(self, what: str, *, since: float) -> Heard:
        """Wait until a roll of a kind begins."""
        return self.wait(
            lambda one: isinstance(one, news.RollBegins) and one.roll.what == what, since=since
        )

    def idle(self, *, since: float) -> Heard:
        """Wait until what was asked is over."""
        return self.wait(lambda one: isinstance(one, news.Idle), since=since)

    def quiet(self, *, since: float, busy: bool) -> None:
        """Wait until the runner is idle again, where it was busy."""
        if busy:
            self.idle(since=since)

    @contextmanager
    def watched(self) -> Iterator[Counted]:
        """Look at the status block meanwhile; what is yielded says when a lost place was counted."""
        counted, done = Counted(), threading.Event()

        def look() -> None:
            before: int | None = None
            while not done.wait(0.005):
                status = self.runner.status()
                if status is None or status.roll_id < 0:
                    continue
                before = status.flagged if before is None else before
                if counted.at is None and (status.flagged > before or status.dropouts):
                    counted.at = monotonic()

        looking = threading.Thread(target=look)
        looking.start()
        try:
            yield counted
        finally:
            done.set()
            looking.join()

    def wait_recording(self) -> None:
        """Wait until a quarter of a second of the first pass has been recorded."""
        folder = self.session / "passes" / PART / "001"

        def there() -> bool:
            takes = list(folder.glob(f"{PART}_*.wav"))
            return any(take.stat().st_size > 4096 + 3 * RATE // 4 for take in takes)

        wait_for(there, "the DI did not roll")

    def passing(self) -> list[str]:
        """Return the command line of a pass."""
        words = ["pass", self.session, "--part", PART, "--chain", CHAIN, "--json"]
        return [str(COMMAND), *map(str, words)]

    def computing(self) -> list[str]:
        """Return the command line of a comparison that takes long."""
        long = self.session.parent / "long.wav"
        soundfile.write(long, np.tile(self.di, 150) / 2.0**23, RATE, "PCM_24")
        return [str(COMMAND), "offset", str(long), str(long), "--json"]

    def told(self, since: float) -> list[Heard]:
        """Return all that was told since a moment."""
        return [h for h in self.heard if h.at >= since]

    def variants(self, since: float) -> list[Variant]:
        """Return the variants of passes that were over since a moment."""
        return [h.one.variant for h in self.told(since) if isinstance(h.one, news.PassDone)]


class Compared(NamedTuple):
    """The reference return of a pass beside what the room gave."""

    frames: int
    """Of the DI, in the file."""
    wrong: int
    """Frames that are not what the room gave."""
    first_wrong_s: float | None


def compare(evening: Evening, variant: Variant) -> Compared:
    """Compare the reference return's file with the DI, frame by frame."""
    path = evening.session / variant.files[0].path
    codes = soundfile.read(path, dtype="int32")[0] >> 8
    late = round(evening.room.round_trip(2)) - variant.shift_frames
    di = np.concatenate((np.zeros(max(0, late), np.int32), evening.di))[max(0, -late) :]
    due = np.zeros(len(codes), np.int32)
    due[: len(di)] = di[: len(codes)]
    wrong = np.flatnonzero(due != codes)
    first = float(wrong[0]) / RATE if len(wrong) else None
    return Compared(min(len(codes), len(di)), len(wrong), first)


@contextmanager
def evening(*, pipewire: bool) -> Iterator[Evening]:
    """Yield an evening whose face has sat down, on JACK or on PipeWire in its place."""
    on = pipewire_server if pipewire else jack_server
    with (
        TemporaryDirectory(prefix="secondpass-bench-") as folder,
        rig.jack_room(rate=RATE, period=PERIOD, paths=PATHS, on=on) as room,
    ):
        os.environ.update(room.env)
        di = write_phrase(Path(folder) / f"{PART}.wav", rate=RATE, seconds=SECONDS, seed=1)
        where = Path(folder) / "session"
        text = room.wiring_text()
        session = create(where, name="evening", song="low water", wiring_text=text)
        session.add_part(source=di, facts=inspect(di), name=PART)
        one = Evening(room, where, soundfile.read(di, dtype="int32")[0] >> 8)
        one.sit_down()
        try:
            yield one
        finally:
            one.leave()


def left_processes(mark: str) -> list[int]:
    """Return the processes of the program that an evening with this mark left running."""
    found = []
    for environ in Path("/proc").glob("[0-9]*/environ"):
        pid = int(environ.parent.name)
        try:
            marked = f"{MARK}={mark}".encode() in environ.read_bytes().split(b"\0")
            command = (environ.parent / "cmdline").read_bytes().split(b"\0")
        except OSError:
            continue
        if marked and any(part.startswith(b"audio.") for part in command):
            found.append(pid)
    return found
