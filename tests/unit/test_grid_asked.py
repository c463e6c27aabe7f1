"""What hits are held against, as people type it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typed import titles

from audio.vocab.checked import HitsAsked
from tui.grid_asked import asked_words, grid_problem, read_grid


@pytest.mark.parametrize(
    ("words", "asked"),
    [
        ("", HitsAsked()),
        ("2", HitsAsked(parts=2)),
        (" 2 swung 62 ", HitsAsked(parts=2, swing=0.62)),
        ("4 Swung 57.5 %", HitsAsked(parts=4, swing=0.575)),
        ("own mean", HitsAsked(own_mean=True)),
        ("3 own mean", HitsAsked(parts=3, own_mean=True)),
    ],
)
def test_a_grid_is_read_as_it_is_typed_and_written_as_it_is_read(
    words: str, asked: HitsAsked
) -> None:
    assert read_grid(words) == asked
    assert read_grid(asked_words(asked)) == asked


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("eighths", "no grid"),
        ("5", "1, 2, 3, 4, 6 or 8"),
        ("2 swung 80", "50 %"),
        ("2 swung 40", "50 %"),
        ("3 swung 60", "pairs"),
        ("swung 60", "no grid"),
    ],
)
def test_what_cannot_be_is_told_with_the_way_out(words: str, says: str) -> None:
    assert says in (grid_problem(words) or "")


@given(titles(longest=40) | st.text(max_size=12))
def test_no_words_are_ever_an_error_of_the_program(words: str) -> None:
    problem = grid_problem(words)
    assert problem is None or problem.strip()
