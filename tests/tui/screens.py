"""The whole screen with nobody at it but the test: a session on disk, keys pressed, words read.

The clock of keys and countdown is set by hand: `Seat.press` is a person who takes a second for each key,
`Seat.hold` one who keeps a key down. What an engine or a worker does is waited for, never slept through.
"""

from __future__ import annotations

import asyncio
import gc
import unicodedata
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from typing import Any

from playing import write_phrase
from rich.cells import cell_len
from shown import Clock
from textual.pilot import Pilot

from audio.files.inspect import inspect
from audio.jobs.runner import Runner
from audio.plan.path import StageState
from audio.session.folder import create
from audio.session.opened import Session
from audio.vocab.wiring import Microphone, Return, SimulatedDevice, Wiring
from audio.vocab.wiring_text import wiring_text
from tui.app import Desk
from tui.settings import Settings

RATE = 44_100
LONGEST_S = 30.0
"""Far more than anything here takes: a test that waits so long has failed."""

REPEAT_S = 0.03
"""Between two presses of a key that is held; keyboards repeat 20 to 40 times a second (common practice)."""

MICROPHONES = (
    Microphone(input=2, cabinet="none"),
    Microphone(input=3, cabinet="none", distance_cm=150),
)
RETURNS = (Return("close", 2), Return("room", 3))


def room(**fields: Any) -> SimulatedDevice:
    """Return a simulated room; as fast as the machine can, unless told otherwise."""
    usual: dict[str, Any] = {
        "pace": "free",
        "inputs": 4,
        "outputs": 4,
        "microphones": MICROPHONES,
        "noise_dbfs": -90.0,
    }
    return SimulatedDevice(**(usual | fields))


def wired(device: SimulatedDevice | None = None, **fields: Any) -> Wiring:
    """Return a wiring of the simulated room."""
    usual: dict[str, Any] = {
        "name": "tracking room",
        "device": device or room(),
        "sample_rate": RATE,
        "send_output": 3,
        "returns": RETURNS,
        "reference": "close",
        "tail_s": 2.0,
    }
    return Wiring(**(usual | fields))


def make_session(
    folder: Path,
    *,
    wiring: Wiring | None,
    parts: tuple[str, ...] = ("riff",),
    seconds: float = 2.0,
    rate: int = RATE,
    name: str = "harbour lights",
    song: str = "low water",
) -> Session:
    """Make a session at 96 bpm whose parts are real playing, with or without a wiring."""
    text = None if wiring is None else wiring_text(wiring)
    where = folder / "evening"
    session = create(where, name=name, song=song, bpm=96.0, metre="4/4", wiring_text=text)
    for seed, part in enumerate(parts, start=3):
        di = write_phrase(folder / f"{seed}.wav", rate=rate, seconds=seconds, seed=seed)
        session = session.add_part(source=di, facts=inspect(di), name=part)
    return session


@dataclass(slots=True)
class Seat:
    """Somebody at the screen."""

    desk: Desk
    pilot: Pilot[Any]
    clock: Clock

    async def press(self, *keys: str) -> None:
        """Press keys one after the other, a second apart."""
        for key in keys:
            self.clock.now_s += 1.0
            await self.pilot.press(key)

    async def hold(self, key: str, times: int) -> None:
        """Keep a key down, so that it repeats so many times."""
        for _ in range(times):
            self.clock.now_s += REPEAT_S
            await self.pilot.press(key)

    async def type(self, words: str) -> None:
        """Type words into a line."""
        for character in words:
            await self.pilot.press(character)

    async def wait(self, seconds: float) -> None:
        """Let the clock of keys and countdown run, and the screen see it."""
        self.clock.now_s += seconds
        pictures = self.desk._pictures
        await self.until(lambda: self.desk._pictures > pictures, "no picture was drawn")

    async def until(self, right: Callable[[], object], why: str = "") -> None:
        """Let the screen go on until something is right; fail with what stands there when it never is."""
        end = monotonic() + LONGEST_S
        while not right():
            assert self.desk._exception is None, self.desk._exception
            assert monotonic() < end, f"{why}\n{self.words}"
            await self.pilot.pause(0.01)

    async def sees(self, *wanted: str) -> str:
        """Wait until all of these words stand on the screen; return everything that stands there."""
        await self.until(lambda: all(one in self.words for one in wanted), f"never saw {wanted}")
        return self.words

    async def resize(self, columns: int, rows: int) -> None:
        """Make the terminal another size."""
        await self.pilot.resize_terminal(columns, rows)
        await self.until(lambda: self.desk.screen.size == (columns, rows), "it was not resized")
        await self.pilot.pause()

    @property
    def words(self) -> str:
        """All that stands on the screen, as the terminal would get it."""
        return "\n".join(words_of(self.desk))

    @property
    def states(self) -> dict[str, StageState]:
        """The state of each stage."""
        return {one.name: one.state for one in self.desk.model.path()}

    @property
    def gone(self) -> bool:
        """Whether the program has ended."""
        return not self.desk.is_running or self.desk._exit


def words_of(desk: Desk) -> list[str]:
    """Return the rows of the screen without looks, taken where the terminal would get them."""
    return [strip.text for strip in desk.screen._compositor.render_strips()]


def assert_fits(desk: Desk) -> None:
    """Claim that every row fills the screen to its last cell and no further, and steers no terminal."""
    width = desk.size.width
    for row in words_of(desk):
        assert cell_len(row) == width, f"{cell_len(row)} cells instead of {width}: {row!r}"
        assert not [c for c in row if unicodedata.category(c) in ("Cc", "Cf", "Zl", "Zp")], row


@asynccontextmanager
async def seated(
    folder: Path,
    *,
    size: tuple[int, int] = (80, 24),
    settings: Settings | None = None,
    bring: Callable[[], Runner] | None = None,
    ready: bool = True,
) -> AsyncIterator[Seat]:
    """Open a session on the screen; wait until it stands and its DIs are read, unless told not to."""
    clock = Clock()
    fetched = bring or (lambda: Runner(folder, program="secondpass open"))
    desk = Desk(fetched, settings=settings or Settings(), clock=clock)
    try:
        async with desk.run_test(size=size) as pilot:
            seat = Seat(desk, pilot, clock)
            if ready:
                await seat.until(lambda: _stands(desk), "the session never stood")
            yield seat
    finally:
        gc.unfreeze()  # the program leaves what lives as long as it alone; a test run lives longer


def _stands(desk: Desk) -> bool:
    model = desk.model
    read = len(model.dis) == len(model.parts())
    wiring = model.wiring()
    simulated = wiring is not None and isinstance(wiring.device, SimulatedDevice)
    return model.ready and read and not model.busy and (model.opened is not None or not simulated)


def play(flow: Coroutine[Any, Any, None]) -> None:
    """Run a flow to its end."""
    asyncio.run(flow)
