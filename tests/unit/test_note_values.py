"""Note values at a tempo, and which of them a measured repeat is near."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.grid.note_values import NEAR, nearest, note_values
from audio.verdict.echoes import repeats
from audio.vocab.results import Echo


def ms(name: str, bpm: float) -> float:
    return next(one.ms for one in note_values(bpm) if one.name == name)


@pytest.mark.parametrize(
    ("name", "bpm", "length_ms"),
    [
        # From a MIDI file's tempo: 500 000 µs a quarter is 120 to the minute (Standard MIDI Files 1.0, the
        # default tempo; from memory). 60 000 / bpm is common practice, no source.
        ("quarter", 120, 500.0),
        ("whole", 120, 2000.0),
        ("eighth", 120, 250.0),
        ("dotted eighth", 120, 375.0),
        ("triplet eighth", 120, 500.0 / 3),
        ("dotted eighth", 108, 416.6667),
        ("sixteenth", 90, 166.6667),
        ("thirty-second", 60, 125.0),
    ],
)
def test_a_note_lasts_what_its_tempo_says(name: str, bpm: float, length_ms: float) -> None:
    assert ms(name, bpm) == pytest.approx(length_ms, abs=1e-3)


@given(st.floats(20, 400))
def test_a_bar_is_full_of_any_of_its_notes(bpm: float) -> None:
    whole = ms("whole", bpm)
    assert 8 * ms("eighth", bpm) == pytest.approx(whole)
    assert 12 * ms("triplet eighth", bpm) == pytest.approx(whole)
    assert 2 * ms("dotted eighth", bpm) + ms("eighth", bpm) == pytest.approx(whole / 2)
    assert all(one.hz * one.ms == pytest.approx(1000.0) for one in note_values(bpm))


@given(st.floats(20, 400), st.sampled_from(range(18)), st.floats(-0.9 * NEAR, 0.9 * NEAR))
def test_the_nearest_note_is_one_that_is_near(bpm: float, at: int, off: float) -> None:
    one = note_values(bpm)[at]
    found = nearest(one.ms * (1.0 + off), bpm=bpm)
    assert found is not None
    assert abs(found.ms - one.ms * (1.0 + off)) <= abs(one.ms * off) + 1e-9


def said(repeat_ms: float, bpm: float | None) -> str:
    echo = Echo(repeat_ms=repeat_ms, plus_minus_ms=0.1, level_db=-8.0)
    (one,) = repeats(echo, bpm=bpm)
    assert (one.code, one.weight) == ("echo", "good")
    return one.text


def test_a_repeat_is_told_beside_the_note_it_is_near() -> None:
    text = "repeats every 412.0 ms; a dotted eighth at 108 bpm is 416.7"
    assert said(412.0, 108) == text
    assert said(260.0, 120) == "repeats every 260.0 ms"
    assert said(249.0, 120).endswith("; an eighth at 120 bpm is 250.0")
    assert said(412.0, None) == "repeats every 412.0 ms"
    assert repeats(None, bpm=108) == ()
