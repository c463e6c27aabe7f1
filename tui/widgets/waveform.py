"""A sound file of the session as a waveform: from the whole part down to single samples."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from operator import itemgetter

from rich.style import Style
from textual.events import Click, MouseScrollDown, MouseScrollUp
from textual.message import Message

from audio.grid.bars import BarGrid
from audio.vocab.results import Outlines
from audio.vocab.units import db_from_ratio, signed
from tui.present import wave_cells, waves
from tui.present.bars import Line, lines_in
from tui.present.glyphs import cells_of, cut
from tui.present.looks import ACCENT, FAINT, PLAIN, wrapped_text
from tui.present.ruler import line as ruler_line
from tui.present.wave_view import Look, whole
from tui.present.wave_words import place_words, ruler_ticks, whole_words
from tui.present.waves import Closeup
from tui.widgets.rows import Piece, Rows

SOUND = Style(color="#b4bac2")
LINES = Style(color="#4b525b")
"""Bars, beats and the zero line: there when looked for."""

_LOOKS: dict[wave_cells.Kind, Style] = {
    "sound": SOUND,
    "hanging": SOUND + Style(reverse=True),
    "line": LINES,
    "here": ACCENT,
    "here hanging": ACCENT + Style(reverse=True),
}

MIDDLE = "▾"
"""On the ruler: the frame the words below are about, which a zoom keeps in place."""

LEAST_TOP = 10 ** (-48 / 20)
"""A file is drawn as high as its own peak, but nothing under −48 dBFS: noise alone shall look like it."""


class Waveform(Rows):
    """Ruler, waveform, and a line of words under it; in three rows or more.

    The height is the file's own peak, whatever the view: a quiet DI is seen as well as a loud one, and
    the words tell the level. Everything is asked for by methods; the widget binds no keys. The wheel
    zooms where the pointer is, a click puts the cursor there.
    """

    DEFAULT_CSS = "Waveform { width: 1fr; height: 1fr; min-height: 3; }"

    class Wanted(Message):
        """The view is too close for the outline: somebody may fetch samples for `Waveform.closeup`."""

        def __init__(self, at_frame: int, frames: int) -> None:
            super().__init__()
            self.at_frame = at_frame
            self.frames = frames

    def __init__(self, *, name: str | None = None, id: str | None = None) -> None:  # noqa: A002 - Textual's own name for it
        super().__init__(name=name, id=id)
        self._said = ""
        self._outlines: Outlines | None = None
        self._bars: BarGrid | None = None
        self._closeup: Closeup | None = None
        self._asked: tuple[int, int] | None = None
        self._view: Look | None = None
        self._here: int | None = None
        self._top = 1.0
        self._lines: list[Line] = []
        self._cells: list[list[wave_cells.Cell]] = []

    # ------------------------------------------------------------ what is shown

    def wait(self, words: str) -> None:
        """Show words instead: that the file is being read, or why it cannot be."""
        self._said, self._outlines = words, None
        self._draw()

    def show(self, outlines: Outlines, bars: BarGrid | None = None) -> None:
        """Show a file, the whole of it unless it is the one that was there.

        Parameters
        ----------
        outlines
            As the worker made it.
        bars
            Where its bars lie; None where the tempo is not known.
        """
        before, self._outlines, self._bars = self._outlines, outlines, bars
        if before != outlines:
            self._closeup = self._asked = self._here = self._view = None
            self._top = max(waves.loudest(outlines, 0, outlines.frames), LEAST_TOP)
        self._draw()

    def closeup(self, at_frame: int, samples: bytes) -> None:
        """Take single samples in, from the frame on that `Wanted` told."""
        self._closeup = Closeup(at_frame, samples)
        if self._asked is not None and self._asked[0] == at_frame:  # else another is on its way
            self._asked = None
        self._draw()

    def point(self, frame: int | None) -> None:
        """Put the cursor on a frame, and the frame in view; None takes it away."""
        self._here = frame
        if frame is not None and self._view is not None and self._view.place(frame) is None:
            self._view = self._view.around(frame)
        self._draw()

    # ------------------------------------------------------------ looking

    def zoom(self, steps: int, *, at: int | None = None) -> None:
        """Look closer, or wider where negative.

        Parameters
        ----------
        steps
            Each halves the frames of a column, or doubles them.
        at
            The frame that stays in its column; the cursor, or else the middle, where None.
        """
        if self._view is not None:
            self._move(self._view.zoomed(steps, keep=self._place(self._view) if at is None else at))

    def scroll(self, halves: int) -> None:
        """Move the view on by so many halves of its width, or back where negative."""
        if self._view is not None:
            self._move(self._view.scrolled(halves))

    def whole(self) -> None:
        """Show the whole file."""
        if self._view is not None:
            self._move(whole(self._view.frames, self._view.width))

    @property
    def look(self) -> Look | None:
        """The view; None while there is none."""
        return self._view

    def on_click(self, event: Click) -> None:
        """Put the cursor where the pointer is."""
        if self._view is not None:
            self.point(self._view.frame_at(event.x))

    def on_mouse_scroll_up(self, event: MouseScrollUp) -> None:
        """Look closer at what is under the pointer."""
        self._zoom_at(1, event)

    def on_mouse_scroll_down(self, event: MouseScrollDown) -> None:
        """See more around what is under the pointer."""
        self._zoom_at(-1, event)

    def _zoom_at(self, steps: int, event: MouseScrollUp | MouseScrollDown) -> None:
        event.stop()
        if self._view is not None:
            self.zoom(steps, at=self._view.frame_at(event.x))

    def _move(self, look: Look) -> None:
        if look == self._view:
            return
        self._view = look
        if self._here is not None and look.place(self._here) is None:
            self._here = None
        self._draw()

    def _place(self, look: Look) -> int:
        return look.middle if self._here is None else self._here

    # ------------------------------------------------------------ drawing

    def _draw(self) -> None:
        self.fit()
        self.lay_out()
        self.refresh()

    def lay_out(self) -> None:
        """Work out the view's columns for this size."""
        width, outlines = self.room.width, self._outlines
        self._cells, self._lines = [], []
        if outlines is None or width < 1:
            return
        look = self._view or whole(outlines.frames, width)
        look = self._view = look if look.width == width else look.resized(width)
        self._want(outlines, look)
        rows = wave_cells.lane_rows(max(self.room.height - 2, 0))
        self._lines = lines_in(look, self._bars) if self._bars is not None else []
        if rows > 0:
            drawn = waves.columns(outlines, self._closeup, look)
            self._cells = wave_cells.cells(drawn, rows=rows, top=self._top)
            here = None if self._here is None else look.place(self._here)
            wave_cells.ruled(self._cells, self._lines, single=look.single(), here=here)

    def _want(self, outlines: Outlines, look: Look) -> None:
        """Ask for single samples once, where they are needed and not there."""
        if not waves.needs_closeup(outlines, look):
            self._asked = None
            return
        if self._closeup is not None and self._closeup.covers(look):
            return
        if self._asked is None or not _within(look, *self._asked):
            self._asked = waves.wanted(look)
            if self._asked is not None:
                self.post_message(self.Wanted(*self._asked))

    def row(self, y: int) -> Iterable[Piece]:
        """Return the ruler, a row of the waveform, or the words."""
        width, height = self.room
        if self._outlines is None or self._view is None:
            told = wrapped_text(self._said, width, FAINT)
            return [(told[y].plain, FAINT)] if y < len(told) else []
        if y == height - 1:
            return self._words(self._outlines, self._view)
        if y == 0:
            return self._ruler(self._outlines, self._view)
        if y <= len(self._cells):
            return _pieces(self._cells[y - 1])
        return []

    def _ruler(self, outlines: Outlines, look: Look) -> list[Piece]:
        ticks = ruler_ticks(look, rate=outlines.sample_rate, lines=self._lines)
        x = None if look.is_whole and self._here is None else look.place(self._place(look))
        marks = [] if x is None else [(x, MIDDLE)]
        return [
            (words, ACCENT if is_mark else FAINT)
            for words, is_mark in ruler_line(ticks, marks, look.width)
        ]

    def _words(self, outlines: Outlines, look: Look) -> list[Piece]:
        rate, bars = outlines.sample_rate, self._bars
        if look.is_whole and self._here is None:
            words = whole_words(look, rate=rate, bars=bars)
        else:
            words = place_words(self._place(look), look, rate=rate, bars=bars)
        top = f"top {signed(db_from_ratio(self._top), digits=1)} dBFS"
        gap = look.width - cells_of(words) - cells_of(top)
        end = [(" " * gap + top, FAINT)] if gap > 1 else []
        return [(cut(words, min(cells_of(words), look.width)), PLAIN), *end]


def _pieces(cells: list[wave_cells.Cell]) -> list[Piece]:
    runs = ((kind, [glyph for glyph, _ in run]) for kind, run in groupby(cells, key=itemgetter(1)))
    return [("".join(glyphs), _LOOKS[kind]) for kind, glyphs in runs]


def _within(look: Look, at_frame: int, frames: int) -> bool:
    return at_frame <= int(look.first) and look.end <= at_frame + frames
