"""A session at the desk with nobody at it but a test: orders put in, news waited for, moments acted on.

News come through a queue with a time limit; what another process does is waited for, never slept
through. `Sitting.when` acts inside the runner's own thread, so that a moment is exactly that moment.
"""

from __future__ import annotations

import json
import os
import queue
import subprocess
import threading
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

from accidents import is_gone, wait_for
from playing import write_phrase

from audio.files.inspect import inspect
from audio.jobs import news
from audio.jobs.news import News
from audio.jobs.orders import Asked, Looked, OpenStream, RunPass
from audio.jobs.runner import Runner
from audio.session.folder import create, open_session
from audio.session.passes import unfinished
from audio.vocab.wiring import Amp, Microphone, Return, SimulatedDevice, Wiring
from audio.vocab.wiring_text import wiring_text

RATE = 44_100
LIMIT_S = 30.0
"""Far more than anything here takes: a test that waits so long has failed."""

ECHO = ({"kind": "echo", "ms": 400.0, "feedback": 0.97, "mix": 0.6},)
"""Rings for a minute."""

PROGRAM = "secondpass open"
N = TypeVar("N")


def wired(
    *, pace: str = "free", name: str = "tracking room", tail_s: float = 60.0, **device: Any
) -> Wiring:
    """Return a wiring of a simulated room without pedals, plain and nearly silent."""
    usual: dict[str, Any] = {
        "pace": pace,
        "inputs": 4,
        "outputs": 4,
        "amp": Amp(clean=True),
        "microphones": (Microphone(input=2, cabinet="none"),),
        "noise_dbfs": -90.0,
        "chains": {"echo": ECHO},
    }
    return Wiring(
        name=name,
        device=SimulatedDevice(**(usual | device)),
        sample_rate=RATE,
        send_output=3,
        returns=(Return("close", 2),),
        reference="close",
        block_frames=2048,
        tail_s=tail_s,
    )


def make_session(folder: Path, *, pace: str = "free", **seconds: float) -> Path:
    """Make a session whose parts are real playing of so many seconds each; return its folder."""
    where = folder / "evening"
    session = create(
        where, name="evening", song="low water", wiring_text=wiring_text(wired(pace=pace))
    )
    for seed, (part, length) in enumerate(seconds.items(), start=3):
        di = write_phrase(folder / f"{part}.wav", rate=RATE, seconds=length, seed=seed)
        session = session.add_part(source=di, facts=inspect(di), name=part)
    return where


