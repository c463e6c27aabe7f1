"""A section: read as people write it, and laid on the frames of a DI to the frame."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.grid.bars import bar_grid
from audio.jobs.sections import covered
from audio.jobs.tempos import plain_tempo
from audio.vocab.errors import UseError
from audio.vocab.section import Covers, Section
from audio.vocab.section_text import parse_section, section_from, section_problem
from audio.vocab.session_file import Song
from audio.vocab.tempo import SongTempo

RATE = 48_000
SONG = Song(name="low water", bpm=96.0, metre="4/4")


def laid(text: str, *, song: Song = SONG, seconds: float = 60.0, **more: Any) -> Covers:
    known = {
        "tempo": plain_tempo(song),
        "time_reference": 0,
        "rate": RATE,
        "frames": round(seconds * RATE),
    } | more
    return covered(parse_section(text), song, **known)


# ------------------------------------------------------------------ as it is written


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("bars 5-8", "bars 5-8"),
        ("5-8", "bars 5-8"),
        (" Bars 5 \u2013 8 ", "bars 5-8"),
        ("bar 5", "bar 5"),
        ("5", "bar 5"),
        ("5-5", "bar 5"),
        ("12.5-18 s", "12.5-18 s"),
        ("12.5-18", "12.5-18 s"),
        ("12-18s", "12-18 s"),
    ],
)
def test_a_section_is_read_as_it_is_told(text: str, said: str) -> None:
    assert f"{parse_section(text)}" == said
    assert parse_section(said) == parse_section(text)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "nothing is no section; write bars such as 5-8"),
        ("8-5", "end before they begin; write bars 5-8"),
        ("0-4", "bars count from 1"),
        ("bars 1.5", "write seconds from the DI's first frame"),
        ("18-12.5 s", "write 12.5-18"),
        ("3-3 s", "ends where it begins"),
        ("chorus", "'chorus' is no section"),
        ("12345", "beyond all songs"),
        ("99999-999999 s", "longer than a day"),
    ],
)
def test_what_is_no_section_is_refused_with_the_way_out(text: str, why: str) -> None:
    assert why in (section_problem(text) or "")
    with pytest.raises(UseError, match=r"section|bars|day|begins"):
        parse_section(text)


def test_a_plans_keys_are_read_alike() -> None:
    assert section_from(bars="5-8") == Section(from_bar=5, to_bar=8)
    assert section_from(bars=5) == Section(from_bar=5, to_bar=5)
    assert section_from(seconds="12.5-18") == Section(from_s=12.5, to_s=18.0)
    assert section_from() is None
    with pytest.raises(UseError, match="not both"):
        section_from(bars=5, seconds="1-2")


@given(text=st.text(max_size=30))
def test_whatever_is_typed_is_a_section_or_refused_in_one_sentence(text: str) -> None:
    problem = section_problem(text)
    if problem is None:
        assert section_problem(f"{parse_section(text)}") is None
    else:
        assert "\n" not in problem


# ------------------------------------------------------------------ on a DI


def test_bars_lie_where_arithmetic_by_hand_says() -> None:
    # 96 quarters a minute: a bar of four lasts 2.5 s, 120 000 frames at 48 kHz; bar 5 begins at 10 s.
    found = laid("bars 5-8")
    assert found.section_from_frame == 480_000
    assert found.section_to_frame == 960_000
    assert found.from_frame == 480_000 - 2 * RATE
    assert found.frames == 480_000 + 3 * RATE
    assert found.text == "bars 5-8"


@given(
    bpm_tenths=st.integers(200, 4000),
    metre=st.tuples(st.integers(1, 12), st.sampled_from((2, 4, 8, 16))),
    rate=st.sampled_from((44_100, 48_000, 96_000)),
    start=st.tuples(st.integers(0, 4_000_000), st.integers(0, 10**9)),
    bar=st.integers(1, 2000),
)
def test_a_bar_line_is_the_frame_nearest_to_its_exact_place(
    bpm_tenths: int, metre: tuple[int, int], rate: int, start: tuple[int, int], bar: int
) -> None:
    """Referee: the same place in whole numbers: 60 s over the tempo a quarter, four to a whole note."""
    start_ms, stamp = start
    song = Song(
        name="x", bpm=bpm_tenths / 10, metre=f"{metre[0]}/{metre[1]}", song_start_s=start_ms / 1000
    )
    grid = bar_grid(song, time_reference=stamp, rate=rate)
    assert grid is not None
    below = 1000 * metre[1] * bpm_tenths
    above = (bar - 1) * metre[0] * 4 * 600 * rate * 1000
    above += (start_ms * rate - 1000 * stamp) * metre[1] * bpm_tenths
    assert 2 * abs(grid.frame(bar) * below - above) <= below
    assert grid.bar_at(grid.frame(bar)) == bar
    assert grid.bar_at(grid.frame(bar) - 1) == bar - 1


def test_bars_are_cut_to_the_di_and_what_lies_outside_is_refused() -> None:
    last = laid("bar 24", seconds=59.0)  # it ends at 60 s
    assert (last.section_to_frame, last.from_frame + last.frames) == (59 * RATE, 59 * RATE)
    assert laid("bar 1").from_frame == 0
    with pytest.raises(UseError, match="the DI holds bars 1 to 24"):
        laid("bars 23-25")
    early = Song(name="x", bpm=96.0, song_start_s=9.0)
    with pytest.raises(UseError, match="the DI holds bars 5 to"):
        laid("bars 1-3", song=early, time_reference=20 * RATE)
    assert laid("bars 4-6", song=early, time_reference=18 * RATE).section_from_frame == 0
    with pytest.raises(UseError, match="begins behind the DI's end"):
        laid("bars 1-3", song=early, seconds=5.0)


def test_seconds_count_from_the_dis_first_frame_whatever_its_stamp() -> None:
    found = laid("0.1-0.3 s", time_reference=123_456, rate=44_100, frames=44_100)
    assert (found.section_from_frame, found.section_to_frame) == (4_410, 13_230)
    with pytest.raises(UseError, match=r"the DI is 60.00 s \(1:00\) long"):
        laid("50-61 s")
    with pytest.raises(UseError, match="too short"):
        laid("1-1.05 s")


def test_without_a_tempo_bars_are_refused_with_the_way_out() -> None:
    with pytest.raises(UseError, match=r"write bpm: .* or ask for seconds"):
        laid("bars 1-2", song=Song(name="free"))
    with pytest.raises(UseError, match=r"bars 1-2: tempo\.mid cannot be read; .* ask for seconds"):
        laid("bars 1-2", tempo=SongTempo(problem="tempo.mid cannot be read; put it back"))
    assert laid("1-2 s", song=Song(name="free")).section_from_frame == RATE
