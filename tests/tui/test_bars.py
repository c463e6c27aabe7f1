"""Bars and beats of a song on the frames of a DI: exact over ten minutes, and never crowded."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.grid.bars import BarGrid, bar_grid
from audio.vocab.session_file import Song
from audio.vocab.tempo import Metre, MetreChange, TempoChange, tempo_map
from tui.present.bars import LABEL_GAP, LINE_COLUMNS, MOST_TICKS, bar_ticks, lines_in
from tui.present.wave_view import whole

TEN_MINUTES_S = 600
RATES = (44_100, 48_000, 88_200, 96_000, 192_000)


def bars(
    *,
    bpm: float = 96.0,
    metre: str | None = "4/4",
    start_s: float | None = None,
    time_reference: int = 0,
    rate: int = 48_000,
) -> BarGrid:
    song = Song(name="low water", bpm=bpm, metre=metre, song_start_s=start_s)
    found = bar_grid(song, time_reference=time_reference, rate=rate)
    assert found is not None
    return found


# ------------------------------------------------------------------ where bars lie


@pytest.mark.parametrize(
    ("bpm", "metre", "rate", "bar_frames"),
    [
        (96.0, "4/4", 48_000, 120_000),  # 60 s · 48 000 / 96 · 4
        (120.0, "4/4", 48_000, 96_000),  # two seconds
        (120.0, "3/4", 44_100, 66_150),  # one and a half
        (120.0, "6/8", 48_000, 72_000),  # six halves of a quarter
        (60.0, "7/8", 48_000, 168_000),  # seven half seconds
        (90.0, "2/2", 48_000, 128_000),  # two times two quarters of 2/3 s
        (120.0, None, 48_000, 96_000),  # no metre given: 4/4
    ],
)
def test_a_bar_is_as_long_as_arithmetic_by_hand_says(
    bpm: float, metre: str | None, rate: int, bar_frames: int
) -> None:
    found = bars(bpm=bpm, metre=metre, rate=rate)
    for bar in range(20):
        assert found.frame(bar + 1) == bar * bar_frames


@given(
    bpm_thousandths=st.integers(20_000, 400_000),
    metre=st.tuples(st.integers(1, 19), st.sampled_from((1, 2, 4, 8, 16, 32))),
    rate=st.sampled_from(RATES),
    start_ms=st.none() | st.integers(0, 86_400_000),
    data=st.data(),
)
def test_a_beat_is_the_frame_nearest_to_its_exact_place_over_ten_minutes(
    bpm_thousandths: int,
    metre: tuple[int, int],
    rate: int,
    start_ms: int | None,
    data: st.DataObject,
) -> None:
    """Referee: the same place in whole numbers, numerator and denominator apart."""
    beats, note = metre
    time_reference = data.draw(st.integers(0, 24 * 3600 * rate))
    found = bars(
        bpm=bpm_thousandths / 1000,
        metre=f"{beats}/{note}",
        start_s=None if start_ms is None else start_ms / 1000,
        time_reference=time_reference,
        rate=rate,
    )
    beats_there = TEN_MINUTES_S * bpm_thousandths * note // (4 * 60_000)
    beat = data.draw(st.integers(-beats_there, beats_there))
    # place = 240 000 · rate · beat / (note · bpm_thousandths) + start_ms · rate / 1000 − time_reference
    below = 1000 * note * bpm_thousandths
    above = 240_000_000 * rate * beat
    if start_ms is not None:
        above += (start_ms * rate - 1000 * time_reference) * note * bpm_thousandths
    assert 2 * abs(found.frame_of_beat(beat) * below - above) <= below
    assert found.named(beat) == (beat // beats + 1, beat % beats + 1)


def test_rounding_every_beat_would_have_drifted_from_where_bars_are() -> None:
    found = bars(bpm=97.3, rate=44_100)
    beats = 973  # ten minutes
    assert found.frame_of_beat(beats) == TEN_MINUTES_S * 44_100
    drift = abs(beats * round(found.beat_frames_at(0)) - found.frame_of_beat(beats))
    assert drift > 48


@given(bpm=st.integers(200, 4000), beat=st.integers(-500, 5000), rate=st.sampled_from(RATES))
def test_a_frame_belongs_to_the_last_beat_that_was_not_later(
    bpm: int, beat: int, rate: int
) -> None:
    found = bars(bpm=bpm / 10, start_s=0.3333, rate=rate)
    assert found.beat_at(found.frame_of_beat(beat)) == beat
    assert found.beat_at(found.frame_of_beat(beat) - 1) == beat - 1


def test_bar_one_lies_where_the_song_starts_on_the_recorders_timeline() -> None:
    found = bars(start_s=10.5, time_reference=10 * 48_000)
    assert found.frame_of_beat(0) == 24_000
    assert found.named(found.beat_at(24_000)) == (1, 1)
    assert found.named(found.beat_at(23_999)) == (0, 4)
    late = bars(start_s=10.0, time_reference=16 * 48_000)
    assert late.named(late.beat_at(0)) == (3, 2)  # six seconds later: 9.6 beats of 0.625 s


def test_bars_before_bar_one_are_nought_and_less() -> None:
    found = bars(start_s=10.0)
    numbers = [found.named(found.beat_at(frame))[0] for frame in range(0, 600_000, 120_000)]
    assert numbers == [-3, -2, -1, 0, 1]


def test_bar_one_is_at_the_dis_first_frame_where_the_song_does_not_say() -> None:
    assert bars(time_reference=123_456).frame_of_beat(0) == 0


def test_without_a_tempo_there_are_no_bars() -> None:
    song = Song(name="free", metre="4/4", song_start_s=1.0)
    assert bar_grid(song, time_reference=0, rate=48_000) is None


# ------------------------------------------------------------------ which have room in a view


songs = st.builds(
    bars,
    bpm=st.integers(20, 400),
    metre=st.sampled_from(("4/4", "3/4", "6/8", "7/8", "19/32", "1/1")),
    start_s=st.none() | st.integers(0, 3600),
)


def never_crowded(found: BarGrid, width: int, closer: int, halves: int) -> None:
    look = whole(TEN_MINUTES_S * 48_000, width)
    look = look.zoomed(closer, keep=look.middle).scrolled(halves)
    lines = lines_in(look, found)
    assert all(0 <= line.column < width for line in lines)
    for one, other in pairwise(lines):
        assert other.column - one.column >= LINE_COLUMNS - 1  # a column less where both are rounded
    labelled = [line for line in lines if line.label]
    for one, other in pairwise(labelled):
        # the tick, the label, and room to the next; a column less where both are rounded
        assert other.column - one.column >= 1 + len(one.label) + LABEL_GAP - 1


@given(songs, st.integers(1, 250), st.integers(0, 24), st.integers(0, 50))
def test_lines_and_labels_never_crowd(found: BarGrid, width: int, closer: int, halves: int) -> None:
    never_crowded(found, width, closer, halves)


@given(closer=st.integers(1, 12), halves=st.integers(0, 200), more=st.integers(1, 3))
def test_the_same_bars_have_lines_wherever_the_view_is_scrolled(
    closer: int, halves: int, more: int
) -> None:
    found = bars(bpm=131.7)
    look = whole(TEN_MINUTES_S * 48_000, 160)
    look = look.zoomed(closer, keep=0).scrolled(halves)
    other = look.scrolled(more)
    first = {(line.column + look.column, line.is_bar, line.label) for line in lines_in(look, found)}
    second = {
        (line.column + other.column, line.is_bar, line.label) for line in lines_in(other, found)
    }
    both = range(other.column, look.column + 160)
    assert {one for one in first if one[0] in both} == {one for one in second if one[0] in both}


def test_a_line_stands_in_the_column_its_beat_begins_in() -> None:
    found = bars()
    look = whole(30 * 48_000, 120).zoomed(3, keep=0)
    assert look.scale == 1024 * 2
    lines = {line.label: line.column for line in lines_in(look, found) if line.label}
    assert lines["2"] == 120_000 // 2048
    assert lines["1.2"] == 30_000 // 2048
    assert [line.is_bar for line in lines_in(look, found)][:5] == [True, False, False, False, True]


# ------------------------------------------------------------------ where tempo and metre change


def wild(tempos: list[tuple[int, int]], metres: list[tuple[int, Metre]]) -> BarGrid:
    """Return a grid of tempi and metres by quarter notes from bar 1, quarters of so many microseconds."""
    changes = [TempoChange(Fraction(at), Fraction(us, 10**6)) for at, us in tempos]
    bars_of = [
        MetreChange(Fraction(0), Metre(4, 4)),
        *(MetreChange(Fraction(at), one) for at, one in metres),
    ]
    found = bar_grid(
        Song(name="wild", tempo_file="a.mid"),
        tempo=tempo_map(changes, bars_of),
        time_reference=0,
        rate=48_000,
    )
    assert found is not None
    return found


changing = st.builds(
    wild,
    st.lists(
        st.tuples(st.integers(0, 1500), st.integers(60_000, 3_000_000)), min_size=1, max_size=12
    ),
    st.lists(
        st.tuples(
            st.integers(0, 1500),
            st.builds(Metre, st.integers(1, 19), st.sampled_from((2, 4, 8, 16))),
        ),
        max_size=8,
    ),
)


@given(changing, st.integers(1, 250), st.integers(0, 24), st.integers(0, 50))
def test_lines_and_labels_never_crowd_where_tempo_and_metre_change(
    found: BarGrid, width: int, closer: int, halves: int
) -> None:
    never_crowded(found, width, closer, halves)


@given(changing, st.integers(1, 12), st.integers(0, 200), st.integers(1, 3))
def test_the_same_lines_wherever_the_view_is_scrolled_where_tempo_and_metre_change(
    found: BarGrid, closer: int, halves: int, more: int
) -> None:
    look = whole(TEN_MINUTES_S * 48_000, 160).zoomed(closer, keep=0).scrolled(halves)
    other = look.scrolled(more)
    both = range(other.column, look.column + 160)
    first, second = (
        {(line.column + one.column, line.is_bar, line.label) for line in lines_in(one, found)}
        for one in (look, other)
    )
    assert {one for one in first if one[0] in both} == {one for one in second if one[0] in both}


def test_a_few_quick_beats_do_not_thin_out_the_lines_of_the_rest() -> None:
    quick = wild([(0, 625_000), (64, 62_500), (66, 625_000)], [])
    look = whole(600 * 48_000, 120).zoomed(6, keep=0)
    plain, lines = lines_in(look, bars()), lines_in(look, quick)
    assert lines[:10] == plain[:10]


def test_ticks_follow_the_tempo() -> None:
    found = wild([(0, 500_000), (8, 1_000_000)], [(8, Metre(2, 4))])
    ticks = bar_ticks(found, frames=9 * 48_000, rate=48_000)
    assert ticks == ((0.0, "1"), (2.0, "2"), (4.0, "3"), (6.0, "4"), (8.0, "5"))


# ------------------------------------------------------------------ ticks for a ruler of seconds


def test_ticks_are_the_bars_that_begin_in_the_di() -> None:
    ticks = bar_ticks(bars(start_s=3.0), frames=9 * 48_000, rate=48_000)
    assert ticks == ((0.5, "0"), (3.0, "1"), (5.5, "2"), (8.0, "3"))


def test_a_bar_on_the_first_frame_has_a_tick_and_one_after_the_last_has_none() -> None:
    ticks = bar_ticks(bars(time_reference=77), frames=5 * 48_000, rate=48_000)
    assert ticks == ((0.0, "1"), (2.5, "2"))


@given(bpm=st.integers(20, 400), start=st.integers(0, 3600), rate=st.sampled_from(RATES))
def test_ticks_stay_few_and_keep_counting_from_bar_one(bpm: int, start: int, rate: int) -> None:
    found = bars(bpm=float(bpm), metre="1/32", start_s=float(start), rate=rate)
    ticks = bar_ticks(found, frames=TEN_MINUTES_S * rate, rate=rate)
    assert 0 < len(ticks) <= MOST_TICKS + 1
    assert all(0 <= at < TEN_MINUTES_S for at, _ in ticks)
    exact = Fraction(240, bpm * 32)
    for at, label in ticks:
        assert abs(at - float((int(label) - 1) * exact + start)) <= 0.51 / rate
