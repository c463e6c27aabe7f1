"""Meters: what they read, how they fall, what they keep, and where the bank scrolls."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shown import HOSTILE, SIZES, Alone, Clock, assert_fills, levels, strips

from audio.vocab.units import db_from_ratio, ratio_from_db
from tui.present.glyphs import FLOOR_DBFS, bar, cells_of, cut, deflection, steps
from tui.present.needles import NOTHING, Needle, meter_cells
from tui.widgets.levels import Levels


def run(widget: Levels, steps_: Callable[[object], object], *, size: tuple[int, int]) -> None:
    async def shown() -> None:
        async with Alone(widget).run_test(size=size) as pilot:
            result = steps_(pilot)
            if result is not None:
                await result  # type: ignore[misc]

    asyncio.run(shown())


def shown_rows(widget: Levels) -> list[str]:
    return widget.words.split("\n")


def names(count: int) -> tuple[str, ...]:
    return tuple(f"mic {n}" for n in range(1, count + 1))


def channels(count: int) -> tuple[str, ...]:
    return tuple(f"in {n}" for n in range(1, count + 1))


def needle(*dbfs: float, every_s: float = 1 / 30) -> Needle:
    """Return a needle after so many pictures of a level."""
    one, held = Needle(), 0.0
    for n, level in enumerate(dbfs):
        peak = ratio_from_db(level)
        held = max(held, peak)
        one.take(peak=peak, held=held, clips=0, now_s=n * every_s)
    return one


# ---------------------------------------------------------------- the scale


@pytest.mark.parametrize(
    ("dbfs", "share"),
    [(0.0, 1.0), (-10.0, 0.75), (-20.0, 0.5), (-30.0, 0.3), (-40.0, 0.15), (-50.0, 0.075)],
)
def test_the_scale_is_that_of_digital_peak_meters(dbfs: float, share: float) -> None:
    """IEC 60268-18, deflection of its 100 % scale (values from memory)."""
    assert deflection(dbfs) == pytest.approx(share)


@given(st.floats(allow_nan=True, allow_infinity=True), st.integers(1, 200))
def test_any_level_stands_on_the_scale(dbfs: float, cells: int) -> None:
    filled = steps(dbfs, cells)
    assert 0 <= filled <= 8 * cells
    assert (filled > 0) == (dbfs > FLOOR_DBFS)


@given(st.floats(-70.0, 3.0), st.floats(0.0, 30.0), st.integers(1, 100))
def test_more_level_never_fills_less(dbfs: float, more: float, cells: int) -> None:
    assert steps(dbfs + more, cells) >= steps(dbfs, cells)


@given(st.integers(0, 480), st.integers(0, 480), st.integers(1, 60))
def test_a_bar_is_always_as_wide_as_it_was_asked_to_be(filled: int, held: int, cells: int) -> None:
    filled, held = min(filled, 8 * cells), min(max(filled, held), 8 * cells)
    full, tick, rest = bar(filled, held, cells)
    assert cells_of(full + tick + rest) == cells
    assert full.count("█") == filled // 8
    assert len(tick) <= 1


@given(st.text(max_size=40), st.integers(0, 30))
def test_a_name_takes_exactly_the_cells_it_is_given(name: str, room: int) -> None:
    assert cells_of(cut(name, room)) == room


# ---------------------------------------------------------------- one needle


def test_a_bar_rises_at_once_and_falls_twenty_decibels_in_1_7_seconds() -> None:
    """IEC 60268-10, type I: return time (value from memory)."""
    assert needle(-60.0, -6.0).bar_dbfs == pytest.approx(-6.0)
    assert needle(-6.0, *(-90.0,) * 51).bar_dbfs == pytest.approx(-26.0, abs=0.01)


def test_a_bar_never_stands_under_what_arrives() -> None:
    assert needle(-20.0, -20.0, -12.0, -12.5).bar_dbfs == pytest.approx(-12.5, abs=0.5)


def test_a_number_is_the_largest_of_a_fifth_of_a_second_and_six_cells_wide() -> None:
    one = needle(-30.0)
    assert one.number == " −30.0"
    for n, dbfs in enumerate((-50.0, -6.0, -50.0, -50.0, -50.0), start=1):
        one.take(peak=ratio_from_db(dbfs), held=1.0, clips=0, now_s=n / 30)
        assert one.number == " −30.0"
    one.take(peak=ratio_from_db(-50.0), held=1.0, clips=0, now_s=0.2)
    assert one.number == "  −6.0"


def test_nothing_reads_minus_infinity() -> None:
    assert needle(-200.0).number == NOTHING == "  −inf"


@pytest.mark.parametrize("strange", [float("nan"), float("inf"), 1e30, -1.0])
def test_a_level_that_no_converter_gives_breaks_nothing(strange: float) -> None:
    one = Needle()
    one.take(peak=strange, held=strange, clips=0, now_s=0.0)
    assert cells_of("".join(words for words, _ in one.pieces(20))) == meter_cells(20)


def test_a_clip_is_latched_until_it_is_cleared_and_then_only_news_latches_it() -> None:
    one = Needle()
    for clips, latched in ((0, False), (3, True), (3, True)):
        one.take(peak=0.1, held=1.0, clips=clips, now_s=0.0)
        assert one.clipped is latched
    one.clear_clip()
    one.take(peak=0.1, held=1.0, clips=3, now_s=1.0)
    assert not one.clipped
    one.take(peak=0.1, held=1.0, clips=4, now_s=2.0)
    assert one.clipped


def test_a_new_roll_counts_from_nought_and_its_first_clip_latches() -> None:
    one = Needle()
    one.take(peak=0.1, held=1.0, clips=9, now_s=0.0)
    one.clear_clip()
    one.take(peak=0.1, held=0.1, clips=0, now_s=1.0)
    assert not one.clipped
    one.take(peak=1.0, held=1.0, clips=1, now_s=2.0)
    assert one.clipped


# ---------------------------------------------------------------- the bank


def test_each_row_has_name_channel_number_and_its_latch() -> None:
    bank = Levels(clock=Clock())

    def steps_(_: object) -> None:
        bank.show(names(3), channels(3))
        bank.advance(levels(0.5, 0.1, 0.0, clips=(0, 2, 0)))
        rows = shown_rows(bank)
        assert rows[0].split()[:4] == ["mic", "1", "in", "1"]
        assert rows[0].endswith("−6.0")
        assert rows[1].endswith("−20.0 CLIP")
        assert rows[2].endswith("−inf")
        assert rows[0].count("█") > rows[1].count("█") > rows[2].count("█") == 0
        assert bank.clipped == (1,)
        bank.clear_clips()
        assert bank.clipped == ()
        assert "CLIP" not in bank.words

    run(bank, steps_, size=(80, 24))


def test_only_rows_that_changed_are_drawn_again() -> None:
    bank = Levels(clock=Clock())

    def steps_(_: object) -> None:
        bank.show(names(16), channels(16))
        bank.advance(levels(*(0.1,) * 16))
        strips(bank)
        bank.advance(levels(*(0.1,) * 7, 0.9, *(0.1,) * 8))
        assert bank._dirty_rows == {7}

    run(bank, steps_, size=(120, 40))


def test_the_bank_scrolls_to_its_cursor_and_tells_what_clips_out_of_sight() -> None:
    bank = Levels(clock=Clock())

    def steps_(_: object) -> None:
        bank.show(names(64), channels(64))
        bank.advance(levels(*(0.1,) * 64, clips=(*(0,) * 63, 5)))
        assert shown_rows(bank)[-1].strip() == "1–23 of 64, CLIP: mic 64"
        for row in (0, 22, 23, 63, 40, 5, 0):
            bank.cursor = row
            marked = [text for text in shown_rows(bank) if text.startswith("▸")]
            assert [text.split()[2] for text in marked] == [str(row + 1)]
        bank.cursor = 999
        assert bank.cursor == 63
        assert shown_rows(bank)[-1].strip() == "42–64 of 64"
        bank.cursor = None
        assert "▸" not in bank.words

    run(bank, steps_, size=(80, 24))


@pytest.mark.parametrize("size", [*SIZES, (20, 5), (3, 2), (1, 1)])
def test_every_row_fills_its_width_whatever_the_names(size: tuple[int, int]) -> None:
    bank = Levels()

    def steps_(_: object) -> None:
        bank.show(HOSTILE, HOSTILE)
        bank.advance(levels(*(0.5,) * len(HOSTILE), clips=(1,) * len(HOSTILE)))
        bank.cursor = 2
        assert_fills(bank)

    run(bank, steps_, size=size)


def test_a_resize_keeps_levels_cursor_and_latches() -> None:
    bank = Levels(clock=Clock())

    async def steps_(pilot: object) -> None:
        bank.show(names(30), channels(30))
        bank.advance(levels(*(0.25,) * 30, clips=(1,) * 30))
        bank.cursor = 29
        for size in ((40, 10), (200, 60), (80, 12)):
            await pilot.resize_terminal(*size)  # type: ignore[attr-defined]
            await pilot.pause()  # type: ignore[attr-defined]
            assert_fills(bank)
            here = next(text for text in shown_rows(bank) if text.startswith("▸ mic 30"))
            assert here.endswith("−12.0 CLIP")

    run(bank, steps_, size=(80, 24))


def test_without_colour_the_cursor_and_the_latch_are_still_there(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    bank = Levels(clock=Clock())

    def steps_(_: object) -> None:
        bank.show(names(2), channels(2))
        bank.cursor = 1
        bank.advance(levels(0.5, 1.0, clips=(0, 1)))
        assert_fills(bank)
        assert shown_rows(bank)[1].startswith("▸ mic 2")
        assert "CLIP" in shown_rows(bank)[1]

    run(bank, steps_, size=(80, 24))


def test_wrong_use_is_refused() -> None:
    bank = Levels()

    def steps_(_: object) -> None:
        with pytest.raises(ValueError, match="2 names and 1 channels"):
            bank.show(names(2), channels(1))
        bank.show(names(2), channels(2))
        with pytest.raises(ValueError, match="zip"):
            bank.advance(levels(0.1))

    run(bank, steps_, size=(80, 24))


def test_where_no_level_comes_any_more_the_bar_falls_and_what_was_held_stays() -> None:
    one = Needle()
    one.take(peak=0.5, held=0.9, clips=3, now_s=0.0)
    for n in range(1, 61):
        one.rest(n / 30.0)
    assert one.bar_dbfs < db_from_ratio(0.5) - 20.0
    assert one.held_dbfs == db_from_ratio(0.9)
    assert one.clipped
    assert "−inf" in one.number
