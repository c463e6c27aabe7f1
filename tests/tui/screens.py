"""The whole screen with nobody at it but the test: a session on disk, keys pressed, words read.

The clock of keys and countdown is set by hand: `Seat.press` is a person who takes a second for each key,
`Seat.hold` one who keeps a key down. What an engine or a worker does is waited for, never slept through.
"""

from __future__ import annotations

import asyncio
import gc
import re
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from time import monotonic
from typing import Any, cast

from rich.cells import cell_len
from shown import SIZES, Clock
from textual.drivers.headless_driver import HeadlessDriver
from textual.events import Key, Resize
from textual.geometry import Size
from textual.pilot import Pilot

from audio.jobs.news import News
from audio.jobs.runner import Runner
from audio.plan.path import STAGES, StageName, StageState
from audio.vocab.variant import Variant
from audio.vocab.wiring import SimulatedDevice
from tui.actions import label
from tui.app import Desk
from tui.messages import Told
from tui.settings import Settings

LONGEST_S = 30.0
"""Far more than anything here takes: a test that waits so long has failed."""

REPEAT_S = 0.03
"""Between two presses of a key that is held; keyboards repeat 20 to 40 times a second (common practice)."""

LOOKS = re.compile(r"\x1b\[[0-9;]*m")
"""Colour and weight: ECMA-48, select graphic rendition; all that a row may send besides its words."""

PICTURE_S = 0.02
"""Between two looks at a screen that waits for an engine or a worker."""

KEYS = {"space": " ", "plus": "+", "minus": "-", "comma": ",", "full_stop": "."}
KEYS |= {"question_mark": "?", "equals_sign": "=", "exclamation_mark": "!", "at": "@"}
"""Keys of signs, and what they type."""

CHARACTERS = {character: key for key, character in KEYS.items()}


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
            await self._key(key)

    async def press_named(self, *keys: str) -> None:
        """Press keys one after the other, each once the footer names it: what was asked may go on."""
        for key in keys:
            await self.until(partial(self._names, key), f"the footer never named {key}")
            await self.press(key)

    def _names(self, key: str) -> bool:
        words = (one for one in self.footer.split() if one == label(key) or _is_pair(one))
        return any(label(key) in one for one in words)

    async def hold(self, key: str, times: int) -> None:
        """Keep a key down, so that it repeats so many times."""
        for _ in range(times):
            self.clock.now_s += REPEAT_S
            await self._key(key)

    async def type(self, words: str) -> None:
        """Type words into a line."""
        for character in words:
            await self._key(CHARACTERS.get(character, character))

    async def _key(self, key: str) -> None:
        """Send one key as the terminal's driver would, and let the screen obey it."""
        character = KEYS.get(key, key if len(key) == 1 else None)
        assert self.desk._driver is not None
        self.desk._driver.send_message(Key(key, character))
        await self.settle()

    async def settle(self) -> None:
        """Let every view handle what has come so far; the library's own wait looks at the clock instead."""
        await asyncio.sleep(0)
        for _ in range(3):  # the program, then its view, then what that has told its widgets
            await self.pilot._wait_for_screen()
        if not self.gone:
            self.desk.screen._on_timer_update()

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
            await asyncio.sleep(PICTURE_S)  # all views handle what has come meanwhile
            if not self.gone:
                self.desk.screen._on_timer_update()

    async def sees(self, *wanted: str) -> str:
        """Wait until all of these words stand on the screen; return what stands there, in one line."""
        await self.until(lambda: all(one in self.flow for one in wanted), f"never saw {wanted}")
        return self.flow

    async def reads_on_to(self, *wanted: str) -> None:
        """Press down until these words stand on the screen: what is read may still be growing below."""
        end = monotonic() + LONGEST_S
        while not all(one in self.flow for one in wanted):
            assert monotonic() < end, f"never came to {wanted}\n{self.words}"
            await self.press("down")

    async def told(self, *all_news: News) -> None:
        """Tell the screen something, as the session would, once there is one."""
        await self.until(lambda: self.desk.link.is_up, "nobody came")
        for one in all_news:
            self.desk.post_message(Told(one))
        await self.settle()

    async def walk_to(self, name: StageName) -> None:
        """Walk along the path until the cursor is on a stage."""
        for _ in STAGES:
            here = self.desk.path_screen.here or "DI"
            if here == name:
                return
            step = STAGES.index(name) - STAGES.index(here)
            await self.press("right" if step > 0 else "left")
        raise AssertionError(f"{name} was never reached")

    async def done(self) -> None:
        """Wait until nothing that was asked is under way."""
        await self.until(lambda: not self.desk.model.busy, "it never came to an end")
        await self.settle()

    async def pass_to_its_end(self) -> Variant:
        """Press space, wait for the countdown, the pass and its verdict; return the variant."""
        before = self.desk.model.done
        await self.press("space")
        await self.wait(self.desk.settings.countdown_s)
        await self.until(lambda: self.desk.model.done is not before, "there was no verdict")
        await self.done()
        assert self.desk.model.done is not None
        return self.desk.model.done.variant

    async def fits_everywhere(self) -> None:
        """Claim that what is shown fits at every size, then make the terminal as it was."""
        before = self.desk.size
        for size in (*SIZES, before):
            if self.desk.size != size:
                await self.resize(*size)
            assert_fits(self.desk)

    async def resize(self, columns: int, rows: int) -> None:
        """Make the terminal another size."""
        size = Size(columns, rows)
        cast("HeadlessDriver", self.desk._driver)._size = size
        self.desk.post_message(Resize(size, size))
        # The screen knows its size before its rows are drawn anew.
        await self.until(
            lambda: (
                self.desk.screen.size == size
                and all(cell_len(row) == columns for row in words_of(self.desk))
            ),
            "it was not resized",
        )
        await self.settle()

    @property
    def words(self) -> str:
        """All that stands on the screen, as the terminal would get it."""
        return "\n".join(words_of(self.desk))

    @property
    def flow(self) -> str:
        """All that stands on the screen in one line, single spaces between words."""
        return " ".join(self.words.split())

    @property
    def footer(self) -> str:
        """The keys that the view names."""
        return words_of(self.desk)[-2]

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
    for strip in desk.screen._compositor.render_strips():
        row = strip.text
        assert cell_len(row) == width, f"{cell_len(row)} cells instead of {width}: {row!r}"
        assert row.isprintable(), row
        sent = LOOKS.sub("", strip.render(desk.console))
        assert sent.isprintable(), f"more than looks is sent: {sent!r}"


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
            try:
                yield seat
            finally:
                desk.exit()  # as any program ends; what moves would otherwise draw on what is taken down
    finally:
        gc.unfreeze()  # the program leaves what lives as long as it alone; a test run lives longer


def _is_pair(word: str) -> bool:
    """Return whether a word of the footer is keys that share their words, such as ``←→``."""
    return 2 <= len(word) <= 3 and not word.isalnum()


def _stands(desk: Desk) -> bool:
    model = desk.model
    read = len(model.dis) == len(model.parts())
    wiring = model.wiring()
    simulated = wiring is not None and isinstance(wiring.device, SimulatedDevice)
    return model.ready and read and not model.busy and (model.opened is not None or not simulated)


def play(flow: Coroutine[Any, Any, None]) -> None:
    """Run a flow to its end."""
    asyncio.run(flow)
