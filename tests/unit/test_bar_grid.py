"""Bars and beats where tempo and metre change: exact, against sums written another way."""

from __future__ import annotations

import math
from fractions import Fraction
from time import perf_counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tempo_cases import RATES, maps, place

from audio.grid.bars import BarGrid, bar_grid
from audio.grid.count_in import count_in
from audio.vocab.session_file import Song
from audio.vocab.tempo import Metre, MetreChange, TempoChange, TempoMap, steady, tempo_map

RATE = 48_000
SONG = Song(name="tide", tempo_file="tempo/tide.mid")


def grid_of(tempo: TempoMap, *, stamp: int = 0, rate: int = RATE, song: Song = SONG) -> BarGrid:
    grid = bar_grid(song, tempo=tempo, time_reference=stamp, rate=rate)
    assert grid is not None
    return grid


def made(*tempos: tuple[float, float], metres: tuple[tuple[float, str], ...] = ()) -> BarGrid:
    """Return a grid of tempi (quarters from bar 1, quarters a minute) and metres (quarters, metre)."""
    changes = [TempoChange(Fraction(at), 60 / Fraction(bpm)) for at, bpm in tempos]
    bars = [(0.0, "4/4"), *metres]
    return grid_of(
        tempo_map(
            changes,
            [MetreChange(Fraction(at), Metre(*map(int, one.split("/")))) for at, one in bars],
        )
    )


# ------------------------------------------------------------------ by hand


def test_a_tempo_that_changes_at_a_bar_line_makes_the_bars_behind_it_longer() -> None:
    grid = made((0, 120), (8, 60))  # two bars of 2 s, then of 4 s
    assert [grid.frame(bar) for bar in (1, 2, 3, 4, 5)] == [0, 96_000, 192_000, 384_000, 576_000]
    assert [grid.bar_at(frame) for frame in (191_999, 192_000, 383_999)] == [2, 3, 3]
    assert (grid.beat_frames_at(7), grid.beat_frames_at(8)) == (24_000, 48_000)
    assert (grid.bpm_at(191_999), grid.bpm_at(192_000)) == (120, 60)


def test_a_tempo_may_change_inside_a_beat() -> None:
    grid = made((0, 120), (1.5, 60))
    assert grid.exact(2) == 24_000 * 1.5 + 48_000 / 2
    assert grid.exact(Fraction(3, 2)) == 36_000
    assert grid.position(48_000) == Fraction(
        7, 4
    )  # 12 000 frames behind the change: a quarter of a beat


def test_a_metre_counts_its_own_notes_and_bars_go_on_from_it() -> None:
    grid = made((0, 120), metres=((8, "6/8"), (11, "3/4")))
    assert [grid.frame(bar) for bar in (1, 2, 3, 4, 5)] == [0, 96_000, 192_000, 264_000, 336_000]
    assert [grid.beats_in(bar) for bar in (0, 1, 2, 3, 4, 400)] == [4, 4, 4, 6, 3, 3]
    assert [grid.named(beat) for beat in (7, 8, 13, 14, 17)] == [
        (2, 4),
        (3, 1),
        (3, 6),
        (4, 1),
        (5, 1),
    ]
    assert grid.beat_frames_at(8) == 12_000


def test_a_metre_in_the_middle_of_a_bar_cuts_that_bar_short() -> None:
    grid = made((0, 120), metres=((6, "3/4"),))  # bar 2 of 4/4 is two beats long
    assert [grid.beats_in(bar) for bar in (1, 2, 3)] == [4, 2, 3]
    assert grid.frame(3) == 6 * 24_000


def test_a_metre_in_the_middle_of_a_beat_cuts_that_beat_short() -> None:
    grid = made((0, 120), metres=((1.5, "3/4"),))
    assert [grid.frame_of_beat(beat) for beat in (0, 1, 2, 3)] == [0, 24_000, 36_000, 60_000]
    assert [grid.named(beat) for beat in (1, 2)] == [(1, 2), (2, 1)]
    early = made((0, 120), metres=((0.25, "3/4"),))
    assert [early.frame_of_beat(beat) for beat in (-1, 0, 1, 2)] == [-6_000, 0, 6_000, 30_000]


def test_a_metre_told_again_in_the_middle_of_a_bar_begins_no_bar() -> None:
    assert made((0, 120), metres=((6, "4/4"),)) == made((0, 120))


def test_bars_before_the_first_go_on_at_its_tempo_and_in_its_metre() -> None:
    grid = grid_of(
        tempo_map(
            [TempoChange(Fraction(0), Fraction(1, 2))], [MetreChange(Fraction(0), Metre(3, 4))]
        ),
        stamp=RATE,
        song=Song(name="tide", tempo_file="a.mid", song_start_s=4.0),
    )
    assert [grid.frame(bar) for bar in (-1, 0, 1)] == [0, 72_000, 144_000]
    assert grid.named(grid.beat_at(0)) == (-1, 1)


def test_where_the_map_says_bar_one_lies_the_songs_start_is_not_used() -> None:
    tempo = tempo_map(steady(120, None).tempos, steady(120, None).metres, start_s=Fraction(5))
    song = Song(name="tide", tempo_file="a.txt", song_start_s=9.0)
    assert grid_of(tempo, stamp=4 * RATE, song=song).frame(1) == RATE


def test_a_tempo_file_rules_over_bpm_and_one_that_was_not_read_leaves_no_bars() -> None:
    song = Song(name="tide", bpm=90.0, tempo_file="a.mid")
    assert grid_of(steady(120, None), song=song).frame(2) == 96_000
    assert bar_grid(song, time_reference=0, rate=RATE) is None


