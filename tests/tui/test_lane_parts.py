"""What lanes are made of, without a screen: the history, their places, the ruler, one column."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len
from shown import HOSTILE

from tui.present.glyphs import BASELINE, CLIPPED, column
from tui.present.history import BINS, MOST_BINS, History
from tui.present.lane_places import places
from tui.present.ruler import line, marked, thinned


@given(
    steps_s=st.lists(st.floats(0.0, 0.4), min_size=1, max_size=60),
    columns=st.integers(1, 300),
)
def test_a_history_leaves_no_column_out_between_two_places(
    steps_s: list[float], columns: int
) -> None:
    history = History(lanes=1, span_s=5.0)
    at = 0.0
    for n, step in enumerate(steps_s):
        at += step
        history.reach(at)
        history.put(0, at, 0.25 + n / 1000.0, clipped=False)
    first, last = history.place(steps_s[0], columns), history.place(at, columns)
    assert first is not None
    assert last is not None
    assert all(history.column(0, x, columns) is not None for x in range(first, last + 1))
    assert max(found[0] for x in range(columns) if (found := history.column(0, x, columns))) == (
        pytest.approx(0.25 + (len(steps_s) - 1) / 1000.0)
    )


def test_a_roll_without_an_end_keeps_its_memory_and_its_peaks() -> None:
    history = History(lanes=1, span_s=1.0)
    for n in range(3000):
        history.reach(n * 0.5)
        history.put(0, n * 0.5, 0.9 if n == 100 else 0.1, clipped=n == 100)
    assert BINS <= history.bins <= MOST_BINS
    loud = [x for x in range(300) if history.column(0, x, 300) == (pytest.approx(0.9), True)]
    assert loud
    assert loud[0] * history.span_s / 300 == pytest.approx(50.0, abs=history.span_s / 150)


def test_a_level_that_is_no_number_is_silence() -> None:
    history = History(lanes=1, span_s=1.0)
    history.put(0, 0.5, float("nan"), clipped=False)
    assert history.column(0, 5, 10) == (0.0, False)


@given(lanes=st.integers(0, 64), rows=st.integers(0, 80))
def test_lanes_stand_inside_the_rows_and_never_over_each_other(lanes: int, rows: int) -> None:
    stand = places(lanes, rows)
    taken = [y for lane in range(stand.shown) for y in stand.rows_of(lane)]
    assert len(taken) == len(set(taken)) == stand.shown * stand.height
    assert all(0 < y < rows and y != stand.more_row for y in taken)
    assert stand.shown == lanes or (stand.more_row is not None or rows < 2)
    assert all(stand.at(y) == (n // stand.height, n % stand.height) for n, y in enumerate(taken))


@given(count=st.integers(1, 200), columns=st.integers(1, 200))
def test_ruler_labels_never_touch(count: int, columns: int) -> None:
    ticks = [(n * columns // count, str(n + 1)) for n in range(count)]
    shown = thinned(ticks, columns)
    ends = [x + len(words) for x, words in shown]
    assert all(x >= end + 2 for (x, _), end in zip(shown[1:], ends, strict=False))
    assert all(end <= columns for end in ends)


@given(
    ticks=st.lists(st.integers(0, 99), unique=True, max_size=30).map(sorted),
    lost=st.lists(st.tuples(st.integers(0, 99), st.sampled_from(["lost", *HOSTILE])), max_size=12),
)
def test_every_lost_place_is_on_the_ruler_and_the_ruler_keeps_its_width(
    ticks: list[int], lost: list[tuple[int, str]]
) -> None:
    marks = marked(lost, 100)
    assert [x for x, _ in marks] == sorted({x for x, _ in lost})
    pieces = line(thinned([(x, str(x)) for x in ticks], 100), marks, 100)
    assert sum(cell_len(words) for words, _ in pieces) == 100


def test_a_column_fills_from_the_bottom_and_a_clip_sits_on_top() -> None:
    assert column(0, 3, empty=BASELINE) == f"  {BASELINE}"
    assert column(9, 2) == "▁█"
    assert column(24, 3) == "███"
    assert column(24, 3, clipped=True) == f"{CLIPPED}██"
