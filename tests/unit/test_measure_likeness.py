"""Two recordings of one phrase whose difference is known: gain, bell, delay, drive, noise, polarity."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from likeness_cases import RATE, amplified, di, later, noise, played, with_bell
from playing import phrase
from scipy import signal

from audio.measure.likeness import Phrase, Sounds, likeness
from audio.measure.sounds import compare_sounds
from audio.verdict.thresholds import BENT_LEAST_DB
from audio.vocab.likeness import Likeness, SoundsCompared

DRIVE_DB = 24.0


def measured(kept: np.ndarray, now: np.ndarray, again: np.ndarray | None = None) -> Likeness:
    return likeness(played(), "close", Sounds(kept, again, now))


def bands(one: Likeness) -> np.ndarray:
    """Return the differences that are known, dB."""
    return np.array([b.difference_db for b in one.bands if b.difference_db is not None])


def kept() -> np.ndarray:
    return amplified(DRIVE_DB) + noise(1)


# ------------------------------------------------------------------ properties


def test_a_recording_differs_from_itself_by_nothing() -> None:
    one = measured(kept(), kept(), kept())
    assert one.level_db == 0.0
    assert not np.any(bands(one))
    assert one.drive_db == 0.0
    assert one.crest_db == one.noise_db == 0.0
    assert one.delay_frames == pytest.approx(0.0, abs=1e-6)
    assert one.polarity == "normal"
    assert one.bent_db is not None
    assert one.bent_db < -60.0
    assert {step.difference_db for step in one.playing} == {0.0}


@settings(deadline=None, max_examples=8)
@given(st.floats(-20.0, 12.0))
def test_a_gain_is_told_exactly_and_nothing_else(gain_db: float) -> None:
    one = measured(kept(), 10.0 ** (gain_db / 20.0) * kept())
    assert one.level_db == pytest.approx(gain_db, abs=1e-3)
    assert bands(one) == pytest.approx(np.full(bands(one).size, gain_db), abs=1e-3)
    assert one.noise_db == pytest.approx(gain_db, abs=1e-3)
    assert one.drive_db == pytest.approx(0.0, abs=1e-3)
    assert one.crest_db == pytest.approx(0.0, abs=1e-3)


@settings(deadline=None, max_examples=6)
@given(st.floats(-1.5, 1.5), st.floats(-3.0, 3.0), st.floats(-400.0, 400.0))
def test_swapping_then_and_now_turns_every_sign(drive: float, bell: float, frames: float) -> None:
    other = later(with_bell(amplified(DRIVE_DB + drive), bell), frames) + noise(2)
    one, back = measured(kept(), other), measured(other, kept())
    assert one.level_db == pytest.approx(-back.level_db, abs=0.03)
    assert one.delay_frames == pytest.approx(-back.delay_frames, abs=0.05)
    assert one.noise_db == pytest.approx(-back.noise_db, abs=0.05)
    assert bands(one) == pytest.approx(-bands(back), abs=0.1)
    assert one.drive_db == pytest.approx(-back.drive_db, abs=0.25)


# ------------------------------------------------------------------ known truth


@pytest.mark.parametrize("drive_db", [-1.0, 1.0])
def test_a_drive_is_told_by_soft_and_hard_playing(drive_db: float) -> None:
    one = measured(
        kept(), 0.8 * amplified(DRIVE_DB + drive_db) + noise(2), amplified(DRIVE_DB) + noise(3)
    )
    assert one.drive_db == pytest.approx(drive_db, abs=0.3)
    assert one.drive_floor_db == pytest.approx(0.0, abs=0.05)
    assert one.bent_db is not None
    assert one.bent_floor_db is not None
    assert one.bent_db > one.bent_floor_db + 10.0
    soft, hard = one.playing[0].difference_db, one.playing[-1].difference_db
    assert drive_db * (soft - hard) > 0.2


def test_what_a_filter_does_is_no_drive() -> None:
    now = later(with_bell(amplified(DRIVE_DB), 2.0), 2.8) + noise(2)
    one = measured(kept(), now, amplified(DRIVE_DB) + noise(3))
    assert one.drive_db == pytest.approx(0.0, abs=0.1)
    assert one.bent_db is not None
    assert one.bent_db < BENT_LEAST_DB - 6.0


@pytest.mark.parametrize("bell_db", [-2.0, 2.0])
def test_bands_agree_with_a_general_librarys_transfer_function(bell_db: float) -> None:
    now = with_bell(amplified(DRIVE_DB), bell_db) + noise(2)
    hz, cross = signal.csd(kept(), now, fs=RATE, nperseg=8192)
    _, power = signal.welch(kept(), fs=RATE, nperseg=8192)
    gain_db = 20.0 * np.log10(np.abs(cross) / power)
    for band in measured(kept(), now).bands[3:]:
        inside = (hz > band.hz * 10.0**-0.05) & (hz < band.hz * 10.0**0.05)
        assert band.difference_db == pytest.approx(np.mean(gain_db[inside]), abs=0.2)


@pytest.mark.parametrize("frames", [-2399.0, -2.83, 0.5, 131.37, 2399.0])
def test_a_delay_is_told_to_a_fraction_of_a_frame(frames: float) -> None:
    one = measured(kept(), later(amplified(DRIVE_DB), frames) + noise(2))
    assert one.delay_frames == pytest.approx(frames, abs=0.05)
    assert one.level_db == pytest.approx(0.0, abs=0.02)


def test_noise_in_the_rests_is_told_and_does_not_count_as_level() -> None:
    one = measured(kept(), amplified(DRIVE_DB) + noise(2, -70.0))
    assert one.noise_db == pytest.approx(20.0, abs=0.3)
    assert one.level_db == pytest.approx(0.0, abs=0.05)
    assert np.max(np.abs(bands(one))) < 0.3


def test_what_came_back_upside_down_is_told() -> None:
    assert measured(kept(), -amplified(DRIVE_DB) + noise(2)).polarity == "inverted"


def test_a_crest_is_peak_over_rms() -> None:
    clipped = np.clip(kept(), -0.05, 0.05)
    before, after = (np.max(np.abs(x)) / np.sqrt(np.mean(x**2)) for x in (kept(), clipped))
    assert measured(kept(), clipped).crest_db == pytest.approx(20.0 * np.log10(after / before))


# ------------------------------------------------------------------ what cannot be told


def test_a_di_that_never_sounds_tells_nothing_and_says_why() -> None:
    silent = Phrase(np.zeros(2 * RATE), rate=RATE)
    one = likeness(silent, "close", Sounds(np.zeros(2 * RATE), None, np.zeros(2 * RATE)))
    assert one.level_db is None
    assert "silent" in str(one.reason)


@pytest.mark.parametrize("dead", [np.zeros(di().size), noise(4)])
def test_a_return_that_does_not_answer_is_told(dead: np.ndarray) -> None:
    assert "nothing clear of the noise came back now" in str(measured(kept(), dead).reason)
    assert "nothing clear of the noise came back then" in str(measured(dead, kept()).reason)


def test_another_phrase_is_not_compared() -> None:
    rest = np.zeros(RATE)
    other = np.concatenate((rest, phrase(rate=RATE, seconds=6.0, seed=77), rest)) + noise(2)
    assert "nothing in common" in str(measured(kept(), other).reason)


def test_a_phrase_without_a_rest_has_no_noise() -> None:
    dry = phrase(rate=RATE, seconds=4.0, seed=5)
    steady = dry + 0.05 * np.sin(np.arange(dry.size) * 0.05)
    one = likeness(Phrase(steady, rate=RATE), "close", Sounds(steady, None, 0.5 * steady))
    assert one.noise_db is None
    assert one.level_db == pytest.approx(-6.02, abs=0.01)


# ------------------------------------------------------------------ returns together


def sounds(delays: tuple[float, ...]) -> dict[str, Sounds]:
    """Return returns that came later by some frames."""
    return {
        name: Sounds(
            amplified(DRIVE_DB) + noise(10 + at),
            amplified(DRIVE_DB) + noise(20 + at),
            later(amplified(DRIVE_DB), frames) + noise(30 + at),
        )
        for at, (name, frames) in enumerate(zip(("close", "edge", "room"), delays, strict=False))
    }


def compared(
    delays: tuple[float, ...],
    *,
    witness: Sounds | None = None,
    later_frames: float | None = None,
) -> SoundsCompared:
    return compare_sounds(
        played(),
        sounds(delays),
        witness=witness,
        sends=True,
        later_frames=later_frames,
        celsius=20.0,
    )


TWO_CM = 2.0 / 34320.0 * RATE


def test_a_distance_is_what_a_return_is_later_than_the_witness() -> None:
    witness = Sounds(di(), di(), 2.0 * later(di(), 130.4))
    found = compared((130.4 + TWO_CM, 130.4), witness=witness)
    assert found.distance_by == "cable"
    assert [one.distance_cm for one in found.returns] == pytest.approx([2.0, 0.0], abs=0.05)
    assert [one.distance_floor_cm for one in found.returns] == pytest.approx([0.0, 0.0], abs=0.05)
    assert found.send_db == pytest.approx(6.02, abs=0.01)


def test_a_patched_cable_tells_distances_too() -> None:
    found = compared((30.0 + TWO_CM,), later_frames=30.0)
    assert found.distance_by == "cable"
    assert found.returns[0].distance_cm == pytest.approx(2.0, abs=0.05)
    assert found.send_db is None


def test_without_a_cable_the_return_that_moved_is_told_against_the_others() -> None:
    found = compared((7.0, 7.0 - TWO_CM, 7.0))
    assert found.distance_by == "other returns"
    assert [one.distance_cm for one in found.returns] == pytest.approx([0.0, -2.0, 0.0], abs=0.05)


def test_one_return_without_a_cable_has_no_distance() -> None:
    found = compared((TWO_CM,))
    assert found.distance_by == "nothing"
    assert found.returns[0].distance_cm is None
    assert found.returns[0].delay_frames == pytest.approx(TWO_CM, abs=0.05)
