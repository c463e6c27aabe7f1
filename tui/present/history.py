"""What has rolled so far, lane by lane, fine enough to be drawn again at any width."""

from __future__ import annotations

import math
from array import array

BINS = 4096
"""Bins over the first span: some twenty for each column of the widest terminal that is likely."""

MOST_BINS = 4 * BINS
"""More than this, and two bins become one: a roll without an end does not fill the memory."""

GROWS_BY = 1.25
"""What goes past the span lengthens it by this."""

WINDOW_S = 0.05
"""A level belongs to this much time before its place: the status block's window."""

_UNREACHED = -1.0


class History:
    """Peaks of several lanes over one time axis.

    The axis grows in steps instead of scrolling: a tail makes the picture step back two or three times,
    while scrolling would move all of it with every column and push the beginning out.

    Parameters
    ----------
    lanes
        How many.
    span_s
        Seconds the axis spans at first; over 0.

    Raises
    ------
    ValueError
        If `span_s` is not a length.
    """

    def __init__(self, *, lanes: int, span_s: float) -> None:
        if not (math.isfinite(span_s) and span_s > 0.0):
            raise ValueError(f"a time axis of {span_s} s; give its length in seconds, over 0")
        self.span_s = span_s
        self._bin_s = span_s / BINS
        self._peaks = [array("f", [_UNREACHED]) * BINS for _ in range(lanes)]
        self._clips = [bytearray(BINS) for _ in range(lanes)]
        self._last: list[int | None] = [None] * lanes

    @property
    def bins(self) -> int:
        """Bins over the present span."""
        return len(self._peaks[0]) if self._peaks else 0

    def reach(self, at_s: float) -> bool:
        """Lengthen the axis until a place lies on it; return whether that was needed."""
        if not (self._peaks and math.isfinite(at_s) and at_s >= self.span_s):
            return False
        while self.span_s <= at_s:
            self.span_s *= GROWS_BY
        more = math.ceil(self.span_s / self._bin_s) - self.bins
        for peaks, clips in zip(self._peaks, self._clips, strict=True):
            peaks.extend(array("f", [_UNREACHED]) * more)
            clips.extend(bytes(more))
        while self.bins > MOST_BINS:
            self._halve()
        return True

    def _halve(self) -> None:
        self._bin_s *= 2.0
        self._peaks = [array("f", map(max, p[::2], _even(p))) for p in self._peaks]
        self._clips = [bytearray(map(max, c[::2], [*c[1::2], 0])) for c in self._clips]
        self._last = [None if last is None else last // 2 for last in self._last]

    def put(self, lane: int, at_s: float, peak: float, *, clipped: bool) -> range:
        """Note a lane's level at its place, filling every bin since its last place.

        Parameters
        ----------
        lane
            From 0.
        at_s
            Seconds from the axis' start; what lies before it or past `span_s` is left out.
        peak
            Linear, of the time since the last place.
        clipped
            Whether a converter clipped in that time.

        Returns
        -------
        range
            Bins that were filled; empty where nothing was noted.
        """
        if not 0.0 <= at_s < self.span_s:
            return range(0)
        here = self._bin(at_s)
        first = self._first(lane, here)
        self._last[lane] = here
        peaks, value = self._peaks[lane], max(0.0, peak)  # in this order NaN is silence
        begun = max(peaks[first], value)
        peaks[first : here + 1] = array("f", [value]) * (here + 1 - first)
        peaks[first] = begun
        if clipped:
            self._clips[lane][first : here + 1] = b"\1" * (here + 1 - first)
        return range(first, here + 1)

    def _bin(self, at_s: float) -> int:
        return min(int(at_s / self._bin_s), self.bins - 1)

    def _first(self, lane: int, here: int) -> int:
        """Return where filling starts; after a jump back or at the first sight, with the level's window."""
        last = self._last[lane]
        window = max(0, here - int(WINDOW_S / self._bin_s))
        return window if last is None or last > here else last

    def column(self, lane: int, x: int, columns: int) -> tuple[float, bool] | None:
        """Return the peak of one of so many columns and whether it clipped; None where nothing was yet."""
        first = -(-x * self.bins // columns)
        past = max(first + 1, -(-(x + 1) * self.bins // columns))
        peak = max(self._peaks[lane][first:past])
        return None if peak < 0.0 else (peak, 1 in self._clips[lane][first:past])

    def place(self, at_s: float, columns: int) -> int | None:
        """Return the column a time lies in; None where it is not on the axis."""
        if not 0.0 <= at_s < self.span_s:
            return None
        return self._bin(at_s) * columns // self.bins

    def over(self, bins: range, columns: int) -> range:
        """Return the columns that some bins lie in."""
        return range(bins.start * columns // self.bins, (bins.stop - 1) * columns // self.bins + 1)


def _even(peaks: array[float]) -> array[float]:
    """Return every second bin, as many as there are first ones."""
    return peaks[1::2] + array("f", [_UNREACHED]) * (len(peaks) % 2)
