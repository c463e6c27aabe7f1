"""Large letters: the largest that fit, never moving, never only a colour."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shown import HOSTILE, SIZES, Alone, assert_fills, strips

from tui.present.letters import FONT, PIXEL_ROWS, large
from tui.present.letters import SIZES as LETTER_SIZES
from tui.widgets.banner import MARKS, Banner, Kind

KINDS: tuple[Kind, ...] = ("plain", "faint", "accent", "well", "care", "bad")


def run(banner: Banner, steps: Callable[[object], object], *, size: tuple[int, int]) -> None:
    banner.styles.height = "1fr"

    async def shown() -> None:
        async with Alone(banner).run_test(size=size) as pilot:
            result = steps(pilot)
            if result is not None:
                await result  # type: ignore[misc]

    asyncio.run(shown())


def inked(banner: Banner) -> list[str]:
    """Return the rows that have something in them."""
    return [line for line in banner.words.split("\n") if line.strip()]


def read_back(lines: list[str]) -> set[tuple[int, int]]:
    """Return which half cells are inked: half row and column of each."""
    halves = {"▀": (0,), "▄": (1,), "█": (0, 1), " ": ()}
    return {
        (2 * y + half, x)
        for y, line in enumerate(lines)
        for x, glyph in enumerate(line)
        for half in halves[glyph]
    }


# ---------------------------------------------------------------- letters


def test_every_letter_is_drawn_evenly_and_no_two_alike() -> None:
    assert set("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789:.- ") <= set(FONT)
    for letter, drawn in FONT.items():
        assert len(drawn) == PIXEL_ROWS, letter
        assert len({len(row) for row in drawn}) == 1, letter
    different = {drawn for letter, drawn in FONT.items() if letter != "−"}
    assert len(different) == len(FONT) - 1  # the hyphen and the minus sign are one


def test_all_digits_are_equally_wide() -> None:
    assert len({len(FONT[digit][0]) for digit in "0123456789"}) == 1


@given(
    words=st.text(alphabet="AZ019:.- ", min_size=1, max_size=12),
    columns=st.integers(0, 250),
    rows=st.integers(0, 60),
)
def test_letters_fit_and_no_larger_size_would(words: str, columns: int, rows: int) -> None:
    drawn = large(words, columns=columns, rows=rows)
    pixels = sum(len(FONT[letter][0]) + 1 for letter in words) - 1
    fitting = [s for s in LETTER_SIZES if s.rows <= rows and s.cells * pixels <= columns]
    if not (fitting and words.strip()):
        assert drawn == []
        return
    assert len(drawn) == fitting[0].rows
    assert {len(line) for line in drawn} == {fitting[0].cells * pixels}


@pytest.mark.parametrize("rows", [3, 5, 10, 15, 20])
def test_every_size_draws_the_same_pixels(rows: int) -> None:
    """Read back cell by cell against the font's own drawing, scaled."""
    drawn = large("1:07", columns=400, rows=rows)
    size = next(s for s in LETTER_SIZES if s.rows <= rows)
    pixels = [".".join(FONT[letter][y] for letter in "1:07") for y in range(PIXEL_ROWS)]
    wanted = {
        (y * size.half_rows + dy, x * size.cells + dx)
        for y, row in enumerate(pixels)
        for x, pixel in enumerate(row)
        if pixel == "#"
        for dy in range(size.half_rows)
        for dx in range(size.cells)
    }
    assert read_back(drawn) == wanted


# ---------------------------------------------------------------- the widget


def test_a_time_that_runs_down_keeps_its_place_and_width() -> None:
    banner = Banner()

    def steps(_: object) -> None:
        widths = set()
        for seconds in range(599, 0, -7):
            banner.say(f"{seconds // 60}:{seconds % 60:02d}")
            strip_lines = [strip.text for strip in strips(banner)]
            columns = {x for line in strip_lines for x, glyph in enumerate(line) if glyph != " "}
            widths.add(max(columns) // 4)
        assert len(widths) == 1

    run(banner, steps, size=(80, 10))


def test_more_room_gives_larger_letters_and_none_gives_plain_text() -> None:
    heights = []
    for size in ((20, 1), (40, 3), (80, 5), (120, 12), (200, 30)):
        banner = Banner()

        def steps(_: object, banner: Banner = banner) -> None:
            banner.say("1:12")
            heights.append(len(inked(banner)))

        run(banner, steps, size=size)
    assert heights == [1, 3, 5, 10, 20]


def test_what_has_no_drawing_is_said_in_plain_text() -> None:
    banner = Banner()

    def steps(_: object) -> None:
        for name in HOSTILE:
            banner.say(name, "bad")
            assert_fills(banner)
        banner.say("[b]no[/b]")
        assert [line.strip() for line in inked(banner)] == ["[b]no[/b]"]

    run(banner, steps, size=(80, 10))


@pytest.mark.parametrize("size", [*SIZES, (20, 3), (2, 1), (1, 1)])
@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_fills_every_size(size: tuple[int, int], kind: Kind) -> None:
    banner = Banner()

    def steps(_: object) -> None:
        for words in ("ROLLING", "12:34", "", "a very long word indeed, longer than any screen"):
            banner.say(words, kind)
            assert_fills(banner)

    run(banner, steps, size=size)


def test_kinds_that_judge_differ_without_colour(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    banner = Banner()

    def steps(_: object) -> None:
        seen = set()
        for kind in ("plain", "well", "care", "bad"):
            banner.say("0:07", kind)  # type: ignore[arg-type]
            assert_fills(banner)
            seen.add(banner.words)
        assert len(seen) == 4
        assert set(MARKS) == {"well", "care", "bad"}

    run(banner, steps, size=(80, 5))


def test_a_digit_that_changes_draws_only_rows_that_change() -> None:
    banner = Banner()

    def steps(_: object) -> None:
        banner.say("0:08")
        strips(banner)
        banner.say("0:06")  # only its second row of pixels differs
        assert banner._dirty_rows == {1}
        strips(banner)
        banner.say("0:06")
        assert not banner._dirty_rows

    run(banner, steps, size=(80, 5))


def test_a_resize_chooses_the_size_again() -> None:
    banner = Banner()

    async def steps(pilot: object) -> None:
        banner.say("GOOD", "well")
        heights = []
        for size in ((80, 5), (30, 3), (200, 40)):
            await pilot.resize_terminal(*size)  # type: ignore[attr-defined]
            await pilot.pause()  # type: ignore[attr-defined]
            assert_fills(banner)
            heights.append(len(inked(banner)))
        assert heights == [5, 3, 15]

    run(banner, steps, size=(120, 24))