def test_a_count_in_beats_where_the_song_does_also_across_a_change() -> None:
    grid = made((0, 120), (4, 60), (8, 90), metres=((4, "2/4"),))
    found = count_in(grid, bars=2, music_frame=grid.frame(3))
    assert found.frames == (24_000 * 0, 24_000, 48_000, 72_000, 96_000, 144_000)
    assert found.accents == (True, False, False, False, True, False)
    assert found.line == 192_000
    assert count_in(grid, bars=1, music_frame=0).frames == (-96_000, -72_000, -48_000, -24_000)


# ------------------------------------------------------------------ whatever the map


@settings(max_examples=40)
@given(maps(), st.sampled_from(RATES), st.fractions(-50, 500, max_denominator=960))
def test_a_place_and_its_beat_are_each_others_inverse(
    tempo: TempoMap, rate: int, beat: Fraction
) -> None:
    grid = grid_of(tempo, rate=rate)
    assert grid.position(grid.exact(beat)) == beat
    assert grid.exact(grid.position(beat)) == beat


@settings(max_examples=40)
@given(maps(), st.sampled_from(RATES), st.integers(-50, 500))
def test_beats_ascend_and_a_frame_belongs_to_the_last_that_was_not_later(
    tempo: TempoMap, rate: int, beat: int
) -> None:
    grid = grid_of(tempo, rate=rate)
    assert grid.exact(beat) < grid.exact(beat + 1)
    frame = grid.frame_of_beat(beat)
    assert abs(frame - grid.exact(beat)) <= Fraction(1, 2)
    assert grid.frame_of_beat(grid.beat_at(frame)) == frame
    assert grid.beat_at(frame - 1) < beat <= grid.beat_at(frame)


@settings(max_examples=40)
@given(maps(), st.integers(-20, 300))
def test_bars_begin_with_their_first_beat_and_are_full_but_before_a_change(
    tempo: TempoMap, bar: int
) -> None:
    grid = grid_of(tempo)
    first, beats = grid.first_beat_of(bar), grid.beats_in(bar)
    assert [grid.named(first + k) for k in range(beats)] == [(bar, 1 + k) for k in range(beats)]
    assert grid.named(first + beats) == (bar + 1, 1)
    full = next(run for run in reversed(grid.runs) if run.bar <= bar or run.bar == 1).beats
    assert 1 <= beats <= full
    assert beats == full or any(run.bar == bar + 1 for run in grid.runs)


@settings(max_examples=40)
@given(maps(), st.sampled_from(RATES))
def test_a_bar_line_lies_where_all_tempi_before_it_add_up_to(tempo: TempoMap, rate: int) -> None:
    """Referee: bars laid one after the other in quarter notes, each place summed by itself."""
    grid = grid_of(tempo, rate=rate)
    start = Fraction(0) if tempo.start_s is None else tempo.start_s * rate
    changes = list(tempo.metres)
    metre, at = changes.pop(0).metre, Fraction(0)
    for bar in range(1, 40):
        assert grid.exact(grid.first_beat_of(bar)) == start + place(tempo, at, rate)
        assert grid.frame(bar) == round(start + place(tempo, at, rate))
        end = at + metre.beats * Fraction(4, metre.note)
        if changes and changes[0].at <= end:
            one = changes.pop(0)
            metre, end = one.metre, one.at
        at = end


@settings(max_examples=40)
@given(maps(), st.data())
def test_a_tempo_split_in_two_changes_nothing(tempo: TempoMap, data: st.DataObject) -> None:
    at = data.draw(st.fractions(0, 120, max_denominator=96))
    holds = [one for one in tempo.tempos if one.at <= at][-1]
    again = tempo_map(
        [*tempo.tempos, TempoChange(at, holds.quarter_s)], tempo.metres, start_s=tempo.start_s
    )
    assert again == tempo
    # the same where the split is not taken out again
    apart = TempoMap(
        tuple(sorted({*tempo.tempos, TempoChange(at, holds.quarter_s)}, key=lambda one: one.at)),
        tempo.metres,
        tempo.start_s,
    )
    split, whole = grid_of(apart), grid_of(tempo)
    for beat in range(-5, 300, 25):
        assert split.exact(beat) == whole.exact(beat)


@settings(max_examples=40)
@given(maps(), st.fractions(0, 200, max_denominator=480))
def test_seconds_from_bar_one_are_the_same_sum(tempo: TempoMap, at: Fraction) -> None:
    assert tempo.seconds(at) == place(tempo, at, 1)


def test_looking_up_stays_quick_with_hundreds_of_changes() -> None:
    """For a screen that asks thousands of times a second; walking over all changes takes fifty times."""
    tempos = [TempoChange(Fraction(18 * k), Fraction(500_000 + 37 * k, 10**6)) for k in range(400)]
    many = grid_of(tempo_map(tempos, [MetreChange(Fraction(0), Metre(4, 4))]))
    one = grid_of(steady(120, "4/4"))
    assert _took(many) < 10 * _took(one)


def _took(grid: BarGrid) -> float:
    """Return the shortest of several times that lookups all over an hour take, seconds."""
    frames = [math.floor(k * 3600 * RATE / 200) for k in range(200)]
    times = []
    for _ in range(7):
        began = perf_counter()
        for frame in frames:
            grid.frame_of_beat(grid.beat_at(frame))
        times.append(perf_counter() - began)
    return min(times)


@pytest.mark.parametrize("bpm", [97.3, 120.0])
def test_one_tempo_is_the_special_case_of_a_map(bpm: float) -> None:
    song = Song(name="tide", bpm=bpm, metre="6/8", song_start_s=1.5)
    steady_grid = bar_grid(song, time_reference=77, rate=RATE)
    song = Song(name="tide", tempo_file="a.mid", song_start_s=1.5)
    assert steady_grid == grid_of(steady(bpm, "6/8"), stamp=77, song=song)
