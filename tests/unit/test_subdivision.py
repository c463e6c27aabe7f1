"""What a part is played on, found from drawn parts whose truth is known; not the benchmark's seeds."""

from __future__ import annotations

import pytest
from timed import PLAYED, RATE, START, at_random, dice, drawn, grid, hits_at, steps

from audio.grid.bars import BarGrid
from audio.grid.patterns import Pattern
from audio.grid.subdivision import FEWEST, find_subdivision
from audio.vocab.errors import UseError
from audio.vocab.readiness import Hit
from audio.vocab.timing import NoTiming, OtherBar, Subdivision


def found(hits: list[Hit], bars: BarGrid, **known: float) -> Subdivision:
    answer = find_subdivision(hits, bars, rate=RATE, **known)  # type: ignore[arg-type]
    assert isinstance(answer, Subdivision)
    return answer


@pytest.mark.parametrize("kind", PLAYED)
def test_what_a_part_is_played_on_is_found(kind: str) -> None:
    for seed in range(4):
        part = drawn(kind, rng=dice(seed), hits=80, spread_ms=9.0, bpm=110)
        answer = found(part.hits, grid(110))
        assert (answer.parts, answer.swing is None) == (part.parts, part.swing is None)
        if part.swing is not None and answer.swing is not None:
            assert answer.swing == pytest.approx(part.swing, abs=0.02)
        assert answer.confidence > 0.5


def test_bars_in_triplets_are_told_apart_from_a_part_in_eighths() -> None:
    frames = [
        START + (beat + place) * RATE / 2
        for beat in range(32)
        for place in steps(3 if 8 <= beat < 12 else 2)
    ]
    answer = found(hits_at(frames), grid(120))
    assert answer.parts == 2
    assert answer.other_bars == (OtherBar(bar=3, parts=3),)


def test_in_a_long_part_fills_that_come_regularly_are_all_found() -> None:
    part = drawn("mixed", rng=dice(12), hits=3000, spread_ms=6.0, bpm=120)
    answer = found(part.hits, grid(120))
    assert (answer.parts, answer.swing) == (2, None)
    told = {other.bar for other in answer.other_bars if other.parts == 3}
    assert len(told & part.fills) > 0.97 * len(part.fills)
    assert not told - part.fills


def test_a_single_hit_off_the_grid_is_no_reason_for_a_finer_one() -> None:
    frames = [START + at * RATE / 4 for at in range(64)]
    answer = found(hits_at([*frames, START + 10.5 * RATE / 4]), grid(120))
    assert (answer.parts, answer.other_bars) == (2, ())


def test_upstrokes_between_the_beats_alone_are_eighths_not_late_quarters() -> None:
    frames = [START + (at + 0.5) * RATE / 2 for at in range(24)]
    answer = found(hits_at(frames), grid(120))
    assert answer.parts == 2
    assert answer.lag_ms == pytest.approx(0.0, abs=1.0)


@pytest.mark.parametrize("late_ms", [-45.0, -20.0, 20.0, 45.0])
def test_a_constant_lag_changes_nothing_but_the_lag(late_ms: float) -> None:
    part = drawn("eighths", rng=dice(5), hits=60, spread_ms=8.0, bpm=120)
    moved = hits_at(hit.frame + late_ms * RATE / 1000 for hit in part.hits)
    before, after = found(part.hits, grid(120)), found(moved, grid(120))
    assert (after.parts, after.swing) == (before.parts, before.swing)
    assert after.lag_ms - before.lag_ms == pytest.approx(late_ms, abs=1.5)


def test_where_the_grid_begins_changes_nothing() -> None:
    part = drawn("sixteenths", rng=dice(6), hits=60, spread_ms=8.0, bpm=100)
    moved = hits_at(hit.frame + 10_000_000 for hit in part.hits)
    bars = grid(100, later=10_000_000)
    one, two = found(part.hits, grid(100)), found(moved, bars)
    assert (one.parts, one.swing) == (two.parts, two.swing)
    assert one.lag_ms == pytest.approx(two.lag_ms, abs=1e-3)


def test_hits_at_random_are_on_no_subdivision() -> None:
    for seed in range(12):
        hits = at_random(rng=dice(seed), hits=60, bpm=110)
        assert find_subdivision(hits, grid(110), rate=RATE) == NoTiming(
            reason="no subdivision fits", hits=60
        )


def test_so_few_hits_tell_nothing() -> None:
    hits = hits_at(START + at * RATE for at in range(FEWEST - 1))
    assert find_subdivision(hits, grid(60), rate=RATE) == NoTiming(reason="too few hits", hits=3)
    assert find_subdivision([], grid(60), rate=RATE) == NoTiming(reason="too few hits", hits=0)


def test_what_is_given_is_not_looked_for() -> None:
    hits = hits_at(START + at * RATE / 2 for at in range(40))
    answer = found(hits, grid(120), subdivision=4, swing=0.6)
    assert (answer.parts, answer.swing, answer.confidence) == (4, pytest.approx(0.6), 1.0)
    assert found(at_random(rng=dice(1), hits=50, bpm=90), grid(90), subdivision=2).parts == 2
    assert found(hits[:1], grid(120), subdivision=1).parts == 1


def test_a_given_swing_still_leaves_the_subdivision_to_the_hits() -> None:
    frames = [START + (beat + place) * RATE / 2 for beat in range(16) for place in steps(2, 0.6)]
    answer = found(hits_at(frames), grid(120), swing=0.6)
    assert (answer.parts, answer.swing) == (2, pytest.approx(0.6))


@pytest.mark.parametrize(
    ("known", "said"),
    [
        ({"subdivision": 5}, "no subdivision has 5 parts"),
        ({"swing": 0.8}, "between 0.5"),
        ({"subdivision": 3, "swing": 0.6}, "no pairs"),
        ({"subdivision": 6, "swing": 0.6}, "no pairs"),
    ],
)
def test_a_subdivision_that_cannot_be_is_refused(known: dict[str, float], said: str) -> None:
    with pytest.raises(UseError, match=said):
        find_subdivision(hits_at([START]), grid(120), rate=RATE, **known)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("parts", "swing"),
    [
        (1, None),
        (2, None),
        (3, None),
        (4, None),
        (6, None),
        (8, None),
        (2, 0.55),
        (4, 0.67),
        (8, 0.75),
    ],
)
def test_the_nearest_place_is_the_nearest_of_all(parts: int, swing: float | None) -> None:
    pattern = Pattern(parts, swing or 0.5)
    places = [*steps(parts, swing), 1.0]
    assert pattern.steps() == pytest.approx(places[:-1])
    for at in range(200):
        phase = (at + 0.37) / 200
        step, off = pattern.nearest(phase)
        assert abs(off) == pytest.approx(min(abs(phase - place) for place in places), abs=1e-12)
        assert phase - off == pytest.approx(places[step])
