"""Lanes: what is sent, what comes back and where, at every width, whatever the names."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

import numpy as np
import pytest
from needs import needs_samples
from playing import phrase
from shown import HOSTILE, SIZES, Alone, Clock, assert_fills, levels, strips

from tui.present.glyphs import BASELINE, CLIPPED, PLAYHEAD, steps_of_ratio
from tui.widgets.lanes import Lanes

PICTURES_PER_S = 30
COLUMNS = "▁▂▃▄▅▆▇█"


def begun(lanes: Lanes, *, returns: int, span_s: float = 20.0, **more: object) -> None:
    lanes.begin(
        names=("send", *(f"mic {n}" for n in range(1, returns + 1))),
        channels=("out 3", *(f"in {n}" for n in range(1, returns + 1))),
        span_s=span_s,
        **more,  # type: ignore[arg-type]
    )


def roll(
    lanes: Lanes,
    *,
    to_s: float,
    from_s: float = 0.0,
    peaks: Callable[[float], tuple[float, ...]],
    clips: Callable[[float], tuple[int, ...]] | None = None,
) -> None:
    """Feed a roll as the engine shows it, thirty pictures a second."""
    for n in range(round(from_s * PICTURES_PER_S), round(to_s * PICTURES_PER_S) + 1):
        at = n / PICTURES_PER_S
        now = peaks(at)
        told = clips(at) if clips else ()
        lanes.advance(at_s=(at,) * len(now), levels=levels(*now, clips=told))


def lane_rows(lanes: Lanes, lane: int) -> list[str]:
    """Return a lane's columns, row by row, labels left out."""
    label = lanes.axis._label
    rows = [strip.text for strip in strips(lanes.axis)]
    return [rows[y][label:] for y in lanes.axis._places.rows_of(lane)]


def run(lanes: Lanes, steps: Callable[[object], object], *, size: tuple[int, int]) -> None:
    async def shown() -> None:
        async with Alone(lanes).run_test(size=size) as pilot:
            result = steps(pilot)
            if result is not None:
                await result  # type: ignore[misc]

    asyncio.run(shown())


# ---------------------------------------------------------------- what is seen


def test_a_return_that_never_arrives_is_a_row_of_dots_up_to_the_playhead() -> None:
    lanes = Lanes()

    def steps(_: object) -> None:
        begun(lanes, returns=2)
        roll(lanes, to_s=10.0, peaks=lambda _at: (0.3, 0.3, 0.0))
        dead, playhead, ahead = lane_rows(lanes, 2)[-1].partition(PLAYHEAD)
        assert playhead
        assert set(dead) == {BASELINE}
        assert set(ahead) == {" "}
        alive = lane_rows(lanes, 1)[-1].partition(PLAYHEAD)[0]
        assert len(alive) == len(dead)
        assert set(alive) <= set(COLUMNS)

    run(lanes, steps, size=(80, 24))


def test_a_return_that_dies_is_dots_from_that_column_on() -> None:
    lanes = Lanes()

    def steps(_: object) -> None:
        begun(lanes, returns=1)
        roll(lanes, to_s=15.0, peaks=lambda at: (0.3, 0.3 if at < 7.0 else 1e-5))
        row = lane_rows(lanes, 1)[-1]
        assert row.index(BASELINE) == pytest.approx(7.0 / 20.0 * len(row), abs=1.0)
        assert set(row[row.index(BASELINE) : row.index(PLAYHEAD)]) == {BASELINE}

    run(lanes, steps, size=(120, 40))


