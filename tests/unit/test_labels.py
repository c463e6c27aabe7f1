"""Bars from a label text file: read exactly, and every mistake told with its line."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audio.files.tempo import tempo_of
from audio.grid.bars import BarGrid, bar_grid
from audio.vocab.errors import UseError
from audio.vocab.session_file import Song
from audio.vocab.tempo import TempoMap

WHERE = Path("bars.txt")
RATE = 48_000


def read(text: str | bytes, *, metre: str | None = None) -> TempoMap:
    data = text.encode() if isinstance(text, str) else text
    return tempo_of(data, path=WHERE, metre=metre)


def lines(*labels: tuple[str, str]) -> str:
    return "".join(f"{at}\t{at}\t{text}\n" for at, text in labels)


def on_frames(tempo: TempoMap, *, stamp: int = 0, rate: int = RATE) -> BarGrid:
    grid = bar_grid(
        Song(name="tide", tempo_file="bars.txt", song_start_s=77.0),
        tempo=tempo,
        time_reference=stamp,
        rate=rate,
    )
    assert grid is not None
    return grid


def test_bars_lie_at_their_labels_and_beats_evenly_between_them() -> None:
    grid = on_frames(read(lines(("0.5", "1"), ("2.5", "2"), ("5.5", "bar 3"))))
    assert [grid.frame(bar) for bar in (1, 2, 3)] == [24_000, 120_000, 264_000]
    assert [grid.frame_of_beat(beat) for beat in (1, 5)] == [48_000, 156_000]


def test_seconds_lie_on_the_recorders_timeline_and_the_songs_start_is_not_used() -> None:
    grid = on_frames(read(lines(("3600.5", "1"), ("3602.5", "2"))), stamp=3600 * RATE)
    assert grid.frame(1) == 24_000


def test_the_first_tempo_holds_before_the_first_label_and_the_last_one_goes_on() -> None:
    found = read(lines(("20", "5"), ("22", "6"), ("25", "7")))
    assert found.start_s == 12
    grid = on_frames(found)
    assert grid.frame(1) == 12 * RATE
    assert grid.frame(0) == 10 * RATE
    assert grid.frame(9) == 31 * RATE


def test_beats_are_labelled_too_and_the_metre_is_the_songs() -> None:
    found = read(lines(("0", "1"), ("1", "1.3"), ("1.5", "2|1"), ("3", "Bar 3")), metre="3/4")
    assert [(one.at, one.quarter_s) for one in found.tempos] == [(0, Fraction(1, 2))]
    grid = on_frames(found)
    assert [grid.frame_of_beat(beat) for beat in (0, 2, 3, 6)] == [0, 48_000, 72_000, 144_000]
    assert grid.beats_in(1) == 3


def test_eighths_of_six_eight_are_its_beats() -> None:
    grid = on_frames(read(lines(("0", "1"), ("3", "2")), metre="6/8"))
    assert grid.beat_frames_at(0) == RATE // 2
    assert grid.bpm_at(0) == 60


@pytest.mark.parametrize(
    "text",
    [
        "0.5\t0.5\t1\r\n2.5\t2.5\t2\r\n",
        "\ufeff0.5\t0.5\t1\n\n2.5\t2.7\t2",
        "0,5\t0,5\t1\n2,500000\t2,500000\t2\n",
        "0.5\t0.5\t1\n\\\t440.0\t880.0\n1.0\t1.0\tchorus, barely\n2.5\t2.5\t 2 \n",
    ],
)
def test_other_line_ends_commas_marks_and_notes_are_taken(text: str) -> None:
    assert read(text) == read(lines(("0.5", "1"), ("2.5", "2")))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "no bar is labelled, and a tempo takes two; write"),
        (lines(("1", "1")), "one bar is labelled, and a tempo takes two"),
        (lines(("1", "intro"), ("2", "verse")), "no bar is labelled"),
        (
            lines(("1", "1"), ("1", "2")),
            "line 2: the label lies at or before the one of line 1; sort",
        ),
        (lines(("1", "1"), ("", "x"), ("2", "2")), "line 2: '' is no time in seconds; write one"),
        (
            lines(("1", "2"), ("3", "chorus"), ("4", "2")),
            "line 3: bars do not ascend from line 1 on",
        ),
        (lines(("1", "2.3"), ("4", "2.2")), "line 2: bars do not ascend"),
        (lines(("1", "1"), ("2", "1O")), "line 2: '1O' is no bar; write the bar alone"),
        (lines(("1", "1"), ("2", "2 verse")), "line 2: '2 verse' is no bar"),
        (lines(("1", "1"), ("2", "0")), "line 2: there is no bar 0; bars count from 1"),
        (lines(("1", "1"), ("2", "10000")), "line 2: there is no bar 10000"),
        (lines(("1", "1"), ("2", "1.5")), "line 2: a bar of 4/4 has no beat 5; count from 1 to 4"),
        (lines(("1", "1"), ("2", "1.0")), "line 2: a bar of 4/4 has no beat 0"),
        (lines(("1,500", "1"), ("2", "2")), r"line 1: 1,500 can be 1\.500 or 1500; write it with"),
        (lines(("1.5.2", "1"), ("2", "2")), r"line 1: '1\.5\.2' is no time in seconds"),
        (lines(("-1", "1"), ("2", "2")), "line 1: '-1' is no time in seconds"),
        (lines(("1e9", "1"), ("2", "2")), "line 1: '1e9' is no time in seconds"),
        (lines(("1", "1"), ("86401", "2")), "line 2: 86401 s lies beyond a day"),
        (
            lines(("1", "1"), ("1.001", "2")),
            "line 2: from line 1 to here the tempo is 240000 quarter",
        ),
        (
            lines(("1", "1"), ("999", "2")),
            r"line 2: from line 1 .* none from 3\.58 to 1000; correct",
        ),
        ("1 1 1\n2 2 2\n", "line 1: this is no label; write start, tab, end, tab"),
        ("2\t1\t1\n", "line 1: the label ends before it begins"),
        (b"1\t1\t1\n2\t2\t\xff\n", "line 2: this is no UTF-8 text; export"),
        (b"1\t1\t1\n\0", "neither a Standard MIDI File nor a label text file"),
        (b" " * 2_000_001, "neither a Standard MIDI File nor a label text file"),
    ],
    ids=lambda one: one[:40] if isinstance(one, str) else "bytes",
)
def test_a_mistake_is_told_with_its_line_and_the_way_out(text: str | bytes, why: str) -> None:
    with pytest.raises(UseError, match=rf"^bars\.txt.*{why}") as refused:
        read(text)
    assert "\n" not in f"{refused.value}"


@given(
    st.lists(
        st.tuples(st.integers(1, 8), st.integers(120_000, 3_000_000)), min_size=1, max_size=20
    ),
    st.integers(0, 10**9),
    st.integers(0, 7),
    st.sampled_from(("4/4", "3/4", "7/8", "2/2")),
)
def test_every_label_lies_exactly_where_its_decimals_say(
    steps: list[tuple[int, int]], start_us: int, before: int, metre: str
) -> None:
    """Each step is so many beats of so many microseconds."""
    beats = int(metre.partition("/")[0])
    beat, at, told, known = before, start_us, [], []
    for more, each in [(0, 0), *steps]:
        beat, at = beat + more, at + more * each
        told.append((f"{at // 10**6}.{at % 10**6:06d}", f"{beat // beats + 1}.{beat % beats + 1}"))
        known.append((beat, Fraction(at, 10**6)))
    grid = on_frames(read(lines(*told), metre=metre))
    assert [grid.exact(beat) for beat, _ in known] == [at * RATE for _, at in known]


@given(st.text(max_size=60))
def test_whatever_is_in_a_file_it_is_read_or_refused(text: str) -> None:
    try:
        said = f"{WHERE}" if read(text).tempos else ""
    except UseError as error:
        said = f"{error}"
    assert said.startswith("bars.txt")
