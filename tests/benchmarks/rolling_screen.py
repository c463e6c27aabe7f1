"""What is seen while a pass rolls, as an app of its own: sixteen returns, fed thirty times a second."""

from __future__ import annotations

import math
import random
import time

from textual.app import App, ComposeResult
from textual.screen import Screen

from audio.vocab.status import Meters
from audio.vocab.units import clock_time
from tui.widgets.banner import Banner
from tui.widgets.lanes import Lanes

RETURNS = 16
SPAN_S = 40.0
PICTURES_PER_S = 30
NOTE_S = 0.31


class Stage(Screen[None]):
    """Covered by what it shows: nothing of its own is drawn."""

    BLANK = True


class RollingScreen(App[None]):
    """Lanes with meters, and the time left in large letters."""

    CSS = "Banner { height: 3; text-align: right; }"

    def __init__(self, *, moves: bool = True) -> None:
        super().__init__()
        self._moves = moves
        self._pictures = _pictures()
        self._began_s = 0.0

        self._banner, self._lanes = Banner(), Lanes()

    def get_default_screen(self) -> Stage:
        """Return the screen everything stands on."""
        return Stage()

    def compose(self) -> ComposeResult:
        yield self._banner
        yield self._lanes

    def on_mount(self) -> None:
        """Begin a roll and feed it."""
        self._began_s = time.perf_counter()
        self._lanes.begin(
            names=("send", *(f"microphone {n}" for n in range(1, RETURNS + 1))),
            channels=("out 3", *(f"in {n}" for n in range(1, RETURNS + 1))),
            span_s=SPAN_S,
            ticks=tuple((2.5 * bar, str(bar + 1)) for bar in range(int(SPAN_S / 2.5))),
            ahead=lambda from_s, to_s: _played(0.5 * (from_s + to_s)),
        )
        if self._moves:
            self.set_interval(1.0 / PICTURES_PER_S, self._feed)

    def _feed(self) -> None:
        at_s = time.perf_counter() - self._began_s
        levels = self._pictures[int(at_s * PICTURES_PER_S) % len(self._pictures)]
        back_s = at_s - 0.012
        self._lanes.advance(at_s=(at_s, *[back_s] * RETURNS), levels=levels)
        self._banner.say(clock_time(SPAN_S - at_s))


def _played(at_s: float) -> float:
    """Return a plucked string's level: notes of different strength that die away."""
    note, since = divmod(at_s, NOTE_S)
    strength = random.Random(int(note)).uniform(0.05, 0.7)  # noqa: S311 - levels, no secrets
    return strength * math.exp(-4.0 * since)


def _pictures() -> list[Meters]:
    """Return the levels of the whole span, made before anything is measured."""
    noise = random.Random(7)  # noqa: S311 - levels, no secrets
    gains = [1.0, *(noise.uniform(0.05, 0.9) for _ in range(RETURNS))]
    held, pictures = [0.0] * len(gains), []
    for n in range(int(SPAN_S * PICTURES_PER_S)):
        played = _played(n / PICTURES_PER_S)
        peak = tuple(gain * played * noise.uniform(0.8, 1.0) + 1e-4 for gain in gains)
        held = [max(pair) for pair in zip(held, peak, strict=True)]
        rms = tuple(0.4 * one for one in peak)
        pictures.append(Meters(peak, rms, tuple(held), (0,) * len(gains)))
    return pictures


def standing() -> App[None]:
    """Return the same screen with nothing that moves: what the library takes by itself."""
    return RollingScreen(moves=False)
