"""Edit joints: found where they were planted, and nowhere else."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from needs import needs_samples
from numpy.typing import NDArray
from playing import phrase
from scipy.linalg import solve_toeplitz
from scipy.signal import lfilter
from scipy.stats import norm

from audio.measure import edit_joints, prediction
from audio.measure.edit_joints import find_edit_joints
from audio.measure.joint_fit import EARLIER, LATER, SPAN, fits
from audio.measure.prediction import ORDER, block_frames, predicted

RATE = 48_000
Singles = NDArray[np.float32]


def strings(seconds: float = 2.0, *, rate: int = RATE, seed: int = 1) -> Singles:
    """Return tones that ring over noise that is coloured as an input's is."""
    draw = np.random.default_rng(seed)
    late = np.arange(round(seconds * rate)) / rate
    tones = sum(
        np.exp(-late * k / 2.0) * np.sin(2 * np.pi * 110.0 * k * late + k) / k for k in range(1, 12)
    )
    return (0.2 * tones + 1e-4 * draw.standard_normal(late.size)).astype(np.float32)


def with_step(sound: Singles, at: int, size: float) -> Singles:
    joined = sound.astype(np.float64)
    late = np.arange(sound.size - at)
    joined[at:] += size * np.exp(-late / 2000.0)
    return joined.astype(np.float32)


def with_slope(sound: Singles, at: int, size: float) -> Singles:
    joined = sound.astype(np.float64)
    late = np.arange(sound.size - at)
    joined[at:] += size * (late + 1) * np.exp(-late / 800.0)
    return joined.astype(np.float32)


@pytest.mark.parametrize("at", [20_000, 40_959, 40_960, 47_111])
def test_a_step_is_found_at_its_frame(at: int) -> None:
    (joint,) = find_edit_joints(with_step(strings(), at, 3e-3), rate=RATE)
    assert (joint.frame, joint.kind) == (at, "step")


@pytest.mark.parametrize("at", [20_000, 40_960, 47_111])
def test_a_change_of_slope_is_found_at_its_frame(at: int) -> None:
    (joint,) = find_edit_joints(with_slope(strings(), at, 3e-3), rate=RATE)
    assert (joint.frame, joint.kind) == (at, "slope")


def test_its_size_is_the_step_over_what_prediction_leaves() -> None:
    # Noise through two poles: what the best predictor leaves of it is the noise, RMS 1e-3 by construction.
    draw = np.random.default_rng(5)
    filters = [1.0, -2 * 0.97 * np.cos(0.05), 0.97**2]
    sound = lfilter([1.0], filters, 1e-3 * draw.standard_normal(2 * RATE)).astype(np.float32)
    for size_db in (20.0, 26.0, 32.0):
        step = 1e-3 * 10.0 ** (size_db / 20.0)
        (joint,) = find_edit_joints(with_step(sound, 30_000, step), rate=RATE)
        assert joint.size_db == pytest.approx(size_db, abs=2.0)


