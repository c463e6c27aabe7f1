"""The plan's screen over a thousand lines, as an app of its own: a key is held, thirty times a second."""

from __future__ import annotations

import asyncio
import sys
from itertools import cycle
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import cast

from msgspec.structs import replace
from textual.events import Key

TESTS = Path(__file__).parents[1]
sys.path += [str(TESTS), str(TESTS / "tui")]

from invented import variant  # noqa: E402 - found by the paths above
from planned import CRUNCH, FUZZ, NAMES, planned  # noqa: E402 - the same
from puppet import Puppet  # noqa: E402 - the same

from audio.jobs.news import Snapshot  # noqa: E402 - the same
from audio.jobs.runner import Runner  # noqa: E402 - the same
from audio.plan.replug import changes  # noqa: E402 - the same
from audio.vocab.plan import PlanLine, PlanNow, Wanted  # noqa: E402 - the same
from audio.vocab.session_file import Part, Revision  # noqa: E402 - the same
from tui.app import Desk  # noqa: E402 - the same
from tui.messages import Told  # noqa: E402 - the same
from tui.settings import Settings  # noqa: E402 - the same

PARTS, CHAINS = 20, 50
"""Their product is how many lines there are."""

REPEATS_PER_S = 30
"""Of a key that is held; keyboards do 20 to 40 (common practice, no source)."""


def plan() -> PlanNow:
    """Return a thousand lines, half of them played."""
    touch = changes(CRUNCH, FUZZ)
    lines = tuple(
        PlanLine(
            wanted=Wanted(key=f"{part}/{chain}", part=f"part {part}", chain=f"chain {chain}"),
            song=NAMES.song,
            touch=touch if part == 0 else (),
            state="done" if chain % 2 else "to do",
            number=chain + 1 if chain % 2 else None,
            verdict="good" if chain % 2 else None,
            took_s=75.0 if chain % 2 else None,
        )
        for chain in range(CHAINS)
        for part in range(PARTS)
    )
    return PlanNow(lines=lines, cost=400.0, written_cost=900.0, exact=False)


def session(one: Snapshot) -> Snapshot:
    """Return a session with all those parts, and a variant for each line."""
    revision = Revision(file="di/a.wav", file_sha256="ab" * 32)
    parts = tuple(Part(name=f"part {n}", revisions=(revision,)) for n in range(PARTS))
    song = replace(one.file.songs[0], parts=parts)
    usual = variant(NAMES, 1)
    variants = tuple(
        replace(
            usual,
            part=f"part {part}",
            number=chain + 1,
            chain=replace(usual.chain, name=f"chain {chain}"),
        )
        for part in range(PARTS)
        for chain in range(CHAINS)
    )
    return replace(
        one, file=replace(one.file, songs=(song,)), variants=variants, broken=(), plan=plan()
    )


class ScrolledPlan(Desk):
    """The program at its plan, its keys pressed by nobody."""

    def __init__(self, first: str, *keys: str) -> None:
        self._folder = TemporaryDirectory(prefix="secondpass-plan-")
        puppet = Puppet(Path(self._folder.name))
        super().__init__(lambda: cast("Runner", puppet), settings=Settings())
        self.begins = asyncio.Event()
        self._first, self._held = first, cycle(keys)

    def on_mount(self) -> None:  # Textual calls the program's own besides
        """Show the plan as soon as there is a session."""
        self._waits = self.set_interval(0.05, self._show)

    def _show(self) -> None:
        if not self.link.is_up:
            return
        self._waits.stop()
        for one in planned():
            self.post_message(Told(session(one) if isinstance(one, Snapshot) else one))
        self.set_timer(0.5, self._begin)

    def _begin(self) -> None:
        self.show_plan()
        self.set_timer(0.2, self._first_key)

    def _first_key(self) -> None:
        self._press(self._first)
        self.set_interval(1 / REPEATS_PER_S, self._hold)
        self.begins.set()

    def _hold(self) -> None:
        self._press(next(self._held))

    def _press(self, key: str) -> None:
        if self._driver is not None:
            self._driver.send_message(Key(key, None))


def by_lines() -> ScrolledPlan:
    """Return the plan, walked down line by line."""
    return ScrolledPlan("down", "down")


def by_pages() -> ScrolledPlan:
    """Return the plan, paged to its end and back."""
    return ScrolledPlan("down", *["pagedown"] * 20, *["pageup"] * 20)


def coverage() -> ScrolledPlan:
    """Return the table of parts and chains, walked to its right end and back."""
    return ScrolledPlan("u", *["right"] * CHAINS, *["left"] * CHAINS)
