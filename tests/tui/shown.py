"""One widget alone on a screen, and what a terminal would get of it."""

from __future__ import annotations

import unicodedata

from rich.cells import cell_len
from textual.app import App, ComposeResult
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from audio.vocab.status import Meters

SIZES = ((80, 24), (120, 40), (200, 60))

HOSTILE = (
    "[b]bold[/b] [/] [@click=app.quit]x[/]",
    "[link=https://example.org]close[/link]",
    "\x1b[2Jclear\x07\x1b]0;title\x07",
    "\N{RIGHT-TO-LEFT OVERRIDE}gnorw \N{HEBREW LETTER ALEF}\N{HEBREW LETTER BET}",
    "部屋のマイク、とても長い名前",
    "e\N{COMBINING ACUTE ACCENT}\N{ZERO WIDTH JOINER}\N{COMBINING ACUTE ACCENT}",
    "x" * 200,
    "",
)
"""Names as somebody may type them, or as a file may carry them."""


class Alone(App[None]):
    """Shows one widget over the whole screen."""

    def __init__(self, widget: Widget) -> None:
        super().__init__()
        self.widget = widget

    def compose(self) -> ComposeResult:
        yield self.widget


def strips(widget: Widget) -> list[Strip]:
    """Return what a widget gives the compositor."""
    return widget.render_lines(Region(0, 0, *widget.size))


def assert_fills(widget: Widget) -> None:
    """Claim that every row is exactly as wide as the widget, styled, and cannot steer a terminal."""
    shown = strips(widget)
    assert len(shown) == widget.size.height
    for strip in shown:
        assert sum(cell_len(segment.text) for segment in strip) == widget.size.width
        assert all(segment.style is not None for segment in strip)
        controls = [c for c in strip.text if unicodedata.category(c) in ("Cc", "Cf")]
        assert not controls


def levels(*peaks: float, held: tuple[float, ...] = (), clips: tuple[int, ...] = ()) -> Meters:
    """Return a row of levels; what is left out follows from the peaks."""
    return Meters(peaks, peaks, held or peaks, clips or (0,) * len(peaks))


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        return self.now_s
