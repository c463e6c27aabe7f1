"""Views of a sound file and the columns in them, against the samples themselves."""

from __future__ import annotations

import math
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st
from needs import GUITARS, needs_samples
from rich.cells import cell_len

from audio.grid.bars import BarGrid, bar_grid
from audio.vocab.requests import CLOSEUP_FRAMES
from audio.vocab.requests import Closeup as AskCloseup
from audio.vocab.requests import Outline as AskOutline
from audio.vocab.results import Outlines
from audio.vocab.session_file import Song
from audio.work.outlines import closeup, outline
from tui.present import wave_cells
from tui.present.bars import Line, lines_in
from tui.present.ruler import TICK
from tui.present.wave_view import CLOSEST, Look, whole
from tui.present.wave_words import exact_time, place_words, ruler_ticks, scale_words, whole_words
from tui.present.waves import Closeup, columns, loudest, needs_closeup, wanted

STEP = 2.0**-15
"""Nothing is drawn finer."""

looks = st.builds(
    lambda frames, width, closer, keep, halves: (
        whole(frames, width).zoomed(closer, keep=int(keep * (frames - 1))).scrolled(halves)
    ),
    st.integers(1, 50_000_000),
    st.integers(1, 400),
    st.integers(0, 30),
    st.floats(0, 1),
    st.integers(-5, 50),
)


@lru_cache(1)
def guitar() -> tuple[str, np.ndarray, Outlines]:
    """Return a recording's path, its first channel's samples, and their outline."""
    path = str(GUITARS[0])
    samples = soundfile.read(path, always_2d=True)[0][:, 0]
    return path, samples, outline(AskOutline(path=path, channel=0))


def fetched(path: str, look: Look) -> Closeup:
    asked = wanted(look)
    assert asked is not None
    request = AskCloseup(path=path, channel=0, at_frame=asked[0], frames=asked[1])
    return Closeup(asked[0], closeup(request))


# ------------------------------------------------------------------ where one looks


@given(looks)
def test_a_view_begins_on_a_whole_column_and_stays_in_the_file(look: Look) -> None:
    assert look.first == look.column * look.scale
    assert 0 <= look.first < look.frames
    assert look.end <= look.frames
    share, _ = math.frexp(look.scale)
    assert share == 0.5 or look == whole(look.frames, look.width)
    if not look.is_whole:  # nothing is given away behind the end
        assert look.first + (look.width - 1) * look.scale < look.frames


@given(st.integers(1, 50_000_000), st.integers(1, 400))
def test_the_whole_file_is_in_view_and_fills_at_least_half_of_it(frames: int, width: int) -> None:
    look = whole(frames, width)
    assert (look.first, look.end) == (0, frames)
    assert look.is_whole
    assert frames / look.scale > width / 2 or look.scale == CLOSEST


@given(looks, st.integers(0, 399))
def test_a_zoom_keeps_the_frame_under_the_cursor_in_its_column(look: Look, x: int) -> None:
    keep = look.frame_at(min(x, look.width - 1))
    before = look.place(keep)
    for steps in (1, -1):
        zoomed = look.zoomed(steps, keep=keep)
        at_an_end = zoomed.column in (0, math.ceil(zoomed.frames / zoomed.scale) - zoomed.width)
        assert zoomed.place(keep) == before or (at_an_end and zoomed.place(keep) is not None)


@given(looks)
def test_zooming_in_and_out_again_leads_to_the_same_frames(look: Look) -> None:
    keep = look.middle
    closer = look.zoomed(1, keep=keep)
    if closer == look or look.is_whole:
        assert closer.scale == CLOSEST or look.is_whole
        return
    back = closer.zoomed(-1, keep=keep)
    assert back.scale == look.scale
    assert abs(back.column - look.column) <= 1


@given(looks)
def test_each_zoom_halves_or_doubles_down_to_an_eighth_and_up_to_the_whole(look: Look) -> None:
    middle = look.middle
    closer, wider = look.zoomed(1, keep=middle), look.zoomed(-1, keep=middle)
    assert closer.scale in (look.scale / 2, CLOSEST) or look.is_whole
    assert look.scale > closer.scale >= look.scale / 2 or closer.scale == CLOSEST
    assert wider.scale == look.scale * 2 or wider == whole(look.frames, look.width)
    assert look.zoomed(60, keep=middle).scale == CLOSEST
    assert look.zoomed(-60, keep=middle) == whole(look.frames, look.width)


