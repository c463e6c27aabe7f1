"""The program itself, playing a pass by itself: what `screen` measures beside the moving parts alone."""

from __future__ import annotations

import asyncio
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from audio.jobs.runner import Runner
from tui.app import Desk
from tui.settings import Settings

RETURNS = 16
LONG_ENOUGH_S = 60.0
EVERY_S = 0.7
"""Longer than a starting key is deaf."""


class Playing(Desk):
    """The screen of a session of its own, on which somebody starts a pass as soon as it can be."""

    def __init__(self, folder: TemporaryDirectory[str], session: Path) -> None:
        super().__init__(lambda: Runner(session, program="benchmark"), settings=Settings())
        self.begins = asyncio.Event()
        """Set when the DI rolls."""
        self._folder = folder

    def on_mount(self) -> None:
        """Press keys from now on until the pass rolls."""
        self._looking = self.set_interval(EVERY_S, self._look)

    def _look(self) -> None:
        model = self.model
        if model.roll is not None and model.roll.what == "pass":
            self.begins.set()
            self._looking.stop()
        elif model.busy or model.countdown_s is not None or not model.ready:
            return
        elif not model.chain and self.path_screen.here == "chain":
            self.simulate_key("down")
        elif model.hindrance() is None:
            self.simulate_key("space")

    def on_unmount(self) -> None:
        """Leave nothing behind."""
        self._folder.cleanup()


def sixteen_returns() -> Playing:
    """Make a session, in a process of its own as that loads what the screen never does, and its screen."""
    folder = TemporaryDirectory(prefix="bench-screen-", ignore_cleanup_errors=True)
    maker: list[Any] = [Path(__file__).with_name("evening.py"), folder.name, RETURNS, LONG_ENOUGH_S]
    subprocess.run([sys.executable, *map(str, maker)], check=True)
    return Playing(folder, Path(folder.name) / "session")
