"""A bank of meters: what arrives on each channel now, for wiring and for setting gains."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable

from audio.vocab.status import Meters
from tui.present.glyphs import cells_of, cut
from tui.present.looks import ACCENT, FAINT, HERE, PLAIN
from tui.present.needles import Needle, meter_cells
from tui.widgets.rows import Piece, Rows

LONGEST_BAR = 60
"""A cell for each decibel is enough."""

NAME_SHARE = 3
"""Names take a third of the width at most."""

_MARK = "▸ "
_GAP = "  "
_MARGIN = 1


class Levels(Rows):
    """Name, channel, bar, number and latch of each channel; scrolls to the row of the cursor.

    `clock` gives seconds and never goes back; the bars fall by it.
    """

    DEFAULT_CSS = "Levels { width: 1fr; height: 1fr; }"

    def __init__(
        self,
        *,
        clock: Callable[[], float] = time.monotonic,
        name: str | None = None,
        id: str | None = None,  # noqa: A002 - Textual's own name for it
    ) -> None:
        super().__init__(name=name, id=id)
        self._clock = clock
        self._names: tuple[str, ...] = ()
        self._channels: tuple[str, ...] = ()
        self._needles: list[Needle] = []
        self._drawn: list[object] = []
        self._cursor: int | None = None
        self._first = 0
        self._said = ""
        self._bar = self._name_cells = self._channel_cells = 0

    def show(self, names: tuple[str, ...], channels: tuple[str, ...]) -> None:
        """Show these channels, at rest.

        Parameters
        ----------
        names
            One for each row.
        channels
            As they are to be read, such as ``in 2``; as many.

        Raises
        ------
        ValueError
            If these are not as many.
        """
        if len(names) != len(channels):
            raise ValueError(
                f"{len(names)} names and {len(channels)} channels; give one for each row"
            )
        self._names, self._channels = names, channels
        self._needles = [Needle() for _ in names]
        self._first, self._cursor = 0, None
        self.lay_out()
        self.refresh()

    def advance(self, meters: Meters) -> None:
        """Take levels in, one for each row; only rows that look different are drawn again.

        Parameters
        ----------
        meters
            One picture of the engine; linear.

        Raises
        ------
        ValueError
            If these are not as many as the rows.
        """
        now_s = self._clock()
        for needle, peak, held, clips in zip(
            self._needles, meters.peak, meters.held, meters.clips, strict=True
        ):
            needle.take(peak=peak, held=held, clips=clips, now_s=now_s)
        self._redraw()

    def clear_clips(self) -> None:
        """Let every latch go; each closes again at its next clipped sample."""
        for needle in self._needles:
            needle.clear_clip()
        self._redraw()

    @property
    def cursor(self) -> int | None:
        """The marked row, from 0; None for none. Setting it scrolls there."""
        return self._cursor

    @cursor.setter
    def cursor(self, row: int | None) -> None:
        self._cursor = None if row is None or not self._names else self._nearest(row)
        self.fit()
        self._scroll()
        self.refresh()

    def _nearest(self, row: int) -> int:
        return max(0, min(row, len(self._names) - 1))

    @property
    def clipped(self) -> tuple[int, ...]:
        """Rows whose latch is closed."""
        return tuple(n for n, needle in enumerate(self._needles) if needle.clipped)

    # ------------------------------------------------------------ drawing

    def lay_out(self) -> None:
        """Share the width between name, channel and meter."""
        width = self.room.width
        self._channel_cells = max((cells_of(one) for one in self._channels), default=0)
        longest = max((cells_of(one) for one in self._names), default=0)
        self._name_cells = max(0, min(longest, width // NAME_SHARE))
        rest = width - self._before_bar() - meter_cells(0) - 1 - _MARGIN
        self._bar = max(0, min(rest, LONGEST_BAR))
        self._drawn = [None] * len(self._names)
        self._scroll()

    def _before_bar(self) -> int:
        return len(_MARK) + self._name_cells + len(_GAP) + self._channel_cells + len(_GAP)

    def _page(self) -> int:
        """Return how many rows are in view; where not all are, the last line says which."""
        height = self.room.height
        return height if len(self._names) <= height else max(height - 1, 0)

    def _scroll(self) -> None:
        page, row = self._page(), self._cursor
        if row is not None:
            self._first = min(max(self._first, row - page + 1), row)
        self._first = max(0, min(self._first, len(self._names) - page))

    def _redraw(self) -> None:
        dirty = []
        for y in range(min(self._page(), len(self._names))):
            row = self._first + y
            key = self._needles[row].key(self._bar)
            if key != self._drawn[row]:
                self._drawn[row] = key
                dirty.append(y)
        if len(self._names) > self._page() and self._view() != self._said:
            self._said = self._view()
            dirty.append(self._page())
        self.changed(dirty)

    def _view(self) -> str:
        """Return which rows are in view, and which of the others clipped."""
        past = self._first + self._page()
        words = f"  {self._first + 1}–{past} of {len(self._names)}"
        away = [self._names[n] for n in self.clipped if not self._first <= n < past]
        return words + (f", CLIP: {', '.join(away)}" if away else "")

    def row(self, y: int) -> Iterable[Piece]:
        """Return one channel, or which ones are in view."""
        row = self._first + y
        if y >= self._page():
            return [(cut(self._view(), self.room.width), FAINT)]
        if row >= len(self._names):
            return []
        return [*self._label(row), *self._needles[row].pieces(self._bar)]

    def _label(self, row: int) -> list[Piece]:
        here = row == self._cursor
        mark = (_MARK, ACCENT) if here else (" " * len(_MARK), PLAIN)
        cells = min(cells_of(self._names[row]), self._name_cells)
        name = (cut(self._names[row], cells), HERE if here else PLAIN)
        free = (" " * (self._name_cells - cells) + _GAP, PLAIN)
        channel = (cut(self._channels[row], self._channel_cells) + _GAP, FAINT)
        return [mark, name, free, channel]
