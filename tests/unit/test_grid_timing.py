"""Hits against the grid and their own mean: planted deviations come back."""

from __future__ import annotations

import math
import statistics
from fractions import Fraction
from typing import cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from timed import RATE, START, dice, drawn, grid, hits_at, steps

from audio.grid.bars import BarGrid
from audio.grid.ruler import Ruler
from audio.grid.timing import against_grid, against_own_mean
from audio.vocab.readiness import Hit
from audio.vocab.timing import NoTiming, Timing

MS = RATE / 1000.0


def timing(hits: list[Hit], bars: BarGrid, **known: float) -> Timing:
    answer = against_grid(hits, bars, rate=RATE, **known)  # type: ignore[arg-type]
    assert isinstance(answer, Timing)
    return answer


def planted(
    late: list[float], *, bpm: int = 120, parts: int = 2, swing: float | None = None
) -> list[Hit]:
    """One hit a place from bar 1 on, each late by so many ms."""
    beat = 60 * RATE / bpm
    places = steps(parts, swing)
    return hits_at(
        START + (at // parts + places[at % parts]) * beat + ms * MS for at, ms in enumerate(late)
    )


@settings(max_examples=40)
@given(
    st.lists(st.floats(-30.0, 30.0), min_size=8, max_size=60),
    st.sampled_from([(1, None), (2, None), (2, 0.62), (3, None), (4, None), (4, 0.58)]),
    st.sampled_from([60, 97, 120]),
)
def test_planted_deviations_come_back(
    late: list[float], played: tuple[int, float | None], bpm: int
) -> None:
    parts, swing = played
    known = {"subdivision": parts} | ({} if parts % 2 else {"swing": swing or 0.5})
    answer = timing(planted(late, bpm=bpm, parts=parts, swing=swing), grid(bpm), **known)
    assert [hit.deviation_ms for hit in answer.hits] == pytest.approx(late, abs=1e-4)
    assert answer.count == len(late)
    assert answer.mean_ms == pytest.approx(statistics.fmean(late), abs=1e-4)
    assert answer.spread_ms == pytest.approx(statistics.stdev(late), abs=1e-4)
    places = [(hit.bar, hit.beat) for hit in answer.hits]
    assert places == [
        (at // parts // 4 + 1, at // parts % 4 + 1 + at % parts / parts) for at in range(len(late))
    ]


@settings(max_examples=15)
@given(st.lists(st.floats(-15.0, 15.0), min_size=20, max_size=40), st.floats(-40.0, 40.0))
def test_a_constant_drag_is_the_mean_and_nothing_else(late: list[float], drag: float) -> None:
    plain = timing(planted(late), grid(120))
    dragged = timing(planted([one + drag for one in late]), grid(120))
    assert plain.mean_ms is not None
    assert dragged.mean_ms is not None
    assert dragged.mean_ms - plain.mean_ms == pytest.approx(drag, abs=1e-4)
    assert dragged.spread_ms == pytest.approx(plain.spread_ms, abs=1e-4)
    own = against_own_mean(planted([one + drag for one in late]), grid(120), rate=RATE)
    assert isinstance(own, Timing)
    assert own.taken_off_ms == dragged.mean_ms
    middle = statistics.fmean(late)
    assert [hit.deviation_ms for hit in own.hits] == pytest.approx(
        [one - middle for one in late], abs=1e-4
    )
    assert own.mean_ms == pytest.approx(0.0, abs=1e-9)


@settings(max_examples=15)
@given(st.integers(-(10**9), 10**9))
def test_where_part_and_grid_begin_together_changes_nothing(by: int) -> None:
    late = [dice(3).gauss(0.0, 10.0) for _ in range(40)]
    hits = planted(late)
    bars = grid(120, later=by)
    moved = timing(hits_at(hit.frame + by for hit in hits), bars)
    assert [hit.deviation_ms for hit in moved.hits] == pytest.approx(late, abs=1e-3)
    assert [hit.place for hit in moved.hits] == [hit.place for hit in timing(hits, grid(120)).hits]


def test_places_are_said_in_words() -> None:
    said = [hit.place for hit in timing(planted([0.0] * 16, parts=4), grid(120)).hits]
    assert said[5:9] == ["bar 1 beat 2 e", "bar 1 beat 2 and", "bar 1 beat 2 a", "bar 1 beat 3"]


def test_the_and_of_a_swung_beat_lies_late_and_is_still_its_and() -> None:
    hits = planted([0.0] * 16, swing=0.62)
    answer = timing(hits, grid(120))
    assert answer.subdivision.swing == pytest.approx(0.62, abs=0.005)
    assert (answer.hits[1].beat, answer.hits[1].place) == (1.5, "bar 1 beat 1 and")
    assert answer.hits[1].grid_s == pytest.approx(START / RATE + 0.31, abs=2e-3)


def test_a_hit_early_for_bar_2_counts_to_bar_2() -> None:
    answer = timing(planted([0.0] * 8 + [-25.0] + [0.0] * 7), grid(120))
    assert (answer.hits[8].bar, answer.hits[8].beat) == (2, 1.0)
    assert [(bar.bar, bar.count) for bar in answer.bars] == [(1, 8), (2, 8)]
    assert answer.bars[1].mean_ms == pytest.approx(-25.0 / 8)
    assert answer.bars[1].spread_ms == pytest.approx(statistics.stdev([-25.0] + [0.0] * 7))
    assert answer.worst[0] == answer.hits[8]


def test_bar_1_may_lie_before_the_di_and_a_pickup_before_bar_1() -> None:
    early = hits_at(START + at * RATE / 4 for at in range(-4, 12))
    assert timing(early, grid(120)).hits[0].place == "bar 0 beat 3"


def test_strays_count_for_nothing() -> None:
    late = [dice(8).gauss(5.0, 6.0) for _ in range(32)]
    ghost = START + (9 + 0.25) * RATE / 2
    double = START + 12 * RATE / 2 + (late[24] + 40.0) * MS
    answer = timing(hits_at([*(hit.frame for hit in planted(late)), ghost, double]), grid(120))
    strays = {hit.at_s: hit.stray for hit in answer.hits if hit.stray}
    assert strays == {ghost / RATE: "between", double / RATE: "second"}
    assert answer.count == 32
    assert answer.mean_ms == pytest.approx(statistics.fmean(late), abs=1e-4)
    assert answer.spread_ms == pytest.approx(statistics.stdev(late), abs=1e-4)
    assert not [hit for hit in answer.worst if hit.stray]


def test_of_two_at_one_place_the_nearer_counts_whichever_comes_first() -> None:
    late = [0.0] * 16
    for order in (-35.0, 35.0):
        hits = hits_at([*(hit.frame for hit in planted(late)), START + 4 * RATE / 2 + order * MS])
        assert [
            hit.deviation_ms for hit in timing(hits, grid(120)).hits if hit.stray
        ] == pytest.approx([order])


def test_the_ten_worst_are_the_farthest_of_all() -> None:
    part = drawn("eighths", rng=dice(9), hits=60, spread_ms=9.0, bpm=120)
    answer = timing(part.hits, grid(120))
    counted = sorted((abs(hit.deviation_ms) for hit in answer.hits if not hit.stray), reverse=True)
    assert [abs(hit.deviation_ms) for hit in answer.worst] == counted[:10]


def test_a_triplet_fill_is_measured_against_triplets() -> None:
    frames = [
        START + (beat + place) * RATE / 2 + 240
        for beat in range(32)
        for place in steps(3 if 8 <= beat < 12 else 2)
    ]
    answer = timing(hits_at(frames), grid(120))
    assert [hit.deviation_ms for hit in answer.hits] == pytest.approx([5.0] * len(frames), abs=1e-6)
    assert answer.hits[17].place == "bar 3 beat 1, 2nd triplet"


def test_without_a_tempo_there_is_a_reason_and_no_figure() -> None:
    assert against_own_mean(planted([0.0] * 9), None, rate=RATE) == NoTiming(
        reason="no tempo", hits=9
    )


def test_a_single_hit_has_no_spread() -> None:
    answer = timing(planted([7.0]), grid(120), subdivision=1)
    assert (answer.mean_ms, answer.spread_ms) == (pytest.approx(7.0), None)
    assert (answer.bars[0].count, answer.bars[0].spread_ms) == (1, None)


def test_in_six_eight_a_beat_is_an_eighth() -> None:
    bars = grid(120, metre="6/8")  # an eighth lasts a quarter of a second
    frames = [START + at * RATE / 4 for at in range(24)]
    answer = timing(hits_at([*frames, START + 7.5 * RATE / 4]), bars)
    assert answer.subdivision.parts == 1
    assert [hit.place for hit in answer.hits][5:7] == ["bar 1 beat 6", "bar 2 beat 1"]
    given = timing(hits_at([*frames, START + 7.5 * RATE / 4]), bars, subdivision=2, swing=0.5)
    assert given.hits[8].place == "bar 2 beat 2 and"


# ---------------------------------------------------------------- a tempo that changes inside a beat


class Turning:
    """Bars of four, twice as fast from the middle of beat 2 on: all that a ruler asks of a grid."""

    turn, slow = Fraction(5, 2), Fraction(RATE)

    def exact(self, beat: Fraction | int) -> Fraction:
        before, behind = min(Fraction(beat), self.turn), max(beat - self.turn, Fraction(0))
        return START + before * self.slow + behind * self.slow / 2

    def position(self, frame: float | Fraction) -> Fraction:
        at = (Fraction(frame) - START) / self.slow
        return at if at <= self.turn else self.turn + (at - self.turn) * 2

    def named(self, beat: int) -> tuple[int, int]:
        return beat // 4 + 1, beat % 4 + 1


def test_places_in_a_beat_whose_tempo_changes_are_exact() -> None:
    bars = cast("BarGrid", Turning())
    places = [Fraction(at, 4) for at in range(40)]
    frames = [float(bars.exact(place)) for place in places]
    ruler = Ruler(bars, frames)
    assert [ruler.position(frame) for frame in frames] == pytest.approx(
        [float(place) for place in places]
    )
    back = [ruler.frame(math.floor(place), float(place % 1)) for place in places]
    assert back == pytest.approx(frames)
    answer = timing(hits_at(frames), bars, subdivision=4)
    assert [hit.deviation_ms for hit in answer.hits] == pytest.approx([0.0] * 40, abs=1e-6)
