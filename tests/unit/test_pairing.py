"""Hits of two recordings, one to one: against every other way of pairing them, and two other programs."""

from __future__ import annotations

import random
import statistics
from itertools import pairwise

import mir_eval
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment
from timed import RATE, START, dice, drawn, grid, hits_at

from audio.grid.pairing import best_pairs, paired_around
from audio.grid.timing import against_recording

REACH = 50.0
PLACES = st.lists(st.integers(0, 400).map(float), max_size=9, unique=True).map(sorted)
SPACED = st.lists(st.floats(0.0, 20_000.0), max_size=40).map(
    lambda ones: [120.0 * at + one / 1000.0 for at, one in enumerate(sorted(ones))]
)
MS = RATE / 1000.0


def cost(first: list[float], second: list[float], pairs: list[tuple[int, int]]) -> float:
    alone = len(first) + len(second) - 2 * len(pairs)
    return sum(abs(first[one] - second[two]) for one, two in pairs) + alone * REACH / 2


@given(PLACES, PLACES)
def test_no_other_assignment_costs_less(first: list[float], second: list[float]) -> None:
    # The referee pairs everything with everything: scipy.optimize.linear_sum_assignment, places that stay
    # alone being paired with one of their own that costs half the reach.
    pairs = best_pairs(first, second, reach=REACH)
    size = len(first) + len(second)
    table = np.full((size, size), 1e6)
    for one, at in enumerate(first):
        for two, other in enumerate(second):
            if abs(at - other) <= REACH:
                table[one, two] = abs(at - other)
        table[one, len(second) + one] = REACH / 2
    for two in range(len(second)):
        table[len(first) + two, two] = REACH / 2
        table[len(first) + two, len(second) :] = 0.0
    rows, columns = linear_sum_assignment(table)
    assert cost(first, second, pairs) == pytest.approx(float(table[rows, columns].sum()))
    assert all(abs(first[one] - second[two]) <= REACH for one, two in pairs)
    assert all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(pairs))


@given(SPACED, st.randoms(use_true_random=False))
def test_where_hits_stand_apart_as_many_are_paired_as_can_be(
    first: list[float], rng: random.Random
) -> None:
    # Referee: mir_eval.util.match_events, the most pairs within a window (its own bipartite matching). The
    # most pairs and the least cost are the same only where no hit reaches two others.
    second = [at + rng.uniform(-45.0, 45.0) for at in first if rng.random() < 0.8]
    most = mir_eval.util.match_events(np.array(first), np.array(second), REACH)
    assert len(best_pairs(first, second, reach=REACH)) == len(most)


@given(PLACES, PLACES)
def test_the_other_way_round_the_pairs_cost_the_same(
    first: list[float], second: list[float]
) -> None:
    there, back = best_pairs(first, second, reach=REACH), best_pairs(second, first, reach=REACH)
    assert cost(first, second, there) == pytest.approx(cost(second, first, back))


def test_of_two_near_one_the_nearer_is_its_partner() -> None:
    assert best_pairs([100.0], [80.0, 110.0], reach=REACH) == [(0, 1)]
    assert best_pairs([80.0, 110.0], [100.0], reach=REACH) == [(1, 0)]
    assert best_pairs([0.0], [50.0], reach=REACH) == [(0, 0)]
    assert best_pairs([0.0], [50.1], reach=REACH) == []


def test_pairs_are_looked_for_around_what_all_lie_late() -> None:
    first = [200.0 * at for at in range(20)]
    offset, pairs = paired_around(
        first, [at + 40.0 + at % 7 for at in first], offset=0.0, reach=REACH
    )
    assert len(pairs) == 20
    assert offset == pytest.approx(43.0, abs=2.0)
    assert paired_around([], first, offset=9.0, reach=REACH) == (9.0, [])


# ---------------------------------------------------------------- against another recording


def test_a_part_against_the_drums_with_its_lag_told_apart() -> None:
    rng = dice(4)
    drums = [START + at * 0.125 * RATE for at in range(128)]
    played = [at for at in range(128) if at % 2 == 0 or rng.random() < 0.3]
    late = [rng.gauss(14.0, 6.0) for _ in played]
    ghost = drums[3] + 0.0625 * RATE if 3 not in played else drums[5] + 0.0625 * RATE
    hits = hits_at(drums[at] + ms * MS for at, ms in zip(played, late, strict=True))
    answer = against_recording(
        hits, hits_at(at - 777.0 for at in drums), rate=RATE, offset_frames=777.0, bars=grid(120)
    )
    assert [pair.apart_ms for pair in answer.pairs] == pytest.approx(late)
    assert answer.mean_ms == pytest.approx(statistics.fmean(late))
    assert answer.spread_ms == pytest.approx(statistics.stdev(late))
    middle = statistics.fmean(late)
    assert [pair.deviation_ms for pair in answer.pairs] == pytest.approx(
        [ms - middle for ms in late]
    )
    assert [lone.at_s for lone in answer.missing] == pytest.approx(
        [at / RATE for step, at in enumerate(drums) if step not in played]
    )
    assert answer.extra == ()
    assert answer.pairs[0].place == "bar 1 beat 1"
    more = hits_at([*(hit.frame for hit in hits), ghost])
    extra = against_recording(more, hits_at(drums), rate=RATE, reach_ms=30.0).extra
    assert [lone.at_s for lone in extra] == pytest.approx([ghost / RATE])


def test_nothing_against_nothing_is_no_figure() -> None:
    part = drawn("eighths", rng=dice(2), hits=12, spread_ms=5.0, bpm=100)
    answer = against_recording(part.hits, [], rate=RATE)
    assert (answer.mean_ms, answer.spread_ms, answer.pairs, len(answer.extra)) == (
        None,
        None,
        (),
        12,
    )
    assert against_recording([], part.hits, rate=RATE, bars=grid(100)).missing[0].bar == 1