@pytest.mark.parametrize("rate", [44_100, 48_000, 88_200, 96_000, 192_000])
def test_it_is_found_at_every_rate(rate: int) -> None:
    joined = with_step(strings(1.0, rate=rate), rate // 2, 3e-3)
    assert [joint.frame for joint in find_edit_joints(joined, rate=rate)] == [rate // 2]


def test_a_crossfade_hides_it() -> None:
    one, two = strings(seed=1), strings(seed=2)[::-1]
    fade = np.clip((np.arange(one.size) - 40_000) / (0.005 * RATE), 0.0, 1.0)
    faded = (one * np.cos(np.pi / 2 * fade) ** 2 + two * np.sin(np.pi / 2 * fade) ** 2).astype(
        np.float32
    )
    assert find_edit_joints(faded, rate=RATE) == ()


def test_a_string_that_is_struck_is_none() -> None:
    sound = strings()
    late = np.arange(sound.size - 40_000) / RATE
    sound[40_000:] += (
        0.3
        * np.sin(2 * np.pi * 196.0 * late)
        * np.exp(-late * 5.0)
        * (1.0 - np.exp(-late * 2000.0))
    ).astype(np.float32)
    assert find_edit_joints(sound, rate=RATE) == ()


def test_tops_that_were_cut_off_are_none() -> None:
    assert find_edit_joints(np.clip(strings(), -0.1, 0.1), rate=RATE) == ()


def test_where_the_sound_begins_and_ends_is_the_edges_own() -> None:
    inside = np.concatenate((np.zeros(9000), strings(1.0) + 0.1, np.zeros(9000)))
    assert find_edit_joints(inside.astype(np.float32), rate=RATE) == ()


@pytest.mark.parametrize("frames", [0, 1, 2, 10, 49, 50, 51, 1025])
@pytest.mark.parametrize("value", [0.0, 1.0])
def test_short_and_silent_sounds_have_none(frames: int, value: float) -> None:
    assert find_edit_joints(np.full(frames, value, dtype=np.float32), rate=RATE) == ()


def test_a_square_and_a_sine_have_none() -> None:
    turn = 2 * np.pi * 100.0 * np.arange(2 * RATE) / RATE
    for sound in (np.sign(np.sin(turn)), 0.5 * np.sin(turn)):
        assert find_edit_joints(sound.astype(np.float32), rate=RATE) == ()


@settings(max_examples=15)
@given(gain_db=st.floats(-40.0, 10.0), at=st.integers(10_000, 80_000))
def test_a_gain_changes_neither_place_nor_size(gain_db: float, at: int) -> None:
    joined = with_step(strings(), at, 4e-3)
    louder = joined * np.float32(10.0 ** (gain_db / 20.0))
    (one,), (two,) = (find_edit_joints(sound, rate=RATE) for sound in (joined, louder))
    assert (one.frame, one.kind) == (two.frame, two.kind)
    assert one.size_db == pytest.approx(two.size_db, abs=0.1)


@settings(max_examples=15)
@given(shift=st.integers(1, 5000))
def test_a_shift_moves_it_by_as_much(shift: int) -> None:
    joined = with_step(strings(), 40_000, 4e-3)
    (joint,) = find_edit_joints(joined[shift:], rate=RATE)
    assert joint.frame == 40_000 - shift


def test_the_pieces_it_is_looked_at_in_do_not_show(monkeypatch: pytest.MonkeyPatch) -> None:
    joined = with_step(with_slope(strings(6.0), 90_000, 4e-3), 200_000, 4e-3)
    whole = find_edit_joints(joined, rate=RATE)
    assert len(whole) == 2
    for blocks in (3, 7, 50):
        monkeypatch.setattr(edit_joints, "_PIECE", blocks)
        cut = find_edit_joints(joined, rate=RATE)
        assert [(j.frame, j.kind) for j in cut] == [(j.frame, j.kind) for j in whole]
        assert [j.size_db for j in cut] == pytest.approx([j.size_db for j in whole], abs=1e-6)


def test_the_residual_is_that_of_the_normal_equations() -> None:
    # Referee: scipy's own solver of the same equations, in double precision.
    sound = strings()
    block = block_frames(rate=RATE)
    part = predicted(sound, first=4, blocks=1, rate=RATE)
    difference = np.diff(sound.astype(np.float64), prepend=0.0)
    around = difference[4 * block - block // 2 : 5 * block + block // 2]
    windowed = around * (0.5 - 0.5 * np.cos(2 * np.pi * np.arange(2 * block) / (2 * block)))
    lags = np.correlate(windowed, windowed, "full")[2 * block - 1 :][: ORDER + 1]
    lags[0] *= 1.0 + 1e-6
    filters = np.concatenate(([1.0], -solve_toeplitz(lags[:-1], lags[1:])))
    wanted = np.convolve(difference[4 * block - ORDER : 5 * block], filters, "valid")
    level = float(np.sqrt(np.mean(wanted**2)))
    assert np.max(np.abs(part.residual - wanted)) < 0.05 * level


def test_noise_passes_a_threshold_as_often_as_the_normal_law_says() -> None:
    draw = np.random.default_rng(3)
    noise = (1e-2 * draw.standard_normal(40 * RATE)).astype(np.float32)
    blocks = noise.size // block_frames(rate=RATE)
    left = predicted(noise, first=0, blocks=blocks, rate=RATE).residual
    for over in (3.0, 3.5, 4.0):
        wanted = 2.0 * float(norm.sf(over)) * left.size
        count = np.count_nonzero(np.abs(left) > over * np.sqrt(np.mean(left**2)))
        assert abs(count - wanted) < 5.0 * np.sqrt(wanted)
    assert find_edit_joints(noise, rate=RATE) == ()


def test_one_false_alarm_a_minute_of_noise_needs_14_db() -> None:
    # The threshold that one sample in a minute at 48 kHz passes, from the normal law's tail.
    assert 20 * np.log10(norm.isf(0.5 / (60 * RATE))) == pytest.approx(14.1, abs=0.1)
    assert 20 * np.log10(edit_joints.SMALLEST) < 14.1  # shape and company carry what is left


def test_a_fit_tells_a_step_of_known_size_from_a_slope() -> None:
    draw = np.random.default_rng(4)
    filters = predicted(strings(), first=4, blocks=2, rate=RATE).coefficients
    around = draw.standard_normal((2, EARLIER + LATER + SPAN))
    around[0, EARLIER:][:SPAN] += 12.0 * filters[0]
    around[1, EARLIER:][:SPAN] -= 15.0 * np.cumsum(filters[1])
    fit = fits(around.astype(np.float32), filters, np.ones(2))
    assert fit.is_step.tolist() == [True, False]
    assert fit.shift.tolist() == [0, 0]
    assert fit.size == pytest.approx([12.0, 15.0], abs=3.0)


@needs_samples()
def test_real_playing_has_none_and_a_step_in_it_is_found() -> None:
    draw = np.random.default_rng(9)
    playing = phrase(rate=RATE, seconds=8.0, seed=3)
    playing = (playing + 1e-5 * draw.standard_normal(playing.size)).astype(np.float32)
    before = {joint.frame for joint in find_edit_joints(playing, rate=RATE)}
    left = predicted(playing, first=0, blocks=376, rate=RATE).residual
    found = 0
    places = range(RATE, 7 * RATE, RATE // 2)
    for at in places:
        level = float(np.sqrt(np.mean(left[at - 500 : at + 500] ** 2)))
        joined = with_step(playing, at, 16.0 * level)  # 24 dB
        found += at in {joint.frame for joint in find_edit_joints(joined, rate=RATE)} - before
    assert len(before) <= 1
    assert found >= len(places) - 1


def test_a_block_is_the_same_whichever_it_is_asked_for_with() -> None:
    sound = strings()
    many = predicted(sound, first=-2, blocks=20, rate=RATE)
    one = predicted(sound, first=7, blocks=1, rate=RATE)
    at = 9 * many.block
    assert one.residual == pytest.approx(many.residual[at : at + one.block], abs=1e-7)
    assert prediction.block_frames(rate=192_000) == 4 * prediction.block_frames(rate=48_000)
