"""A waveform as columns: the lowest and the highest sample in each column of a view.

Everything is arithmetic on what the worker sent; nothing here knows files, widgets or glyphs.
"""

from __future__ import annotations

import math
from array import array

from audio.vocab.requests import CLOSEUP_FRAMES
from audio.vocab.results import Outlines
from tui.present.wave_view import Look

BIN = 16
"""Frames of a closeup that are looked at together where a column has several times as many."""

_ALIGNED = 256
"""A closeup begins at a multiple of this, so that its bins and the columns of any view begin together."""

_MARGIN = 4096
"""Frames fetched on either side of a view at least: a scroll by half a view then finds them there."""

_UNSEEN = 4
"""Bins of a column from which it does not matter that its neighbour shares the last of them."""

_FULL_SCALE = 2.0**15

Column = tuple[float, float] | None
"""Lowest and highest sample, full scale 1.0; None where there is no frame."""


class Closeup:
    """Single samples of a stretch of a file.

    Parameters
    ----------
    at_frame
        The first one's frame, as `wanted` asked for it.
    samples
        As `audio.vocab.work.Samples` brings them.
    """

    def __init__(self, at_frame: int, samples: bytes) -> None:
        self.at_frame = at_frame
        self.samples = memoryview(samples).cast("h")
        one_by_one = self.samples.tolist()
        pieces = [one_by_one[at : at + BIN] for at in range(0, len(one_by_one), BIN)]
        self.lows = memoryview(array("h", map(min, pieces)))
        self.highs = memoryview(array("h", map(max, pieces)))

    def covers(self, look: Look) -> bool:
        """Return whether every frame in view is there."""
        return self.at_frame <= int(look.first) and look.end <= self.at_frame + len(self.samples)


def needs_closeup(outlines: Outlines, look: Look) -> bool:
    """Return whether an outline is too coarse for a view."""
    return look.scale < outlines.levels[0].bin_frames


def wanted(look: Look) -> tuple[int, int] | None:
    """Return first frame and number of frames of the closeup a view needs, some more on either side.

    None where more would be needed than are handed over at once.
    """
    first = int(look.first)
    spare = CLOSEUP_FRAMES - (look.end - first) - _ALIGNED
    if spare < 0:
        return None
    view = int(look.width * look.scale)  # at the file's end less than that may be left to show
    margin = min(max(view, _MARGIN), spare // 2)
    at = max(first - margin, 0) // _ALIGNED * _ALIGNED
    return at, min(look.end + margin, look.frames) - at


def columns(outlines: Outlines, closeup: Closeup | None, look: Look) -> list[Column]:
    """Return what each column of a view shows.

    Parameters
    ----------
    outlines
        Of the file.
    closeup
        Single samples, used where the view is too close for the outline and they cover it.
    look
        The view.

    Returns
    -------
    list of (float, float) or None
        One for each column. Where a frame has several columns, it stands in the first of them and the
        others are at zero; while its closeup is missing, the coarse outline stands in all of them.
    """
    if closeup is None or not needs_closeup(outlines, look) or not closeup.covers(look):
        fitting = [one for one in outlines.levels if _fits(one.bin_frames, look.scale)]
        level = fitting[-1] if fitting else outlines.levels[0]
        lows, highs = memoryview(level.lows).cast("h"), memoryview(level.highs).cast("h")
        return _reduced(look, lows, highs, level.bin_frames, 0)
    if look.scale < 1:
        return _apart(look, closeup)
    if look.scale % BIN:
        return _reduced(look, closeup.samples, closeup.samples, 1, closeup.at_frame)
    return _reduced(look, closeup.lows, closeup.highs, BIN, closeup.at_frame)


def _fits(bin_frames: int, scale: float) -> bool:
    """Return whether columns share no bins, or bins so small that it is not seen."""
    return scale % bin_frames == 0 or scale >= _UNSEEN * bin_frames


def _reduced(
    look: Look, lows: memoryview, highs: memoryview, size: int, origin: int
) -> list[Column]:
    """Return columns from bins of so many frames, the first of which begins at frame `origin`."""
    there = look.filled
    per_column = look.scale / size  # powers of two and whole numbers: exact
    start = (look.first - origin) / size
    base = int(start)
    end = math.ceil(start + there * per_column)
    low_list, high_list = lows[base:end].tolist(), highs[base:end].tolist()
    found: list[Column] = [None] * look.width
    for x in range(there):
        begin = start - base + x * per_column
        first, after = int(begin), math.ceil(begin + per_column)
        low, high = min(low_list[first:after]), max(high_list[first:after])
        found[x] = low / _FULL_SCALE, high / _FULL_SCALE
    return found


def _apart(look: Look, closeup: Closeup) -> list[Column]:
    """Return columns of which only some have a sample."""
    found: list[Column] = [(0.0, 0.0)] * look.filled + [None] * (look.width - look.filled)
    for x in look.single():
        value = closeup.samples[look.frame_at(x) - closeup.at_frame] / _FULL_SCALE
        found[x] = value, value
    return found


def loudest(outlines: Outlines, start_frame: int, end_frame: int) -> float:
    """Return the largest absolute sample of a stretch as far as the outline knows it.

    Parameters
    ----------
    outlines
        Of the file.
    start_frame
        First frame; what lies outside the file counts as silence.
    end_frame
        The frame after the last one.

    Returns
    -------
    float
        0 to 1 · of the stretch and at most one bin before and after it.
    """
    start, end = max(start_frame, 0), min(end_frame, outlines.frames)
    if start >= end:
        return 0.0
    fine = [one for one in outlines.levels if one.bin_frames * 4 <= end - start]
    level = fine[-1] if fine else outlines.levels[0]
    low, high = start // level.bin_frames, -(-end // level.bin_frames)
    lows, highs = memoryview(level.lows).cast("h"), memoryview(level.highs).cast("h")
    lowest, highest = min(lows[low:high]), max(highs[low:high])
    return max(highest, -lowest, 0) / _FULL_SCALE
