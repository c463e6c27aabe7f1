"""Two DIs of one part against each other: what is planted comes back, and swapped it comes back turned."""

from __future__ import annotations

import statistics

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from timed import RATE, dice, drawn, grid, hits_at

from audio.grid.doubles import OFFSET_MS, compare_doubles

MS = RATE / 1000.0


def first_take(seed: int, *, hits: int = 60, kind: str = "eighths", bpm: int = 100) -> list[float]:
    part = drawn(kind, rng=dice(seed), hits=hits, spread_ms=8.0, bpm=bpm)
    return [hit.frame for hit in part.hits]


@settings(max_examples=40)
@given(st.integers(0, 50), st.floats(-OFFSET_MS + 30.0, OFFSET_MS - 30.0))
def test_an_offset_and_every_deviation_are_found(seed: int, offset: float) -> None:
    first, rng = first_take(seed), dice(seed)
    late = [rng.gauss(offset, 7.0) for _ in first]
    second = hits_at(at + ms * MS for at, ms in zip(first, late, strict=True))
    found = compare_doubles(hits_at(first), second, rate=RATE)
    assert (found.missing, found.extra) == ((), ())
    assert [pair.apart_ms for pair in found.pairs] == pytest.approx(late, abs=1e-6)
    assert found.offset_ms == pytest.approx(statistics.median(late))
    assert found.mean_ms == pytest.approx(statistics.fmean(late))
    assert found.spread_ms == pytest.approx(statistics.stdev(late))
    middle = statistics.fmean(late)
    assert found.worst[0].deviation_ms == pytest.approx(max((ms - middle for ms in late), key=abs))


@settings(max_examples=40)
@given(st.integers(0, 50), st.floats(-150.0, 150.0))
def test_swapping_the_doubles_turns_every_sign(seed: int, offset: float) -> None:
    rng = dice(seed)
    first = first_take(seed)
    second = [at + rng.gauss(offset, 9.0) * MS for at in first if rng.random() < 0.9]
    there = compare_doubles(hits_at(first), hits_at(second), rate=RATE)
    back = compare_doubles(hits_at(second), hits_at(first), rate=RATE)
    assert there.mean_ms is not None
    assert back.mean_ms == pytest.approx(-there.mean_ms)
    assert back.spread_ms == pytest.approx(there.spread_ms)
    assert [pair.apart_ms for pair in back.pairs] == pytest.approx(
        [-pair.apart_ms for pair in there.pairs]
    )
    assert [lone.at_s for lone in back.missing] == [lone.at_s for lone in there.extra]
    assert [lone.at_s for lone in back.extra] == [lone.at_s for lone in there.missing]


@pytest.mark.parametrize("seed", range(5))
def test_a_hit_left_out_is_missing_and_one_more_is_extra(seed: int) -> None:
    rng = dice(seed)
    first = first_take(seed)
    gone = rng.randrange(5, 55)
    ghost = (first[20] + first[21]) / 2 + 25.0 * MS
    if min(abs(ghost - at) for at in first) < 90.0 * MS:
        ghost = first[-1] + 200.0 * MS
    second = [at + rng.gauss(25.0, 6.0) * MS for at in first]
    lacking = [at for index, at in enumerate(second) if index != gone]
    found = compare_doubles(
        hits_at(first), hits_at([*lacking, ghost + 25.0 * MS]), rate=RATE, bars=grid(100)
    )
    assert [lone.at_s for lone in found.missing] == [first[gone] / RATE]
    assert [lone.at_s for lone in found.extra] == [(ghost + 25.0 * MS) / RATE]
    assert found.missing[0].place.startswith(f"bar {found.missing[0].bar} beat ")


def test_a_steady_run_is_not_shifted_by_a_note() -> None:
    for seed in range(100, 120):
        rng = dice(seed)
        run = [24_000 + at * 200.0 * MS for at in range(120)]  # eighths at 150, one like the other
        takes = [hits_at(at + rng.gauss(0.0, 11.0) * MS for at in run) for _ in range(2)]
        found = compare_doubles(*takes, rate=RATE)
        assert len(found.pairs) == 120
        assert abs(found.offset_ms) < 8.0


def test_what_is_known_of_the_offset_is_taken_off_first() -> None:
    first = first_take(3)
    second = hits_at(at - 5 * RATE + 12.0 * MS for at in first)
    found = compare_doubles(hits_at(first), second, rate=RATE, offset_frames=5.0 * RATE)
    assert found.mean_ms == pytest.approx(12.0)
    assert found.pairs[0].at_s == pytest.approx((first[0] + 12.0 * MS) / RATE)
    assert found.pairs[0].other_s == pytest.approx(first[0] / RATE)


def test_a_strum_against_a_single_counts_from_its_first_string_and_tells_its_width() -> None:
    first = first_take(4, hits=20)
    found = compare_doubles(hits_at(first), hits_at(first, width_ms=24.0), rate=RATE)
    assert {pair.strum_ms for pair in found.pairs} == {24.0}
    assert found.mean_ms == 0.0


def test_places_are_the_first_takes() -> None:
    first = [24_000 + at * RATE / 4 for at in range(32)]
    found = compare_doubles(
        hits_at(first), hits_at(at + 110.0 * MS for at in first), rate=RATE, bars=grid(120)
    )
    assert [pair.place for pair in found.pairs][:3] == [
        "bar 1 beat 1",
        "bar 1 beat 1 and",
        "bar 1 beat 2",
    ]


def test_takes_with_nothing_in_common_have_no_figure() -> None:
    first = first_take(5)
    far = hits_at(at + 3600.0 * RATE for at in first)
    found = compare_doubles(hits_at(first), far, rate=RATE)
    assert (found.pairs, found.mean_ms, found.spread_ms, found.worst) == ((), None, None, ())
    assert (len(found.missing), len(found.extra)) == (60, 60)
    assert compare_doubles([], [], rate=RATE, bars=grid(100)).pairs == ()
