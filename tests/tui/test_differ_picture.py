"""Two spectra and what lies between them in cells: told apart by shape alone, within the room there is."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from msgspec.structs import replace

sys.path.append(str(Path(__file__).parents[1] / "unit"))

from differences_said import A, shelved, sounds, told

from audio.vocab.differences import Differences, Rings
from tui.present.differ_picture import LABELS, THICK, THIN, legend, picture, scale_of
from tui.present.differ_table import table, title, words_lines

WORDS = ("brighter by 6.0 dB above 2 kHz",)


def plain(lines: object) -> list[str]:
    return [line.plain.rstrip() for line in lines]  # type: ignore[attr-defined]


def test_at_80_columns_a_shelf_is_drawn_so() -> None:
    assert plain(picture(shelved(), 80, 11)) == [
        "−30 dB               ▁▄▁▄▄─■■─■■▔▀▀▔▀▔▀▀─■■─■■▁▄▄▁▄▄▄▄▄▄▄▄▄▄",
        "       ▁▄─■■─■■▔▀▀▔▀▀                              ▔▔▔▔▔▔────▀▀▁▀▁■■■■■▄▄▄▄▄▄",
        "   −60                                                              ▔▔▔▔▔▔────▀▀",
        "",
        "",
        "    Hz   63       125     250     500      1k      2k       4k      8k       16k",
        " +6 dB                                                ▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄",
        "                                                   ▄▄▄██████████████████████████",
        "     0 ········─────────────────────────────────────────────────────────────────",
        "               ▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀",
        "    −6",
    ]


@pytest.mark.parametrize("columns", [60, 80, 103, 160, 250])
@pytest.mark.parametrize("rows", [10, 11, 30])
def test_the_picture_keeps_to_its_room_and_names_every_octave(columns: int, rows: int) -> None:
    lines = picture(shelved(), columns, rows)
    assert len(lines) <= rows
    assert max(line.cell_len for line in lines) <= columns
    axis = next(line for line in plain(lines) if line.lstrip().startswith("Hz"))
    assert axis.split()[1:] == list(LABELS.values())


def test_no_glyph_is_wider_than_a_cell_and_none_is_of_braille() -> None:
    drawn = "".join(plain(picture(shelved(), 160, 30)))
    assert not [glyph for glyph in drawn if "\u2800" <= glyph <= "\u28ff"]
    assert set(drawn) & set(THIN)
    assert set(drawn) & set(THICK)


def test_two_alike_share_every_cell_and_nothing_stands_over_the_line() -> None:
    one = replace(shelved(), b=A)
    flat = tuple(replace(each, apart=None) for each in one.thirds)
    lines = plain(picture(replace(one, loudness=None, thirds=flat), 80, 11))
    assert lines[-3].replace("·", "") == "     0 "
    assert [line.strip("▀▄█ ") for line in lines[-5:-3]] == ["+3 dB", ""]


def test_the_scale_holds_the_largest_difference() -> None:
    assert scale_of(shelved().thirds) == 6
    assert scale_of(()) == 3


def test_where_nothing_was_measured_one_line_says_so() -> None:
    assert plain(picture(told(), 80, 11)) == [
        " no spectrum: too little playing in common, or too narrow a window"
    ]
    assert len(picture(shelved(), 40, 11)) == 1


def test_the_legend_names_both_lines() -> None:
    assert legend("002 crunch", "the bare DI").plain == (
        "       ▔─▁ A 002 crunch   ▀■▄ B the bare DI"
    )


def test_the_figures_stand_side_by_side_noise_at_equal_loudness() -> None:
    one = sounds(shelved(), WORDS)
    assert plain([title(one), *table(one, 80), *words_lines(one, 80)]) == [
        " rhythm-left  A 002 crunch  ·  B 001 bare path  the whole",
        "                     A       B     B−A                        A       B     B−A",
        " loudness LUFS   −20.0   −17.0    +3.0    noise dBFS      −80.0   −80.0    −3.0",
        " peak dBFS        −6.0    −6.0    +0.0    hum dBFS            ·       ·       ·",
        " true pk dBTP     −5.8    −5.8    +0.0    echo ms             ·       ·       ·",
        " crest dB         12.0    12.0    +0.0    tail s           0.04    0.04   +0.00",
        " what would make A sound like B, at equal loudness:",
        "   brighter by 6.0 dB above 2 kHz",
    ]
    assert len(table(one, 60)) == 9


def _hidden() -> Differences:
    rings = Rings(falls_s=None, reason="the noise lies over it")
    return told(b=replace(A, noise_dbfs=None, rings=rings))


def test_figures_that_are_missing_have_their_reason_below() -> None:
    assert plain(words_lines(sounds(_hidden(), WORDS), 80))[2:] == [
        " B: no noise told, there is no rest to hear it in",
        " B: no tail told, the noise lies over it",
    ]
