"""A pass while it rolls: a lane for what is sent, one under it for each return, all on one time axis."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator

from textual.app import ComposeResult
from textual.geometry import Size
from textual.widget import Widget

from audio.vocab.status import Meters
from tui.present.lane_places import places
from tui.present.looks import FAINT, PLAIN
from tui.present.needles import Needle, meter_cells
from tui.present.plain import level
from tui.widgets.axis import Ahead, Axis
from tui.widgets.rows import Piece, Rows

BAR_FROM = 70
"""Narrower than this, the columns need the room: number and latch stay, the bar goes."""

BAR_SHARE = 8
SHORTEST_BAR = 6
"""A bar takes an eighth of the width over 40 cells."""

_GAP = 2
_MARGIN = 1


class Lanes(Widget):
    """Lane 0 is the send; the others are returns, each at its own, already corrected place.

    What is sent next is drawn faint ahead of the playhead; a return has columns only where it came back,
    a row of dots where nothing came, ``×`` on top where its converter clipped.
    `clock` gives seconds and never goes back; the bars fall by it.
    """

    BLANK = True  # its two parts cover it: nothing of its own is drawn

    DEFAULT_CSS = "Lanes { layout: horizontal; width: 1fr; height: 1fr; }"

    def __init__(
        self,
        *,
        clock: Callable[[], float] = time.monotonic,
        name: str | None = None,
        id: str | None = None,  # noqa: A002 - Textual's own name for it
    ) -> None:
        super().__init__(name=name, id=id)
        self._clock = clock
        self._clips: tuple[int, ...] = ()
        self.axis = Axis()
        self.meters = LaneMeters()

    def compose(self) -> ComposeResult:
        """Put the axis left and the meters right: they change at different times."""
        yield self.axis
        yield self.meters

    def begin(
        self,
        *,
        names: tuple[str, ...],
        channels: tuple[str, ...] = (),
        span_s: float,
        ticks: tuple[tuple[float, str], ...] = (),
        ahead: Ahead | None = None,
    ) -> None:
        """Start with empty lanes.

        Parameters
        ----------
        names
            The send's first, then those of the returns.
        channels
            Of the interface, as they are to be read, such as ``out 3``; as many as names, or none.
        span_s
            Seconds from the DI's first frame to its last; what rings on lengthens the axis.
        ticks
            Seconds and labels of the ruler, such as bar numbers, in order.
        ahead
            Gives the linear peak of the DI between two times in seconds; None where it is not known.

        Raises
        ------
        ValueError
            If `span_s` is not a length, there is no lane, or names and channels are not as many.
        """
        if not names:
            raise ValueError("no lanes; a roll has the send at least")
        channels = channels or ("",) * len(names)
        if len(channels) != len(names):
            raise ValueError(
                f"{len(names)} lanes and {len(channels)} channels; give one for each lane"
            )
        self._clips = (0,) * len(names)
        self.meters.begin(len(names))
        self.axis.begin(names=names, channels=channels, span_s=span_s, ticks=ticks, ahead=ahead)

    def advance(self, *, at_s: tuple[float, ...], levels: Meters) -> None:
        """Take in one picture of the engine; cheap enough for thirty a second.

        Parameters
        ----------
        at_s
            Where each lane is, seconds from the DI's first frame; negative in the lead-in.
        levels
            One level for each lane, in the order of `begin`.

        Raises
        ------
        ValueError
            If these are not as many as there are lanes.
        """
        clips = tuple(now > old for now, old in zip(levels.clips, self._clips, strict=True))
        self._clips = levels.clips
        self.axis.advance(at_s, levels.peak, clips)
        self.meters.advance(levels, self._clock())

    def rest(self) -> None:
        """Let the meters fall: nothing is sent and nothing is heard any more."""
        self.meters.rest(self._clock())

    def mark(self, at_s: float, word: str) -> None:
        """Mark a place where frames were lost, seconds from the DI's first frame."""
        self.axis.mark(at_s, word)

    @property
    def words(self) -> str:
        """What stands there, without looks."""
        left, right = self.axis.words.split("\n"), self.meters.words.split("\n")
        width = self.axis.room.width
        return "\n".join(f"{a:<{width}}{b}".rstrip() for a, b in zip(left, right, strict=True))


