"""Hits are the same however loud the recording, wherever it begins and whatever its rate."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hits.modal import modal
from hits.plans import FAMILIES, Plan, Stroke
from hits.strings import di
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from scipy.signal import resample_poly

from audio.measure import onset_flux, onset_place
from audio.measure.onsets import find_hits

RATE = 48_000
SAME_MS = 0.5
"""What moving the grid of hops may do to a hit."""


@cache
def music(family: str = "single notes", seed: int = 11) -> tuple[np.ndarray, Plan]:
    plan = FAMILIES[family](np.random.default_rng(seed))
    short = Plan(strokes=plan.strokes[:12], seconds=plan.strokes[11].at_s + 0.3)
    samples = di(short, modal, rate=RATE, seed=seed).astype(np.float32)
    samples.flags.writeable = False  # all tests share it
    return samples, short


def frames(samples: np.ndarray, *, rate: int = RATE, sure: float = 0.0) -> np.ndarray:
    hits = find_hits(samples, rate=rate)
    return np.array([hit.frame for hit in hits if hit.confidence >= sure])


@pytest.mark.parametrize("size", [0, 1, 2, 10, 100, 1000, 50_000])
@pytest.mark.parametrize("value", [0.0, 1e-30, 0.3, -1.0])
def test_what_never_moves_has_no_hits(size: int, value: float) -> None:
    assert find_hits(np.full(size, value, dtype=np.float32), rate=RATE) == ()


@pytest.mark.parametrize("hz", [41.0, 100.0, 999.0])
def test_a_square_wave_at_full_scale_has_no_hit_but_its_first_edge(hz: float) -> None:
    square = np.sign(np.sin(2 * np.pi * hz * (np.arange(200_000) + 0.3) / RATE)).astype(np.float32)
    assert all(frame < RATE / hz for frame in frames(square))


def test_one_moving_sample_in_silence_is_placed_to_the_frame() -> None:
    samples = np.zeros(60_000, dtype=np.float32)
    samples[31_234] = 0.5
    assert frames(samples) == pytest.approx([31_234], abs=4)


@pytest.mark.slow
@given(begin=st.integers(1, 3000))
@settings(max_examples=5, deadline=None, phases=(Phase.generate,))
def test_frames_put_before_move_the_sure_hits_by_as_many(begin: int) -> None:
    """What is less sure may come or go with the grid of hops."""
    samples, _ = music()
    noise = np.random.default_rng(begin).normal(0, 1e-4, begin).astype(np.float32)
    later = np.concatenate((noise, samples))
    for one, other, by in ((samples, later, begin), (later, samples, -begin)):
        for frame in frames(one, sure=0.97) + by:
            assert np.min(np.abs(frames(other) - frame)) <= SAME_MS * RATE / 1e3


@given(gain=st.floats(0.003, 1.0))
@settings(max_examples=8, deadline=None)
def test_gain_changes_levels_only(gain: float) -> None:
    samples, _ = music()
    usual, quieter = (find_hits(samples * np.float32(g), rate=RATE) for g in (1.0, gain))
    assert [hit.frame for hit in quieter] == pytest.approx([hit.frame for hit in usual], abs=1.0)
    change_db = 20 * np.log10(gain)
    levels = [hit.level_dbfs + change_db for hit in usual]
    assert [hit.level_dbfs for hit in quieter] == pytest.approx(levels, abs=0.01)


@pytest.mark.parametrize("size", [37, 500])
def test_blocks_of_any_size_give_the_same_hits(size: int, monkeypatch: pytest.MonkeyPatch) -> None:
    samples, _ = music()
    whole = frames(samples)
    monkeypatch.setattr(onset_flux, "_LOG_HOPS", size)
    monkeypatch.setattr(onset_flux, "_BLOCK_HOPS", size)
    monkeypatch.setattr(onset_flux, "_BLOCK_FRAMES", 100 * size)
    monkeypatch.setattr(onset_place, "_CHUNK", 3)
    assert frames(samples) == pytest.approx(whole, abs=1.0)


@pytest.mark.parametrize(
    ("rate", "up", "down"), [(44_100, 147, 160), (96_000, 2, 1), (192_000, 4, 1)]
)
def test_any_rate_gives_the_same_moments(rate: int, up: int, down: int) -> None:
    samples, plan = music()
    again = resample_poly(samples.astype(float), up, down).astype(np.float32)
    found_s = frames(again, rate=rate) / rate
    assert found_s == pytest.approx(frames(samples) / RATE, abs=SAME_MS / 1e3)
    assert len(found_s) == pytest.approx(len(plan.hits_s()), abs=1)


@pytest.mark.parametrize(("apart_ms", "hits"), [(0, 1), (55, 1), (68, 2), (80, 2)])
def test_a_strum_is_one_hit_and_a_run_as_fast_as_anybody_plays_is_not(
    apart_ms: float, hits: int
) -> None:
    strokes = tuple(
        Stroke(at_s=0.4 + n * apart_ms / 1e3, string=n, pitch=45 + 7 * n) for n in range(2)
    )
    samples = di(Plan(strokes=strokes, seconds=1.5), modal, rate=RATE, seed=3)
    assert len(frames(samples.astype(np.float32))) == hits


def test_a_bent_note_that_rings_is_struck_once() -> None:
    stroke = Stroke(at_s=0.4, string=3, pitch=60, bend=0.7)
    samples = di(Plan(strokes=(stroke,), seconds=2.5), modal, rate=RATE, seed=4)
    assert frames(samples.astype(np.float32)) / RATE == pytest.approx([0.4], abs=0.001)


@pytest.mark.parametrize("noise_dbfs", [-66.0, -60.0])
def test_noise_behind_the_last_note_is_not_taken_for_hits(noise_dbfs: float) -> None:
    samples, plan = music()
    noise = np.random.default_rng(31).normal(0, 10 ** (noise_dbfs / 20), samples.size + 5 * RATE)
    noise[: samples.size] += samples
    found_s = frames(noise.astype(np.float32), sure=0.5) / RATE
    assert np.count_nonzero(found_s > plan.seconds) <= 1
    assert np.count_nonzero(found_s <= plan.seconds) >= len(plan.hits_s()) - 2


@pytest.mark.parametrize("before_ms", [5, 12, 25, 40])
@pytest.mark.parametrize("under_db", [36, 42])
def test_a_pick_that_touches_the_string_first_is_not_the_hit(
    before_ms: float, under_db: float
) -> None:
    """The touch scrapes on until the string is struck."""
    stroke = Stroke(at_s=0.4, string=1, pitch=47)
    samples = di(Plan(strokes=(stroke,), seconds=1.5), modal, rate=RATE, seed=5)
    scrape = np.random.default_rng(6).normal(0, 0.3, round(before_ms * RATE / 1e3))
    begin = round((0.4 - before_ms / 1e3) * RATE)
    samples[begin : begin + scrape.size] += scrape * np.max(np.abs(samples)) / 10 ** (under_db / 20)
    assert frames(samples.astype(np.float32)) / RATE == pytest.approx([0.4], abs=0.001)


def test_a_strum_begins_at_its_first_string_even_if_that_is_12_db_softer() -> None:
    strokes = (
        Stroke(at_s=0.4, string=0, pitch=40, level_db=-12.0),
        Stroke(at_s=0.43, string=1, pitch=47, counts=False),
    )
    samples = di(Plan(strokes=strokes, seconds=1.5), modal, rate=RATE, seed=7)
    assert frames(samples.astype(np.float32)) / RATE == pytest.approx([0.4], abs=0.001)
