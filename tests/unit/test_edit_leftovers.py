"""Copies, dead stops, edges, tops that were cut off, and what is heard between the notes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from needs import needs_samples
from numpy.typing import NDArray
from playing import phrase

from audio.measure.after_gain import after_gain
from audio.measure.between import find_between
from audio.measure.copied_material import MOST_TOLD, find_repeats
from audio.measure.dead_stops import find_dead_stops
from audio.measure.edges import find_edges
from audio.measure.flat_tops import find_flat_tops
from audio.vocab.readiness import Hit

RATE = 48_000
Singles = NDArray[np.float32]


def notes(seconds: float = 6.0, *, seed: int = 1, noise: float = 1e-4) -> Singles:
    """Return decaying tones of drawn pitch over noise, one every second."""
    draw = np.random.default_rng(seed)
    sound = noise * draw.standard_normal(round(seconds * RATE))
    for at in range(RATE // 10, sound.size, RATE):
        late = np.arange(min(RATE, sound.size - at)) / RATE
        pitch = draw.uniform(80.0, 400.0)
        tone = np.exp(-late * 12.0) * (1 - np.exp(-late * 900.0)) * np.sin(2 * np.pi * pitch * late)
        sound[at : at + late.size] += draw.uniform(0.2, 0.5) * tone
    return in_24_bits(sound)


def in_24_bits(sound: NDArray[np.floating]) -> Singles:
    return (np.round(sound * 2.0**23) / 2.0**23).astype(np.float32)


def hits() -> list[Hit]:
    return [
        Hit(frame=float(at), level_dbfs=-9.0, confidence=1.0)
        for at in range(RATE // 10, 6 * RATE, RATE)
    ]


def tone(hz: float, seconds: float = 5.0) -> Singles:
    turn = 2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE
    return (0.5 * np.sin(turn)).astype(np.float32)


# ------------------------------------------------------------------ copies


@settings(max_examples=20)
@given(
    at=st.integers(120_000, 220_000),
    of=st.integers(0, 60_000),
    frames=st.integers(14_000, 50_000),
    gain_db=st.sampled_from([0.0, -6.0, 3.0, -0.5]),
)
def test_a_copy_is_told_once_with_its_source_and_gain(
    at: int, of: int, frames: int, gain_db: float
) -> None:
    sound = notes()
    sound[at : at + frames] = sound[of : of + frames] * np.float32(10.0 ** (gain_db / 20.0))
    (copy,) = find_repeats(in_24_bits(sound), rate=RATE)
    assert copy.frame == pytest.approx(at, abs=2)
    assert copy.frames == pytest.approx(frames, abs=4)
    assert copy.frame - copy.of_frame == at - of
    assert copy.gain_db == pytest.approx(gain_db, abs=0.01)


def test_a_bar_pasted_three_times_is_told_as_copies_of_the_first() -> None:
    bar = notes(2.0)
    told = find_repeats(np.concatenate((bar, bar, bar, bar)), rate=RATE)
    assert sum(copy.frames for copy in told) == pytest.approx(3 * bar.size, abs=10)
    assert all(copy.of_frame + copy.frames <= copy.frame for copy in told)


def test_a_copy_of_a_quarter_of_a_second_is_the_shortest_told() -> None:
    sound = notes()
    sound[200_000:209_000] = sound[4000:13_000]
    assert find_repeats(sound, rate=RATE) == ()


def test_the_same_played_twice_is_no_copy() -> None:
    one, two = notes(2.0, noise=0.0), notes(2.0, noise=0.0)
    two += np.random.default_rng(2).standard_normal(two.size).astype(np.float32) * 1e-5
    assert find_repeats(np.concatenate((one, two)), rate=RATE) == ()


@pytest.mark.parametrize("hz", [100.0, 437.3, 440.0, 1000.0, 5000.0])
def test_a_test_tone_is_no_copy_of_itself(hz: float) -> None:
    assert find_repeats(tone(hz), rate=RATE) == ()
    assert find_repeats(np.sign(tone(hz)), rate=RATE) == ()


def test_copies_are_never_told_without_end() -> None:
    click = np.zeros(14_000, dtype=np.float32)
    click[100:400] = np.hanning(300) * np.sin(np.arange(300))
    assert len(find_repeats(np.tile(click, 60), rate=RATE)) <= MOST_TOLD


# ------------------------------------------------------------------ dead stops


@settings(max_examples=20)
@given(at=st.integers(30_000, 250_000), frames=st.integers(700, 20_000))
def test_a_gap_of_digital_silence_is_told_with_both_ends(at: int, frames: int) -> None:
    sound = notes(noise=1e-3)
    sound[at : at + frames] = 0.0
    (stop,) = find_dead_stops(sound, rate=RATE)
    assert stop.frame == pytest.approx(at, abs=8)
    assert stop.frame + stop.frames == pytest.approx(at + frames, abs=8)
    assert stop.after_dbfs == -200.0


def test_a_hard_gate_that_leaves_less_noise_is_told_with_both_levels() -> None:
    sound = notes(noise=1e-3)
    sound[90_000:96_000] *= np.float32(0.01)
    (stop,) = find_dead_stops(sound, rate=RATE)
    assert stop.frame == pytest.approx(90_000, abs=12)
    assert stop.before_dbfs == pytest.approx(-60.0, abs=1.5)
    assert stop.after_dbfs == pytest.approx(-100.0, abs=1.5)


def test_a_gap_that_is_faded_into_is_none() -> None:
    sound = notes(noise=1e-3)
    sound[90_000 - 240 : 90_000] *= np.linspace(1.0, 0.0, 240, dtype=np.float32)
    sound[90_000:96_000] = 0.0
    assert find_dead_stops(sound, rate=RATE) == ()


def test_silence_at_the_ends_is_the_edges_own() -> None:
    sound = notes(noise=1e-3)
    sound[:9000] = 0.0
    sound[-9000:] = 0.0
    assert find_dead_stops(sound, rate=RATE) == ()


@needs_samples()
def test_real_playing_has_no_dead_stop() -> None:
    playing = phrase(rate=RATE, seconds=10.0, seed=4)
    playing += 1e-4 * np.random.default_rng(1).standard_normal(playing.size)
    assert find_dead_stops(playing.astype(np.float32), rate=RATE) == ()


# ------------------------------------------------------------------ edges


def test_silence_and_step_of_both_ends_are_told() -> None:
    sound = np.concatenate((np.zeros(480), tone(440.0) + 0.1, np.zeros(960))).astype(np.float32)
    start, end = find_edges(sound, rate=RATE)
    assert (start.silence_frames, end.silence_frames) == (480, 960)
    assert start.step_dbfs == pytest.approx(20 * np.log10(0.1), abs=0.01)
    assert end.step_dbfs == pytest.approx(20 * np.log10(abs(float(sound[-961]))), abs=0.01)
    beside = 20 * np.log10(np.sqrt(np.mean(sound[481:961].astype(float) ** 2)))
    assert start.click_db == pytest.approx(start.step_dbfs - beside, abs=0.01)


@pytest.mark.parametrize("frames", [240, 480, 2400, 4800, 24_000])
def test_the_length_of_a_fade_is_told_within_a_fifth(frames: int) -> None:
    draw = np.random.default_rng(frames)
    sound = (0.01 * draw.standard_normal(2 * RATE)).astype(np.float32)
    sound[:frames] *= np.linspace(0.0, 1.0, frames, dtype=np.float32)
    start, end = find_edges(sound, rate=RATE)
    assert start.fade_frames == pytest.approx(frames, rel=0.2)
    assert end.fade_frames == 0
    assert start.step_dbfs < -75.0


@settings(max_examples=20)
@given(gain_db=st.floats(-20.0, 0.0))
def test_a_step_stands_as_far_over_its_surroundings_at_any_gain(gain_db: float) -> None:
    sound = notes(1.0) + np.float32(0.05)
    quieter = sound * np.float32(10.0 ** (gain_db / 20.0))
    one, two = find_edges(sound, rate=RATE)[0], find_edges(quieter, rate=RATE)[0]
    assert one.click_db == pytest.approx(two.click_db, abs=0.01)


# ------------------------------------------------------------------ tops


@pytest.mark.parametrize("gain", [1.0, 0.7, 0.1])
def test_tops_cut_off_and_taken_down_are_told(gain: float) -> None:
    cut = in_24_bits(np.clip(notes(), -0.15, 0.15) * gain)
    told = find_flat_tops(cut, rate=RATE)
    assert len(told) > 10
    level = float(np.max(np.abs(cut)))
    for run in told:
        flat = np.abs(cut[run.at_frame : run.at_frame + run.frames])
        assert np.all(flat >= level * 0.9999)


def test_whole_tops_soft_ones_and_tones_are_not() -> None:
    soft = np.tanh(notes().astype(np.float64) * 3.0)
    for sound in (notes(), in_24_bits(soft), in_24_bits(tone(100.0)), np.sign(tone(100.0))):
        assert find_flat_tops(sound, rate=RATE) == ()


# ------------------------------------------------------------------ between


@pytest.mark.parametrize("hz", [50, 60])
def test_hum_between_the_notes_is_told_with_its_level(hz: int) -> None:
    turn = 2 * np.pi * hz * np.arange(6 * RATE) / RATE
    sound = notes() + (1e-3 * np.sin(turn) + 5e-4 * np.sin(2 * turn)).astype(np.float32)
    told = find_between(sound, hits(), rate=RATE)
    assert {(one.kind, one.hum_hz) for one in told} == {("hum", hz)}
    rms_dbfs = 10 * np.log10((1e-3**2 + 5e-4**2) / 2)
    assert all(one.level_dbfs == pytest.approx(rms_dbfs, abs=1.5) for one in told)


def test_noise_between_the_notes_is_told_over_the_notes_own_level() -> None:
    told = find_between(notes(), hits(), rate=RATE)
    assert {one.kind for one in told} == {"noise"}
    sound = notes().astype(np.float64)
    windows = [
        max(np.sqrt(np.mean(sound[at + k : at + k + RATE // 20] ** 2)) for k in range(0, 4800, 240))
        for at in range(RATE // 10, 6 * RATE, RATE)
    ]
    usual = 20 * np.log10(np.median(windows))
    for one in told:
        assert one.under_notes_db == pytest.approx(usual - one.level_dbfs, abs=0.5)


@pytest.mark.parametrize("kind", ["handling", "slide"])
def test_a_bump_is_told_by_its_kind_and_place(kind: str) -> None:
    at, late = 2 * RATE - 8000, np.arange(4800)
    draw = np.random.default_rng(7)
    thud = 0.02 * np.exp(-late / 1500.0) * np.sin(2 * np.pi * 60.0 * late / RATE)
    scrape = 0.01 * np.hanning(4800) * np.diff(draw.standard_normal(4801))
    sound = notes()
    sound[at : at + 4800] += (thud if kind == "handling" else scrape).astype(np.float32)
    (bump,) = [one for one in find_between(sound, hits(), rate=RATE) if one.kind != "noise"]
    assert bump.kind == kind
    assert abs(bump.frame - at) < 0.06 * RATE


def test_digital_silence_is_not_heard() -> None:
    assert (
        find_between(notes(noise=0.0) * (np.abs(notes(noise=0.0)) > 1e-2), hits(), rate=RATE) == ()
    )


def test_without_notes_nothing_lies_between_them() -> None:
    assert find_between(notes(), [], rate=RATE) == ()


@pytest.mark.parametrize(
    ("under", "gain", "headroom", "after"),
    [
        (60.0, 0.0, 6.0, 60.0),
        (60.0, 40.0, 0.0, 20.0),
        (60.0, 40.0, 10.0, 30.0),
        (30.0, 50.0, 0.0, 0.0),
    ],
)
def test_gain_into_a_limit_raises_what_lies_under_it(
    under: float, gain: float, headroom: float, after: float
) -> None:
    # By hand: notes gain no more than their headroom, the rest gains all, up to the same limit.
    assert after_gain(under, gain_db=gain, headroom_db=headroom) == pytest.approx(after)


@given(under=st.floats(0.0, 100.0), gain=st.floats(0.0, 80.0), headroom=st.floats(0.0, 40.0))
def test_it_never_comes_out_louder_than_the_notes_nor_further_under(
    under: float, gain: float, headroom: float
) -> None:
    after = after_gain(under, gain_db=gain, headroom_db=headroom)
    assert -1e-9 <= after <= under + 1e-9


# ------------------------------------------------------------------ whatever comes


@pytest.mark.parametrize("frames", [0, 1, 2, 10, 100, 500, 2400])
@pytest.mark.parametrize("value", [0.0, 1.0])
def test_short_silent_and_still_sounds_are_taken(frames: int, value: float) -> None:
    sound = np.full(frames, value, dtype=np.float32)
    assert find_repeats(sound, rate=RATE) == ()
    assert find_dead_stops(sound, rate=RATE) == ()
    assert find_between(sound, hits(), rate=RATE) == ()
    assert find_flat_tops(sound, rate=RATE) == ()
    start, end = find_edges(sound, rate=RATE)
    assert start == end
    assert start.silence_frames == (0 if value else frames)
