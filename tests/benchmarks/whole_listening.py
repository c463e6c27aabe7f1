"""The program itself, listening to a session by itself: what `screen` measures of its face."""

from __future__ import annotations

import asyncio
import os
import random
from pathlib import Path

from audio.jobs.runner import Runner
from tui.app import Desk
from tui.screens.listening import ListeningScreen
from tui.settings import Settings

SESSION = "SECONDPASS_BENCH_SESSION"
"""Names the session's folder in the environment."""

EVERY_S = 0.7
"""Longer than a starting key is deaf."""

FLIP_S = 0.35
KEYS = ("down", "up", "down", "down", "up")


class Listening(Desk):
    """The screen of a session, on which somebody listens as soon as that can be, and flips."""

    def __init__(self, session: Path) -> None:
        super().__init__(lambda: Runner(session, program="benchmark"), settings=Settings())
        self.begins = asyncio.Event()
        """Set when all is matched: from then on only the face has work."""
        self._draw = random.Random(1)  # noqa: S311 - no secrets

    def on_mount(self) -> None:
        """Press keys from now on."""
        self._looking = self.set_interval(EVERY_S, self._look)

    def _look(self) -> None:
        model = self.model
        if model.doing == "sounds":
            self._looking.stop()
            self.set_interval(FLIP_S, self._flip)
        elif model.busy or not model.ready or model.opened is None:
            return
        elif not isinstance(self.screen, ListeningScreen):
            self.show_listening()
        else:
            self.simulate_key("space")

    def _flip(self) -> None:
        screen = self.screen
        now = screen.now() if isinstance(screen, ListeningScreen) else None
        if now is not None and now.measured:
            self.begins.set()
        self.simulate_key(self._draw.choice(KEYS))


def many_sounds() -> Listening:
    """Return the screen of the session that the environment names."""
    return Listening(Path(os.environ[SESSION]))