@given(looks, st.integers(-4, 4))
def test_a_scroll_moves_by_halves_of_the_view(look: Look, halves: int) -> None:
    moved = look.scrolled(halves)
    assert moved.scale == look.scale
    columns_moved = moved.column - look.column
    last = max(math.ceil(look.frames / look.scale) - look.width, 0)
    assert columns_moved == halves * max(look.width // 2, 1) or moved.column in (0, last)


@given(looks, st.integers(1, 400))
def test_another_width_keeps_the_whole_whole_and_the_middle_in_the_middle(
    look: Look, width: int
) -> None:
    resized = look.resized(width)
    assert resized.width == width
    if look.is_whole:
        assert resized == whole(look.frames, width)
    elif not resized.is_whole:
        assert resized.scale == look.scale
        last = math.ceil(look.frames / look.scale) - width
        assert resized.middle == look.middle or resized.column in (0, last)


@given(looks, st.floats(0, 1))
def test_a_frame_is_brought_into_view(look: Look, share: float) -> None:
    frame = int(share * (look.frames - 1))
    assert look.around(frame).place(frame) is not None


# ------------------------------------------------------------------ what stands in the columns


@needs_samples()
@given(width=st.sampled_from((78, 118, 198)), closer=st.integers(0, 20), share=st.floats(0, 1))
def test_columns_hold_the_extremes_of_their_own_frames(
    width: int, closer: int, share: float
) -> None:
    path, samples, outlines = guitar()
    look = whole(samples.size, width).zoomed(closer, keep=int(share * (samples.size - 1)))
    fine = needs_closeup(outlines, look)
    found = columns(outlines, fetched(path, look) if fine else None, look)
    # a bin that two columns share is small beside them
    slack = 0 if fine or look.scale % 256 == 0 else max(256, int(look.scale / 4))
    for x, column in enumerate(found):
        begin = (look.column + x) * look.scale
        if begin >= samples.size:
            assert column is None
        elif begin % 1:
            assert column == (0.0, 0.0)
        else:
            exact = samples[int(begin) : max(math.ceil(begin + look.scale), int(begin) + 1)]
            near = samples[max(int(begin) - slack, 0) : math.ceil(begin + look.scale) + slack]
            assert column is not None
            assert near.min() - STEP <= column[0] <= exact.min() + STEP
            assert exact.max() - STEP <= column[1] <= near.max() + STEP


@needs_samples()
@pytest.mark.parametrize("closer", [4, 8, 14])
def test_the_coarse_picture_stands_until_the_samples_come(closer: int) -> None:
    path, samples, outlines = guitar()
    look = whole(samples.size, 80).zoomed(closer, keep=samples.size // 3)
    assert needs_closeup(outlines, look) == (look.scale < 256)
    coarse, fine = columns(outlines, None, look), columns(outlines, fetched(path, look), look)
    for one, other in zip(coarse, fine, strict=True):
        assert one is not None
        assert other is not None
        assert one[0] - STEP <= other[0] <= other[1] <= one[1] + STEP or other == (0.0, 0.0)
    elsewhere = Closeup(0, bytes(2 * 256))
    assert columns(outlines, elsewhere, look) == coarse


@given(looks)
def test_what_is_wanted_covers_the_view_with_room_to_scroll(look: Look) -> None:
    asked = wanted(look)
    if asked is None:
        assert look.end - look.first > CLOSEUP_FRAMES - 512
        return
    at, frames = asked
    assert at % 256 == 0
    assert 1 <= frames <= CLOSEUP_FRAMES
    assert at + frames <= look.frames
    there = Closeup(at, bytes(2 * frames))
    assert there.covers(look)
    if 3 * look.width * look.scale < CLOSEUP_FRAMES - 512:
        assert there.covers(look.scrolled(1))
        assert there.covers(look.scrolled(-1))


@needs_samples()
@given(st.floats(-0.1, 1.1), st.floats(-0.1, 1.1))
def test_how_loud_a_stretch_is_comes_from_it_and_its_nearest_neighbours(a: float, b: float) -> None:
    _, samples, outlines = guitar()
    start, end = int(a * samples.size), int(b * samples.size)
    told = loudest(outlines, start, end)
    exact = np.abs(samples[max(start, 0) : max(end, 0)])
    spread = max((end - start) // 4, 256)
    near = np.abs(samples[max(start - spread, 0) : max(end + spread, 0)])
    if exact.size == 0:
        assert told == 0.0
    else:
        assert exact.max() <= told + STEP
        assert told <= near.max() + STEP


# ------------------------------------------------------------------ cells


@pytest.mark.parametrize("rows", range(1, 40))
def test_full_scale_fills_a_column_and_silence_is_a_line(rows: int) -> None:
    lane = wave_cells.lane_rows(rows)
    assert rows - 1 <= lane <= rows
    assert lane < 3 or lane % 2 == 1
    full, silent, nothing = zip(
        *wave_cells.cells([(-1.0, 1.0), (0.0, 0.0), None], rows=lane, top=1.0), strict=True
    )
    assert {glyph for glyph, _ in full} == {"█"}
    assert {glyph for glyph, _ in nothing} == {" "}
    words = "".join(glyph for glyph, _ in silent)
    assert words.strip() == ("▁" if lane < 3 else "─")


@given(st.floats(-1, 0), st.floats(0, 1), st.sampled_from((3, 5, 9, 17)), st.floats(0.01, 1))
def test_what_is_filled_is_as_high_as_the_sample_to_an_eighth(
    low: float, high: float, rows: int, top: float
) -> None:
    ((up, down),) = [heights(one) for one in drawn([(low, high)], rows, top)]
    for height, value in ((up, high), (down, -low)):
        exact = min(value / top, 1.0) * rows * 4
        least = 2.51 if height in (0, 4) else 0.51  # the middle cell has halves only
        assert abs(height - exact) <= least


def drawn(found: list, rows: int, top: float) -> list[list[wave_cells.Cell]]:
    return [list(c) for c in zip(*wave_cells.cells(found, rows=rows, top=top), strict=True)]


def heights(column: list[wave_cells.Cell]) -> tuple[int, int]:
    """Return how many eighths a column is filled over and under its middle."""
    blocks = " ▁▂▃▄▅▆▇█"
    half = len(column) // 2
    middle = column[half][0]
    up, down = 4 * (middle in "▀█"), 4 * (middle in "▄█")
    up += sum(blocks.index(glyph) for glyph, _ in column[:half])
    for glyph, kind in column[half + 1 :]:
        down += 8 - blocks.index(glyph) if kind == "hanging" else blocks.index(glyph)
    return up, down


def test_a_wave_and_its_opposite_are_mirror_images() -> None:
    wave = [(min(v, 0.0), max(v, 0.0)) for v in np.sin(np.linspace(0, 12, 90))]
    opposite = [(-high, -low) for low, high in wave]
    one = [heights(c) for c in drawn(wave, 9, 1.0)]
    other = [heights(c) for c in drawn(opposite, 9, 1.0)]
    assert [(down, up) for up, down in one] == other
    assert max(up for up, _ in one) == 36


def test_lines_and_the_cursor_go_through_free_cells_and_hide_no_sound() -> None:
    rows = wave_cells.cells([(-0.5, 0.5), (0.0, 0.0), (0.0, 0.0), (-0.5, 0.5)], rows=5, top=1.0)
    lines = [Line(x, is_bar=x < 2, label="") for x in range(3)]
    wave_cells.ruled(rows, lines, single=(), here=3)
    told = ["".join(glyph for glyph, _ in column) for column in zip(*rows, strict=True)]
    assert told == ["│▆█▂│", "││┼││", "┊┊┼┊┊", "┃▆█▂┃"]
    assert [row[3][1] for row in rows] == ["here", "here", "here", "here hanging", "here"]


def test_a_single_sample_of_nothing_is_marked() -> None:
    rows = wave_cells.cells([(0.0, 0.0)] * 5, rows=3, top=1.0)
    wave_cells.ruled(rows, [], single=(0, 4), here=None)
    assert "".join(glyph for glyph, _ in rows[1]) == "┼───┼"


def test_every_glyph_takes_one_cell() -> None:
    glyphs = {wave_cells.ZERO, wave_cells.BAR, wave_cells.BEAT, wave_cells.ACROSS, wave_cells.HERE}
    levels = [(-k / 90, k / 90) for k in range(91)]
    glyphs |= {g for row in wave_cells.cells(levels, rows=11, top=1.0) for g, _ in row}
    assert all(cell_len(glyph) == 1 for glyph in glyphs)
    assert not any("\u2800" <= glyph <= "\u28ff" for glyph in glyphs)  # no braille


# ------------------------------------------------------------------ words


def song(*, rate: int = 48_000) -> BarGrid:
    found = bar_grid(Song(name="s", bpm=96.0), time_reference=0, rate=rate)
    assert found is not None
    return found


def test_a_place_is_told_in_bars_time_frame_and_scale() -> None:
    frames = 60 * 48_000
    look = whole(frames, 100).zoomed(9, keep=245_904)
    assert look.scale == 64
    assert place_words(245_904, look, rate=48_000, bars=song()) == (
        "bar 3 · 0:05.123 · frame 245904 · 64 frames a column"
    )
    assert place_words(299_999, look, rate=48_000, bars=song()).startswith(
        "bar 3 beat 2 · 0:06.250"
    )
    assert place_words(0, look, rate=48_000, bars=None) == (
        "0:00.000 · frame 0 · 64 frames a column"
    )


def test_the_whole_is_told_with_its_bars_and_its_length() -> None:
    frames = 20 * 48_000
    look = whole(frames, 100)
    assert whole_words(look, rate=48_000, bars=song()) == (
        "whole part · bars 1 to 8 · 0:20.000 · 960000 frames · 9600 frames a column"
    )


@pytest.mark.parametrize(
    ("scale", "words"),
    [(64, "64 frames a column"), (1, "1 frame a column"), (1 / 8, "8 columns a frame")],
)
def test_a_scale_is_told_whole(scale: float, words: str) -> None:
    assert scale_words(Look(10_000, 10, float(scale))) == words


@pytest.mark.parametrize(
    ("frame", "rate", "words"),
    [
        (0, 48_000, "0:00.000"),
        (245_904, 48_000, "0:05.123"),
        (47_999, 48_000, "0:01.000"),
        (44_100 * 3_723, 44_100, "62:03.000"),
    ],
)
def test_a_time_is_told_to_the_nearest_millisecond(frame: int, rate: int, words: str) -> None:
    assert exact_time(frame, rate=rate) == words


@given(looks, st.sampled_from((44_100, 48_000, 192_000)), st.booleans())
def test_labels_of_the_ruler_never_touch_and_stand_where_they_say(
    look: Look, rate: int, with_bars: bool
) -> None:
    lines = lines_in(look, song(rate=rate)) if with_bars else []
    ticks = ruler_ticks(look, rate=rate, lines=lines)
    end = 0
    for x, words in ticks:
        assert x >= end
        assert words.startswith(TICK)
        end = x + len(words) + 1
    assert end <= look.width + 1


def test_the_ruler_counts_frames_where_a_frame_has_a_column_of_its_own() -> None:
    look = Look(1_000_000, 80, 0.125, column=8 * 1000)
    assert ruler_ticks(look, rate=48_000, lines=[])[:2] == [(0, "╷1000"), (8, "╷1001")]
    late = Look(1_000_000, 80, 0.125, column=8 * 1000 + 3)
    assert ruler_ticks(late, rate=48_000, lines=[])[0] == (5, "╷1001")


def test_the_ruler_tells_time_where_there_are_no_bars_to_compare() -> None:
    look = whole(60 * 48_000, 100)
    ticks = ruler_ticks(look, rate=48_000, lines=[])
    assert [words for _, words in ticks][:3] == ["╷0:00", "╷0:05", "╷0:10"]
    assert ticks[1][0] == 5 * 48_000 // 28_800
    one_bar = [Line(3, is_bar=True, label="7")]
    assert ruler_ticks(look, rate=48_000, lines=one_bar) == ticks


def test_a_file_of_one_frame_can_be_looked_at(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "one.wav", [0.5], 48_000, "PCM_24")
    outlines = outline(AskOutline(path=str(tmp_path / "one.wav"), channel=0))
    look = whole(1, 80)
    assert look.scale == CLOSEST
    found = columns(outlines, fetched(str(tmp_path / "one.wav"), look), look)
    assert found[0] == (0.5, 0.5)
    assert found[8:] == [None] * 72
