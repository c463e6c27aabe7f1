"""Both clicks over each other: alike is one picture, a move is seen, the mark stands at the arrival."""

from __future__ import annotations

import msgspec
import pytest
from evidences import click, full, shape
from hypothesis import example, given, settings
from hypothesis import strategies as st
from invented import RATE
from rich.cells import cell_len
from rich.text import Text

from audio.vocab.results import ClickReading
from tui.present.click_picture import DOT, GUTTER, SPANS_MS, axis, picture, width_of

FILE = full().files[0]
WHOLE_MS = SPANS_MS[0]
FRAMES_PER_VALUE = RATE / 32_000
"""A value of a shape is 1/32 ms."""

drawn_values = st.lists(st.integers(-127, 127), min_size=1, max_size=128).map(tuple)
readings = st.none() | st.builds(
    lambda frames, values: click(frames, drawn=values),
    st.none() | st.floats(0.0, 5_000.0),
    st.just(()) | drawn_values,
)
spans = st.sampled_from(SPANS_MS)


def drawn(
    first: ClickReading | None,
    last: ClickReading | None,
    *,
    columns: int = 80,
    rows: int = 11,
    span_ms: float = WHOLE_MS,
) -> list[Text]:
    return picture(FILE, first, last, rate=RATE, columns=columns, rows=rows, span_ms=span_ms)


def plain(lines: list[Text]) -> list[str]:
    return [line.plain for line in lines]


def shifted(frames: float, values: int) -> ClickReading:
    """Return the same sound as `click(frames, …)`, read as arriving so many values earlier."""
    return click(frames - values * FRAMES_PER_VALUE, drawn=shape(later_ms=values / 32))


@settings(max_examples=60)
@example(first=click(700.0, drawn=()), last=None, columns=44, rows=3, span_ms=4.0)
@example(
    first=click(None, drawn=(0,)), last=click(144.0, drawn=(0,)), columns=44, rows=3, span_ms=4.0
)
@given(
    first=readings,
    last=readings,
    columns=st.integers(40, 200),
    rows=st.sampled_from((3, 5, 7, 15)),
    span_ms=spans,
)
def test_no_row_is_wider_than_the_screen(
    first: ClickReading | None,
    last: ClickReading | None,
    columns: int,
    rows: int,
    span_ms: float,
) -> None:
    lines = drawn(first, last, columns=columns, rows=rows, span_ms=span_ms)
    for line in [*lines, axis(columns, span_ms)]:
        assert cell_len(line.plain) <= columns
        assert line.plain.isprintable()
    has_shape = any(one is not None and one.shape for one in (first, last))
    if columns < 44:
        assert not lines  # narrower than any screen the program draws on
    else:
        assert len(lines) in ((rows, rows + 1) if has_shape else (1,))


@settings(max_examples=50)
@given(values=drawn_values, span_ms=spans, columns=st.integers(44, 200))
def test_identical_clicks_draw_as_one(
    values: tuple[int, ...], span_ms: float, columns: int
) -> None:
    one = click(702.37, drawn=values)
    both = drawn(one, one, columns=columns, span_ms=span_ms)
    assert both == drawn(one, None, columns=columns, span_ms=span_ms)
    assert not any(DOT in line.plain for line in both)


@pytest.mark.parametrize("values", [-6, -1, 1, 5])
@pytest.mark.parametrize("span_ms", SPANS_MS)
def test_the_same_sound_draws_as_one_however_early_its_arrival_was_read(
    values: int, span_ms: float
) -> None:
    lines = drawn(click(702.0, drawn=shape()), shifted(702.0, values), span_ms=span_ms)
    assert not any(DOT in line.plain for line in lines)


@pytest.mark.parametrize("span_ms", SPANS_MS)
def test_a_hundredth_of_a_frame_is_not_seen_and_a_whole_one_is(span_ms: float) -> None:
    first = click(702.0, drawn=shape())
    steady = drawn(first, click(702.01, drawn=shape()), span_ms=span_ms)
    moved = drawn(first, click(703.0, drawn=shape()), span_ms=span_ms)
    assert not any(DOT in line.plain for line in steady)
    assert any(DOT in line.plain for line in moved)


def test_a_closing_click_that_is_turned_over_lies_on_the_other_side() -> None:
    lines = plain(drawn(click(702.0, drawn=shape()), click(702.0, drawn=shape(sign=-1))))
    peak = shape().index(127) // 2 + GUTTER + 1
    below = [y for y, line in enumerate(lines) if line[peak] == DOT]
    assert lines[0][peak] not in (" ", DOT)
    assert below
    assert min(below) > len(lines) // 2


@settings(max_examples=30)
@given(columns=st.integers(44, 200), span_ms=spans)
def test_the_mark_stands_over_the_line_at_the_first_arrival(columns: int, span_ms: float) -> None:
    """A quarter of what is spanned lies before it."""
    at = GUTTER + 1 + width_of(columns) // 4
    assert axis(columns, span_ms).plain.index("▼") == at
    silent = plain(drawn(click(702.0, drawn=(0,) * 128), None, columns=columns, span_ms=span_ms))
    assert [line[at] for line in silent] == ["│"] * 5 + ["┼"] + ["│"] * 5


@pytest.mark.parametrize("span_ms", SPANS_MS)
def test_nothing_is_drawn_before_the_arrival_and_the_peak_stands_where_it_was(
    span_ms: float,
) -> None:
    lines = plain(drawn(click(702.0, drawn=shape()), None, span_ms=span_ms))
    width, middle = width_of(80), len(lines) // 2
    for line in lines[:middle] + lines[middle + 1 :]:
        assert not line[GUTTER + 1 : GUTTER + 1 + width // 4].strip()
    peak_ms = shape().index(127) / 32 - 1.0
    at = GUTTER + 1 + width / 4 + peak_ms / span_ms * width
    tops = [x for x, glyph in enumerate(lines[0]) if glyph not in " │"]
    assert min(tops) - 1 <= at <= max(tops) + 1


def test_a_closing_click_outside_the_picture_is_told_not_left_out() -> None:
    first = click(702.0, drawn=shape())
    for frames, side in ((1_214.0, "right"), (190.0, "left")):
        shown = plain(drawn(first, click(frames, drawn=shape())))
        assert shown[-1].strip() == f"closing click is off to the {side}"
    assert "beyond" not in "".join(plain(drawn(first, click(720.0, drawn=shape()))))


def test_what_has_no_shape_says_why() -> None:
    assert "only hum" in plain(drawn(click(None, reason="only hum"), None))[0]
    assert "no click was played" in plain(drawn(None, None))[0]
    assert "not kept" in plain(drawn(click(702.0), None))[0]


def test_a_closing_click_alone_is_drawn_in_dots() -> None:
    lines = plain(drawn(None, click(702.0, drawn=shape())))
    assert sum(line.count(DOT) for line in lines) > 20


def test_no_room_at_all_draws_nothing() -> None:
    one = click(702.0, drawn=shape())
    assert drawn(one, one, columns=30) == []
    assert axis(30, WHOLE_MS).plain == ""


def test_the_name_in_front_is_anybodys() -> None:
    named = msgspec.structs.replace(FILE, return_name="部屋のマイク、とても長い名前\x1b[2J")
    one = click(702.0, drawn=shape())
    lines = picture(named, one, one, rate=RATE, columns=80, rows=3, span_ms=WHOLE_MS)
    for line in lines:
        assert line.plain.isprintable()
        assert cell_len(line.plain) == cell_len(lines[0].plain)