class LaneMeters(Rows):
    """A meter at the right of each lane."""

    DEFAULT_CSS = "LaneMeters { width: auto; height: 1fr; }"

    def __init__(self) -> None:
        super().__init__()
        self._needles: list[Needle] = []
        self._shown: list[tuple[object, float | None]] = []
        self._places = places(0, 0)
        self._own_rows: list[int] = []
        self._bar = 0

    def get_content_width(self, container: Size, viewport: Size) -> int:  # noqa: ARG002 - as Textual calls it
        """Return the cells of a meter in a window so wide."""
        return _GAP + meter_cells(_bar_cells(container.width)) + _MARGIN

    def begin(self, lanes: int) -> None:
        """Start with meters at rest."""
        self._needles = [Needle() for _ in range(lanes)]
        self.lay_out()
        self.refresh()

    def lay_out(self) -> None:
        """Work out where the meters stand, and how wide their bars are."""
        self._places = places(len(self._needles), self.room.height)
        self._bar = max(self.room.width - _GAP - meter_cells(0) - _MARGIN - 1, 0)
        rows = map(self._places.rows_of, range(self._places.shown))
        self._own_rows = [of_lane[self._places.words_row] for of_lane in rows]
        self._shown = [(None, None)] * len(self._needles)

    def advance(self, levels: Meters, now_s: float) -> None:
        """Take levels in; only what looks different is drawn again."""
        rows = zip(self._needles, levels.peak, levels.held, levels.clips, strict=True)
        for needle, peak, held, clips in rows:
            needle.take(peak=peak, held=held, clips=clips, now_s=now_s)
        self._draw_changed()

    def rest(self, now_s: float) -> None:
        """Let the bars fall: no level comes any more."""
        for needle in self._needles:
            needle.rest(now_s)
        self._draw_changed()

    def _draw_changed(self) -> None:
        dirty: list[int] = []
        for lane, needle in enumerate(self._needles[: self._places.shown]):
            dirty += self._look_again(lane, needle)
        self.changed(dirty)

    def _look_again(self, lane: int, needle: Needle) -> Iterator[int]:
        """Return the rows of a lane in which its meter looks different now, its own or the held level's."""
        key, held = needle.key(self._bar), needle.held_dbfs
        key_shown, held_shown = self._shown[lane]
        if key == key_shown and held == held_shown:
            return
        self._shown[lane] = (key, held)
        own = self._own_rows[lane]
        if key != key_shown:
            yield own
        if held != held_shown and self._places.height > 1:
            yield own + 1

    def row(self, y: int) -> Iterable[Piece]:
        """Return the unit over the numbers, a lane's meter, or under it its largest level."""
        if y == 0 and self._needles:
            return [(" " * self._before(), PLAIN), ("  dBFS", FAINT)]
        lane, inner = self._places.at(y) or (0, -1)
        if inner >= 0 and inner == self._places.words_row:
            return [(" " * _GAP, PLAIN), *self._needles[lane].pieces(self._bar)]
        if inner >= 0 and inner == self._places.words_row + 1:
            return self._held(self._needles[lane])
        return []

    def _before(self) -> int:
        """Return the cells left of the numbers."""
        return max(self.room.width - meter_cells(0) - _MARGIN, 0)

    def _held(self, needle: Needle) -> list[Piece]:
        number = level(needle.held_dbfs)
        before = self._before()
        word = "peak"
        if before < len(word):
            return [(" " * before, PLAIN), (number, FAINT)]
        return [(f"{word:>{before}}", FAINT), (number, FAINT)]


def _bar_cells(width: int) -> int:
    return max((width - 40) // BAR_SHARE, SHORTEST_BAR) if width >= BAR_FROM else 0
