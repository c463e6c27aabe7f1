"""Hits under a waveform: where they are, where they should be, and the way between."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from tui.present.hit_marks import FAULT, HIT, ON, SHOULD, STRAY, WAY, Mark, marks_row
from tui.present.wave_view import Look

LOOK = Look(frames=1000, width=20, scale=8.0)


def drawn(*marks: Mark, look: Look = LOOK) -> str:
    return "".join(glyph for glyph, _ in marks_row(marks, look)).rstrip()


def test_a_late_hit_stands_behind_its_place_and_an_early_one_ahead() -> None:
    assert drawn(Mark(40.0, 8.0)) == f" {SHOULD}{WAY * 3}{HIT}"
    assert drawn(Mark(8.0, 40.0)) == f" {HIT}{WAY * 3}{SHOULD}"


def test_a_hit_on_its_place_is_one_shape_and_one_without_a_place_another() -> None:
    assert drawn(Mark(9.0, 12.0)) == f" {ON}"
    assert drawn(Mark(9.0)) == f" {HIT}"
    assert drawn(Mark(9.0, counts=False)) == f" {STRAY}"


def test_a_finding_is_seen_over_everything_else() -> None:
    hit, fault = Mark(40.0, 8.0), Mark(41.0, fault=True)
    assert drawn(fault, hit) == drawn(hit, fault) == f" {SHOULD}{WAY * 3}{FAULT}"


def test_what_is_out_of_view_is_not_drawn_but_its_way_into_it_is() -> None:
    look = Look(frames=1000, width=20, scale=8.0, column=10)
    assert drawn(Mark(8.0, 16.0), look=look) == ""
    assert drawn(Mark(96.0, 16.0), look=look) == f"{WAY * 2}{HIT}"


marks = st.builds(
    Mark,
    st.floats(0, 999),
    st.none() | st.floats(-500, 1500),
    st.booleans(),
)


@given(st.lists(marks, max_size=12), st.integers(1, 60), st.sampled_from([0.125, 1.0, 7.0, 64.0]))
def test_a_row_has_a_cell_for_each_column_and_hides_no_hit(
    found: list[Mark], width: int, scale: float
) -> None:
    look = Look(frames=1000, width=width, scale=scale)
    row = marks_row(found, look)
    assert len(row) == width
    for one in found:
        x = look.place(int(one.frame))
        assert x is None or row[x][1] in ("hit", "stray")