class Sitting:
    """A runner, what it told, and what is done at certain moments."""

    def __init__(self, folder: Path, *, started: bool = True) -> None:
        self.folder = folder
        self._before = children()
        self.runner = Runner(folder, program=PROGRAM)
        self._news: queue.SimpleQueue[News] = queue.SimpleQueue()
        self._moments: list[tuple[Callable[[News], bool], tuple[Callable[[], object], ...]]] = []
        self.heard: list[News] = []
        if started:
            self.start()

    def start(self) -> None:
        self.runner.start(self._tell)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.runner.close()

    def _tell(self, one: News) -> None:
        self._news.put(one)
        for moment in list(self._moments):
            if moment[0](one):
                self._moments.remove(moment)
                for do in moment[1]:
                    do()

    def when(self, right: Callable[[News], bool], *do: Callable[[], object]) -> None:
        """Do something once, in the runner's thread, when a piece of news is told."""
        self._moments.append((right, do))

    def forget_moments(self) -> None:
        """Do nothing of what did not come to be."""
        self._moments.clear()

    def next(self) -> News:
        one = self._news.get(timeout=LIMIT_S)
        self.heard.append(one)
        return one

    def until(self, kind: type[N], right: Callable[[N], bool] = lambda _: True) -> N:
        """Return the next news of a kind."""
        while True:
            one = self.next()
            if isinstance(one, kind) and right(one):
                return one

    def to_idle(self) -> list[News]:
        """Return everything told until the order under way is over."""
        told: list[News] = []
        while not told or not isinstance(told[-1], news.Idle):
            told.append(self.next())
        return told

    def obeyed(self, asked: Asked) -> list[News]:
        """Put an order in; return what was told until it was over."""
        self.runner.ask(asked)
        return self.to_idle()

    def opened(self) -> Self:
        """Open the stream."""
        assert news.StreamOpened in kinds(self.obeyed(OpenStream()))
        return self

    def passed(self, chain: str = "plain", part: str = "riff") -> news.PassDone:
        """Run a pass that leaves a variant."""
        return only(self.obeyed(RunPass(part=part, chain=chain)), news.PassDone)

    def looked(self, looked: Looked, kind: type[N]) -> N:
        """Ask beside what goes on."""
        self.runner.look(looked)
        return self.until(kind)

    # ------------------------------------------------------------ what is under way

    @property
    def engine_pid(self) -> int:
        assert self.runner._deck is not None
        return self.runner._deck.engine_pid

    @property
    def roll_number(self) -> int:
        """Number of the latest roll, as the engine's status tells it."""
        assert self.runner._deck is not None
        return self.runner._deck._rolls

    def wait_recorded(self, number: int = 1, *, seconds: float = 2.0) -> None:
        """Wait until so much of the DI has come back."""
        wait_for(lambda: self.recorded(number) > seconds, "the DI did not roll")

    def recorded(self, number: int) -> float:
        """Return how many seconds of a pass are on disk."""
        return recorded(self.folder, number)

    def take(self, number: int, part: str = "riff") -> Path:
        return self.folder / "passes" / part / f"{number:03d}"

    def variant(self, number: int, part: str = "riff") -> dict[str, Any]:
        value: dict[str, Any] = json.loads((self.take(number, part) / "variant.json").read_text())
        return value

    def events(self, event: str) -> list[int]:
        """Return the numbers of the passes the journal has such a line of."""
        lines = (self.folder / "journal.jsonl").read_text().splitlines()
        return [line["number"] for line in map(json.loads, lines) if line["event"] == event]

    def is_settled(self) -> bool:
        """Return whether every number is either a variant or noted as empty."""
        return unfinished(open_session(self.folder)) == ()

    def nothing_sounds(self) -> bool:
        """Return whether no roll is under way; without one every output carries zeros."""
        status = self.runner.status()
        return status is None or status.roll_id == -1

    def new_children(self) -> set[int]:
        """Return the processes started since the sitting began that still run."""
        return {pid for pid in children() - self._before if not is_gone(pid)}


def recorded(folder: Path, number: int) -> float:
    """Return how many seconds of a pass of the riff are on disk."""
    files = list((folder / "passes" / "riff" / f"{number:03d}").glob("riff_*.wav"))
    return (files[0].stat().st_size - 4096) / 3 / RATE if files else 0.0


def children() -> set[int]:
    """Return the processes this one has started that still run; dead ones count as gone."""
    asked = subprocess.run(
        ["pgrep", "-P", str(os.getpid())], capture_output=True, text=True, check=False
    )
    return {int(pid) for pid in asked.stdout.split() if not is_gone(int(pid))}


def threads() -> list[str]:
    """Return the names of the threads a runner may leave."""
    ours = ("runner", "looking", "engine events", "worker answers")
    return [one.name for one in threading.enumerate() if one.name in ours]


def begins(what: str, *, nth: int = 1) -> Callable[[News], bool]:
    """Return whether news say that a roll of a kind begins, for the nth time."""
    left = [nth]

    def right(one: News) -> bool:
        if isinstance(one, news.RollBegins) and one.roll.what == what:
            left[0] -= 1
            return left[0] == 0
        return False

    return right


def kinds(told: list[News]) -> list[type[News]]:
    return [type(one) for one in told]


def only(told: list[News], kind: type[N]) -> N:
    """Return the one piece of news of a kind."""
    found = [one for one in told if isinstance(one, kind)]
    assert len(found) == 1, told
    return found[0]
