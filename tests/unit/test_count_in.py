"""The count-in: its beats against sums written another way, and its sound.

Tempo counts quarter notes a minute, as in a Standard MIDI File, whose Set Tempo event gives microseconds a
quarter note whatever the time signature says (MIDI 1.0, from memory).
"""

from __future__ import annotations

from decimal import Decimal, getcontext

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.grid.bars import bar_grid
from audio.grid.count_in import CountIn, count_in
from audio.signals.count_in import ACCENT_HZ, BEAT_DB, BEAT_HZ, LENGTH_S, click, counted
from audio.vocab.errors import UseError
from audio.vocab.session_file import Song

RATE = 48_000
getcontext().prec = 50


def counts(
    *,
    bpm: float = 120.0,
    metre: str = "4/4",
    start_s: float | None = 0.0,
    bars: int = 1,
    stamp: int = 0,
    music: int = 0,
    rate: int = RATE,
) -> CountIn:
    song = Song(name="low water", bpm=bpm, metre=metre, song_start_s=start_s)
    grid = bar_grid(song, time_reference=stamp, rate=rate)
    assert grid is not None
    return count_in(grid, bars=bars, music_frame=music)


def test_a_bar_of_four_at_120_quarters_a_minute_is_two_seconds_of_half_seconds() -> None:
    found = counts()
    assert found.frames == (-96_000, -72_000, -48_000, -24_000)
    assert found.accents == (True, False, False, False)
    assert (found.bar, found.line) == (1, 0)


def test_six_eight_has_six_eighths_at_the_tempo_of_its_quarters() -> None:
    found = counts(metre="6/8", bars=2)
    assert found.frames == tuple(-144_000 + 12_000 * k for k in range(12))
    assert [k for k, accent in enumerate(found.accents) if accent] == [0, 6]


@given(
    bpm=st.integers(2000, 40_000),
    beats=st.integers(1, 12),
    note=st.sampled_from([2, 4, 8, 16]),
    bars=st.integers(1, 4),
    bar=st.integers(1, 300),
    rate=st.sampled_from([44_100, 48_000, 96_000]),
)
def test_every_beat_lies_within_half_a_frame_of_where_microseconds_a_quarter_put_it(
    *, bpm: int, beats: int, note: int, bars: int, bar: int, rate: int
) -> None:
    """Far into a song nothing has added up: every beat by itself, in decimals of 50 digits."""
    quarter_us = Decimal(60_000_000) / (Decimal(bpm) / 100)
    beat_us = quarter_us * 4 / note
    line_us = beat_us * beats * (bar - 1)
    music = round(line_us * rate / 1_000_000)
    found = counts(
        bpm=bpm / 100, metre=f"{beats}/{note}", bars=bars, music=music, start_s=0.0, rate=rate
    )
    assert found.bar == bar
    assert len(found.frames) == bars * beats
    for k, frame in enumerate(found.frames):
        at = (line_us - (bars * beats - k) * beat_us) * rate / 1_000_000
        assert abs(frame - at) <= Decimal("0.5000001")


def test_a_pickup_is_counted_in_to_the_line_behind_it() -> None:
    """The DI begins one beat before bar 1; the last beat counted falls on its first frame."""
    found = counts(stamp=10 * RATE, start_s=10.5)
    assert (found.bar, found.line) == (1, 24_000)
    assert found.frames == (-72_000, -48_000, -24_000, 0)


def test_a_long_lead_is_counted_in_over_itself() -> None:
    found = counts(stamp=0, start_s=20.0)
    assert found.line == 20 * RATE
    assert found.frames[0] == 18 * RATE


def test_a_part_in_the_middle_is_counted_in_to_its_own_bar() -> None:
    assert counts(stamp=64 * RATE).bar == 33
    pickup = counts(stamp=64 * RATE - 24_000)
    assert (pickup.bar, pickup.line) == (33, 24_000)


@pytest.mark.parametrize(("late", "bar"), [(0, 2), (1, 2), (12_000, 2), (12_001, 3)])
def test_an_edit_cut_close_to_a_late_note_belongs_to_its_bar_line(late: int, bar: int) -> None:
    assert counts(stamp=2 * RATE + late).bar == bar


def test_a_section_is_counted_in_to_its_own_line_not_to_its_lead_in() -> None:
    found = counts(music=8 * RATE)
    assert (found.bar, found.line) == (5, 8 * RATE)


# ------------------------------------------------------------------ its sound


@pytest.mark.parametrize("rate", [44_100, 48_000, 192_000])
def test_clicks_begin_and_end_in_silence_and_never_step(rate: int) -> None:
    for accent, hz in ((True, ACCENT_HZ), (False, BEAT_HZ)):
        sound = click(accent=accent, rate=rate)
        assert len(sound) == round(LENGTH_S * rate)
        assert sound[0] == pytest.approx(0.0, abs=1e-12)
        assert sound[-1] == pytest.approx(0.0, abs=1e-12)
        assert np.abs(np.diff(sound)).max() < 2 * np.pi * hz / rate * 1.1
        spectrum = np.abs(np.fft.rfft(sound, 8 * rate))
        assert np.argmax(spectrum) / 8 == pytest.approx(hz, rel=0.03)


def test_accents_reach_the_level_asked_for_and_beats_stay_below() -> None:
    sound = counted((0, 24_000), (True, False), level_dbfs=-20.0, rate=RATE)
    assert 20 * np.log10(np.abs(sound[:24_000]).max()) == pytest.approx(-20.0)
    assert 20 * np.log10(np.abs(sound[24_000:]).max()) == pytest.approx(-20.0 + BEAT_DB)


def test_each_click_begins_on_its_frame() -> None:
    frames = (0, 3000, 6001)
    sound = counted(frames, (True, False, False), level_dbfs=-6.0, rate=RATE)
    for frame in frames:
        assert abs(sound[frame + 1]) > 0
        assert frame == 0 or not sound[frame - 100 : frame + 1].any()


def test_beats_before_the_first_frame_are_refused() -> None:
    with pytest.raises(UseError, match="from frame 0 on"):
        counted((-1,), (True,), level_dbfs=-6.0, rate=RATE)
    with pytest.raises(UseError, match="from frame 0 on"):
        counted((), (), level_dbfs=-6.0, rate=RATE)
