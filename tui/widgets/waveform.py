"""A sound file of the session as a waveform: from the whole part down to single samples."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import groupby
from operator import itemgetter

from rich.style import Style
from textual.events import Click, MouseScrollDown, MouseScrollUp
from textual.message import Message

from audio.grid.bars import BarGrid
from audio.vocab.results import Outlines
from audio.vocab.units import db_from_ratio, signed
from tui.present import hit_marks, wave_cells
from tui.present.bars import Line, lines_in
from tui.present.glyphs import cells_of, cut
from tui.present.hit_marks import Mark, marks_row
from tui.present.looks import ACCENT, BAD, FAINT, PLAIN, STRONG, wrapped_text
from tui.present.ruler import line as ruler_line
from tui.present.wave_view import Look, whole
from tui.present.wave_words import place_words, ruler_ticks, whole_words
from tui.widgets.rows import Piece, Rows
from tui.widgets.wave_lane import Lane

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

_MARKS: dict[hit_marks.Kind, Style] = {
    "free": PLAIN,
    "hit": STRONG,
    "stray": FAINT,
    "should": ACCENT,
    "way": LINES,
    "fault": BAD,
}

MIDDLE = "▾"
"""On the ruler: the frame the words below are about, which a zoom keeps in place."""


class Waveform(Rows):
    """Ruler, waveform, and a line of words under it; in three rows or more.

    The height is the file's own peak, whatever the view: a quiet DI is seen as well as a loud one, and
    the words tell the level. Everything is asked for by methods; the widget binds no keys. The wheel
    zooms where the pointer is, a click puts the cursor there.
    """

    DEFAULT_CSS = "Waveform { width: 1fr; height: 1fr; min-height: 3; }"

    class Wanted(Message):
        """The view is too close for the outline: somebody may fetch samples for `Waveform.closeup`."""

        def __init__(self, at_frame: int, frames: int, *, beside: bool) -> None:
            super().__init__()
            self.at_frame = at_frame
            self.frames = frames
            self.beside = beside
            """Of the other file."""

    def __init__(self, *, name: str | None = None, id: str | None = None) -> None:  # noqa: A002 - Textual's own name for it
        super().__init__(name=name, id=id)
        self._said = ""
        self._lane: Lane | None = None
        self._beside: Lane | None = None
        self._bars: BarGrid | None = None
        self._view: Look | None = None
        self._here: int | None = None
        self._lines: list[Line] = []
        self._drawn: list[list[Piece]] = []

    # ------------------------------------------------------------ what is shown

    def wait(self, words: str) -> None:
        """Show words instead: that the file is being read, or why it cannot be."""
        self._said, self._lane = words, None
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
        self._bars = bars
        if self._lane is None or self._lane.outlines != outlines:
            self._lane, self._beside = Lane(outlines), None
            self._here = self._view = None
        self._draw()

    def show_beside(self, outlines: Outlines | None, *, shift: int = 0) -> None:
        """Show another file under the first, or no other any more.

        Parameters
        ----------
        outlines
            As the worker made it; None for none.
        shift
            Frame of the first file beside which the other's first frame lies.
        """
        lane = self._beside
        if outlines is None:
            self._beside = None
        elif lane is None or lane.outlines != outlines or lane.shift != shift:
            self._beside = Lane(outlines, shift=shift)
        self._draw()

    def mark(self, marks: Sequence[Mark], beside: Sequence[Mark] = ()) -> None:
        """Show hits under the file, and under the other one, each in frames of its own."""
        if self._lane is not None:
            self._lane.marks = marks
        if self._beside is not None:
            self._beside.marks = beside
        self._draw()

    def closeup(self, at_frame: int, samples: bytes, *, beside: bool = False) -> None:
        """Take single samples in, from the frame on that `Wanted` told."""
        lane = self._beside if beside else self._lane
        if lane is not None:
            lane.closeup(at_frame, samples)
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

    def look_at(self, frame: int, *, frames: int) -> None:
        """Put the cursor on a frame, and look at so many frames around it."""
        if self._view is None:
            return
        wide = whole(self._view.frames, self._view.width)
        steps = max(0, round(math.log2(wide.scale * wide.width / max(frames, 1))))
        self._view = wide.zoomed(steps, keep=frame).around(frame)
        self._here = frame
        self._draw()

    def whole(self) -> None:
        """Show the whole file."""
        if self._view is not None:
            self._move(whole(self._view.frames, self._view.width))

    @property
    def here(self) -> int:
        """The frame the words are about: the cursor's, or the view's middle; 0 while there is no view."""
        return self._place(self._view) if self._view is not None else 0

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
        width, lane = self.room.width, self._lane
        self._drawn, self._lines = [], []
        if lane is None or width < 1:
            return
        look = self._view or whole(lane.outlines.frames, width)
        look = self._view = look if look.width == width else look.resized(width)
        self._lines = lines_in(look, self._bars) if self._bars is not None else []
        lanes = [one for one in (lane, self._beside) if one is not None]
        rows = max(self.room.height - 2, 0) // len(lanes)
        for one in lanes:
            self._want(one, look)
            self._drawn += self._lane_rows(one, look, rows)

    def _lane_rows(self, lane: Lane, look: Look, rows: int) -> list[list[Piece]]:
        """Return a lane in at most so many rows, its hits in the last of them."""
        marked = bool(lane.marks) and rows > 1
        high = wave_cells.lane_rows(rows - marked)
        if high <= 0:
            return []
        cells = lane.cells(look, rows=high)
        here = None if self._here is None else look.place(self._here)
        wave_cells.ruled(cells, self._lines, single=look.single(), here=here)
        drawn = [_pieces(row) for row in cells]
        return [*drawn, _marked(marks_row(lane.shown_marks(), look))] if marked else drawn

    def _want(self, lane: Lane, look: Look) -> None:
        """Ask for single samples once, where they are needed and not there."""
        asked = lane.wanted(look)
        if asked is not None:
            self.post_message(self.Wanted(*asked, beside=lane is self._beside))

    def row(self, y: int) -> Iterable[Piece]:
        """Return the ruler, a row of the waveform, or the words."""
        width, height = self.room
        if self._lane is None or self._view is None:
            told = wrapped_text(self._said, width, FAINT)
            return [(told[y].plain, FAINT)] if y < len(told) else []
        if y == height - 1:
            return self._words(self._lane, self._view)
        if y == 0:
            return self._ruler(self._lane.outlines, self._view)
        return self._drawn[y - 1] if y <= len(self._drawn) else []

    def _ruler(self, outlines: Outlines, look: Look) -> list[Piece]:
        ticks = ruler_ticks(look, rate=outlines.sample_rate, lines=self._lines)
        x = None if look.is_whole and self._here is None else look.place(self._place(look))
        marks = [] if x is None else [(x, MIDDLE)]
        return [
            (words, ACCENT if is_mark else FAINT)
            for words, is_mark in ruler_line(ticks, marks, look.width)
        ]

    def _words(self, lane: Lane, look: Look) -> list[Piece]:
        rate, bars = lane.outlines.sample_rate, self._bars
        if look.is_whole and self._here is None:
            words = whole_words(look, rate=rate, bars=bars)
        else:
            words = place_words(self._place(look), look, rate=rate, bars=bars)
        top = f"top {signed(db_from_ratio(lane.top), digits=1)} dBFS"
        gap = look.width - cells_of(words) - cells_of(top)
        end = [(" " * gap + top, FAINT)] if gap > 1 else []
        return [(cut(words, min(cells_of(words), look.width)), PLAIN), *end]


def _pieces(cells: list[wave_cells.Cell]) -> list[Piece]:
    runs = ((kind, [glyph for glyph, _ in run]) for kind, run in groupby(cells, key=itemgetter(1)))
    return [("".join(glyphs), _LOOKS[kind]) for kind, glyphs in runs]


def _marked(row: list[hit_marks.Cell]) -> list[Piece]:
    runs = ((kind, [glyph for glyph, _ in run]) for kind, run in groupby(row, key=itemgetter(1)))
    return [("".join(glyphs), _MARKS[kind]) for kind, glyphs in runs]