def test_the_playhead_stands_where_the_send_is_in_every_row_of_every_lane() -> None:
    lanes = Lanes()

    def steps(_: object) -> None:
        begun(lanes, returns=3)
        roll(lanes, to_s=5.0, peaks=lambda _at: (0.3,) * 4)
        rows = [row for lane in range(4) for row in lane_rows(lanes, lane)]
        assert {row.count(PLAYHEAD) for row in rows} == {1}
        assert {row.index(PLAYHEAD) for row in rows} == {len(rows[0]) // 4}

    run(lanes, steps, size=(160, 50))


def test_what_will_be_sent_is_seen_ahead_of_the_playhead_only() -> None:
    lanes = Lanes()

    def steps(_: object) -> None:
        begun(lanes, returns=1, ahead=lambda from_s, _to: 0.5 if from_s >= 10.0 else 0.0)
        before = lane_rows(lanes, 0)[-1]
        half = len(before) // 2
        assert not before[: half - 1].strip()
        assert set(before[half + 1 :]) <= set(COLUMNS)
        roll(lanes, to_s=15.0, peaks=lambda _at: (0.0, 0.0))
        sent, _, coming = lane_rows(lanes, 0)[-1].partition(PLAYHEAD)
        assert set(sent) == {BASELINE}
        assert set(coming) <= set(COLUMNS)

    run(lanes, steps, size=(80, 24))


def test_clipping_is_a_sign_on_its_columns_and_a_word_that_stays() -> None:
    lanes = Lanes()

    def steps(_: object) -> None:
        begun(lanes, returns=2)
        roll(
            lanes,
            to_s=12.0,
            peaks=lambda at: (0.3, 1.0 if 5.0 <= at <= 6.0 else 0.2, 0.2),
            clips=lambda at: (0, int(max(0.0, min(at, 6.0) - 5.0) * 1000), 0),
        )
        top = lane_rows(lanes, 1)[0]
        places_of = [x for x, glyph in enumerate(top) if glyph == CLIPPED]
        per_s = len(top) / 20.0
        assert places_of[0] == pytest.approx(5.0 * per_s, abs=1.0)
        assert places_of[-1] == pytest.approx(6.0 * per_s, abs=1.0)
        assert places_of == list(range(places_of[0], places_of[-1] + 1))
        words = lanes.words.split("\n")
        told = [y for y, text in enumerate(words) if "CLIP" in text]
        assert told == [y for y in lanes.axis._places.rows_of(1) if y in told]
        assert len(told) == 1

    run(lanes, steps, size=(120, 40))


def test_a_lost_place_is_marked_on_the_ruler_with_its_word() -> None:
    lanes = Lanes()

    def steps(_: object) -> None:
        begun(lanes, returns=1, ticks=tuple((float(s), str(s)) for s in range(20)))
        lanes.mark(10.0, "lost")
        ruler = strips(lanes.axis)[0].text[lanes.axis._label :]
        assert ruler.index("▼lost") == len(ruler) // 2

    run(lanes, steps, size=(80, 24))


def test_a_tail_lengthens_the_axis_and_keeps_what_was_seen() -> None:
    lanes = Lanes()

    def steps(_: object) -> None:
        begun(lanes, returns=1, span_s=10.0)
        roll(lanes, to_s=13.0, peaks=lambda at: (0.3, 0.9 if 4.0 <= at <= 5.0 else 0.01))
        assert lanes.axis.span_s == pytest.approx(15.625)
        row = lane_rows(lanes, 1)[-1]
        loud = [x for x, glyph in enumerate(row) if glyph in "▇█"]
        sure = lanes.axis.span_s / len(row) + 1 / PICTURES_PER_S
        assert loud[0] / len(row) * lanes.axis.span_s == pytest.approx(4.0, abs=sure)
        assert loud[-1] / len(row) * lanes.axis.span_s == pytest.approx(5.0, abs=sure)
        ruler = strips(lanes.axis)[0].text[lanes.axis._label :]
        assert ruler.index("tail") - 1 == int(10.0 / 15.625 * len(row))

    run(lanes, steps, size=(80, 13))


@pytest.mark.parametrize("size", [(80, 10), (80, 24)])
def test_lanes_without_room_are_counted_and_their_clipping_is_named(size: tuple[int, int]) -> None:
    lanes = Lanes()

    def steps(_: object) -> None:
        begun(lanes, returns=30)
        roll(
            lanes,
            to_s=1.0,
            peaks=lambda _at: (0.3,) * 31,
            clips=lambda at: (0,) * 29 + (int(at > 0.5),) + (0,),
        )
        shown = size[1] - 2
        assert lanes.axis.words.split("\n")[-1] == f" + {31 - shown} more, CLIP: mic 29"

    run(lanes, steps, size=size)


@needs_samples()
def test_columns_show_what_the_playing_has_there() -> None:
    """The referee is numpy's maximum over the same stretch of real playing."""
    rate, span_s = 8000, 12.0
    played = np.abs(phrase(rate=rate, seconds=span_s, seed=5, peak_dbfs=-3.0))
    lanes = Lanes()

    def peak(at_s: float) -> float:
        end = round(at_s * rate)
        return float(played[max(0, end - rate // 20) : max(end, 1)].max())

    def steps(_: object) -> None:
        begun(lanes, returns=1, span_s=span_s)
        roll(lanes, to_s=span_s - 0.1, peaks=lambda at: (peak(at), peak(at)))
        rows = lane_rows(lanes, 1)
        count, height = len(rows[0]), len(rows)
        window = (
            rate // 10
        )  # a picture's levels are up to 50 ms old, and are drawn up to 33 ms late
        for x in range(int(count * 0.9)):
            first, past = round(x * span_s / count * rate), round((x + 1) * span_s / count * rate)
            got = _filled([row[x] for row in rows])
            most = played[max(0, first - window) : past + window].max()
            least = played[first : past - rate // 25].max(initial=0.0)
            assert steps_of_ratio(least, height) <= got <= steps_of_ratio(most, height)

    run(lanes, steps, size=(80, 24))


def _filled(glyphs: list[str]) -> int:
    return sum(COLUMNS.find(glyph) + 1 for glyph in glyphs)


# ---------------------------------------------------------------- sizes, resizing, names


@pytest.mark.parametrize("size", [*SIZES, (160, 50), (30, 6), (8, 3), (1, 1)])
@pytest.mark.parametrize("returns", [1, 2, 16, 40])
def test_every_row_fills_its_width_whatever_the_names(size: tuple[int, int], returns: int) -> None:
    lanes = Lanes()

    def steps(_: object) -> None:
        names = tuple(HOSTILE[n % len(HOSTILE)] for n in range(returns + 1))
        lanes.begin(
            names=names,
            channels=names,
            span_s=20.0,
            ticks=tuple((float(n), name) for n, name in enumerate(HOSTILE)),
        )
        roll(lanes, to_s=3.0, peaks=lambda _at: (0.3,) * (returns + 1))
        lanes.mark(1.0, HOSTILE[0])
        assert_fills(lanes.axis)
        assert_fills(lanes.meters)

    run(lanes, steps, size=size)


def test_a_resize_in_the_middle_of_a_roll_draws_what_a_screen_of_that_size_would_have() -> None:
    def playing(at: float) -> tuple[float, ...]:
        return (abs(np.sin(3.0 * at)) * 0.8, abs(np.sin(5.0 * at)) * 0.3, 0.0)

    def fed(lanes: Lanes, sizes: tuple[tuple[int, int], ...]) -> str:
        found: list[str] = []

        async def steps(pilot: object) -> None:
            begun(lanes, returns=2)
            for n, size in enumerate(sizes):
                await pilot.resize_terminal(*size)  # type: ignore[attr-defined]
                await pilot.pause()  # type: ignore[attr-defined]
                roll(lanes, from_s=4.0 * n + 1 / PICTURES_PER_S, to_s=4.0 * n + 4.0, peaks=playing)
            found.append(lanes.axis.words)

        run(lanes, steps, size=(100, 30))
        return found[0]

    moved = fed(Lanes(), ((200, 60), (40, 8), (80, 24)))
    assert moved == fed(Lanes(), ((80, 24),) * 3)
    assert "█" in moved


def test_without_colour_everything_is_said_and_nothing_is_coloured(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def seen(lanes: Lanes) -> None:
        begun(lanes, returns=2, ahead=lambda *_: 0.5)
        roll(
            lanes, to_s=5.0, peaks=lambda _at: (0.3, 1.0, 0.0), clips=lambda at: (0, int(at > 2), 0)
        )
        lanes.mark(3.0, "lost")

    def words_of(*, no_colour: bool) -> str:
        monkeypatch.delenv("NO_COLOR", raising=False)
        if no_colour:
            monkeypatch.setenv("NO_COLOR", "1")
        lanes, found = Lanes(clock=Clock()), []

        def steps(_: object) -> None:
            seen(lanes)
            found.append(lanes.words)
            if no_colour:
                for strip in [*strips(lanes.axis), *strips(lanes.meters)]:
                    assert all(_is_grey(segment.style) for segment in strip)

        run(lanes, steps, size=(120, 40))
        return str(found[0])

    words = words_of(no_colour=True)
    assert words == words_of(no_colour=False)
    assert all(sign in words for sign in ("CLIP", CLIPPED, "▼lost", PLAYHEAD, BASELINE))


def _is_grey(style: object) -> bool:
    colours = (style.color, style.bgcolor)  # type: ignore[attr-defined]
    return all(one is None or one.triplet is None or len(set(one.triplet)) == 1 for one in colours)


# ---------------------------------------------------------------- cheap


def test_a_picture_that_changes_nothing_draws_nothing() -> None:
    lanes = Lanes(clock=Clock())

    def steps(_: object) -> None:
        begun(lanes, returns=16)
        roll(lanes, to_s=1.0, peaks=lambda _at: (0.3,) * 17)
        strips(lanes.axis), strips(lanes.meters)
        lanes.advance(at_s=(1.01,) * 17, levels=levels(*(0.3,) * 17))
        assert not lanes.axis._dirty_rows
        assert not lanes.meters._dirty_rows

    run(lanes, steps, size=(160, 50))


def test_one_lane_that_changes_draws_one_meter() -> None:
    lanes = Lanes(clock=Clock())

    def steps(_: object) -> None:
        begun(lanes, returns=4)
        lanes.advance(at_s=(1.0,) * 5, levels=levels(*(0.1,) * 5))
        strips(lanes.meters)
        lanes.advance(at_s=(1.0,) * 5, levels=levels(0.1, 0.1, 0.9, 0.1, 0.1))
        drawn = set(lanes.meters._dirty_rows)
        assert drawn
        assert drawn <= set(lanes.axis._places.rows_of(2))

    run(lanes, steps, size=(120, 40))


# ---------------------------------------------------------------- wrong use


def test_wrong_use_is_refused_with_the_way_out() -> None:
    lanes = Lanes()

    def steps(_: object) -> None:
        with pytest.raises(ValueError, match="give its length in seconds"):
            begun(lanes, returns=1, span_s=0.0)
        with pytest.raises(ValueError, match="2 lanes and 1 channels"):
            lanes.begin(names=("send", "close"), channels=("out 3",), span_s=1.0)
        with pytest.raises(ValueError, match="the send at least"):
            lanes.begin(names=(), span_s=1.0)
        begun(lanes, returns=2)
        with pytest.raises(ValueError, match="zip"):
            lanes.advance(at_s=(0.0,) * 3, levels=levels(0.1, 0.1))

    run(lanes, steps, size=(80, 24))


def test_once_nothing_comes_any_more_the_meters_fall_to_rest() -> None:
    clock = Clock()
    lanes = Lanes(clock=clock)

    def steps(_: object) -> None:
        begun(lanes, returns=1)
        roll(lanes, to_s=1.0, peaks=lambda _: (0.5, 0.25))
        before = lanes.meters.words
        for _ in range(90):
            clock.now_s += 1.0 / PICTURES_PER_S
            lanes.rest()
        assert before != lanes.meters.words
        assert lanes.meters.words.count("−inf") == 2
        assert "−6.0" in lanes.meters.words  # the largest of the roll stays

    run(lanes, steps, size=(100, 20))
