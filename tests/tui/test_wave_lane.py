"""A second file under the first one: its frames stand where the first one's view says they lie."""

from __future__ import annotations

import pytest
from checked_di import BIN, outlines
from hypothesis import given
from hypothesis import strategies as st

from tui.present.hit_marks import Mark
from tui.present.wave_view import Look
from tui.widgets.wave_lane import Lane


def heights(lane: Lane, look: Look) -> list[int | None]:
    return [None if one is None else round(one[1] * 2**15) for one in lane._columns(look)]


def test_a_later_file_stands_later_and_an_earlier_one_earlier() -> None:
    look = Look(frames=40 * BIN, width=6, scale=float(BIN), column=2)
    assert heights(Lane(outlines(40 * BIN)), look) == [3, 4, 5, 6, 7, 8]
    later = Lane(outlines(40 * BIN), shift=4 * BIN)
    assert heights(later, look) == [None, None, 1, 2, 3, 4]
    earlier = Lane(outlines(40 * BIN), shift=-4 * BIN)
    assert heights(earlier, look) == [7, 8, 9, 10, 11, 12]


def test_outside_the_file_there_is_nothing() -> None:
    look = Look(frames=40 * BIN, width=6, scale=float(BIN), column=10)
    assert heights(Lane(outlines(4 * BIN)), look) == [None] * 6
    assert heights(Lane(outlines(4 * BIN), shift=100 * BIN), look) == [None] * 6


@given(
    st.integers(1, 60),
    st.integers(1, 40),
    st.integers(-80, 80),
    st.integers(0, 50),
    st.sampled_from([BIN, 2 * BIN, 300]),
)
def test_every_view_has_a_column_for_each_cell(
    bins: int, width: int, shift: int, column: int, scale: int
) -> None:
    look = Look(frames=80 * BIN, width=width, scale=float(scale), column=column)
    lane = Lane(outlines(bins * BIN), shift=shift * BIN)
    assert len(lane._columns(look)) == width
    cells = lane.cells(look, rows=3)
    assert [len(row) for row in cells] == [width] * 3
    lane.wanted(look)


def test_hits_of_a_second_file_are_told_in_frames_of_the_first() -> None:
    lane = Lane(outlines(40 * BIN), shift=100)
    lane.marks = [Mark(7.5, 9.0), Mark(20.0, None, counts=False)]
    assert lane.shown_marks() == [Mark(107.5, 109.0), Mark(120.0, None, counts=False)]


def test_single_samples_are_asked_for_once_and_in_the_files_own_frames() -> None:
    lane = Lane(outlines(400 * BIN), shift=1000)
    close = Look(frames=400 * BIN, width=40, scale=1.0, column=20_000)
    asked = lane.wanted(close)
    assert asked is not None
    at, frames = asked
    assert at <= 19_000
    assert at + frames >= 19_040
    assert lane.wanted(close) is None
    lane.closeup(at, bytes(2 * frames))
    assert lane.wanted(close) is None
    far = Look(frames=400 * BIN, width=40, scale=1.0, column=40_000)
    assert lane.wanted(far) is not None


@pytest.mark.parametrize("shift", [0, 5000])
def test_a_wide_view_needs_no_single_samples(shift: int) -> None:
    lane = Lane(outlines(400 * BIN), shift=shift)
    assert lane.wanted(Look(frames=400 * BIN, width=40, scale=1280.0)) is None
