"""Loop and witness against what was sent: known delays, known slips, and a general library as referee."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from needs import needs_samples
from playing import phrase
from scipy.fft import irfft, rfft, rfftfreq
from scipy.signal import correlate, correlation_lags

from audio.measure.tracking import RunningTrack
from audio.vocab.alignment import Alignment

RATE = 48_000
SECONDS = 10.0

pytestmark = [needs_samples(), pytest.mark.slow]


@lru_cache(maxsize=4)
def sent(seed: int = 11, rate: int = RATE, seconds: float = SECONDS) -> np.ndarray:
    return phrase(rate=rate, seconds=seconds, seed=seed)


def through(
    di: np.ndarray,
    *,
    delay: float = 0.0,
    gain: float = 0.5,
    noise_db: float = -60.0,
    high_pass_hz: float = 0.0,
    rate: int = RATE,
) -> np.ndarray:
    """Return what a cable makes of a DI: exact in the frequency domain, noise relative to its peak."""
    size = di.size + 2 * rate
    hz = rfftfreq(size, 1.0 / rate)
    path = gain * np.exp(-2j * np.pi * hz * delay / rate)
    if high_pass_hz:
        path *= 1j * hz / (1j * hz + high_pass_hz)
    noise = np.random.default_rng(1).standard_normal(di.size)
    level = abs(gain) * np.max(np.abs(di)) * 10 ** (noise_db / 20)
    return irfft(rfft(di, size) * path, size)[: di.size] + level * noise


def slipped(recording: np.ndarray, *, at: int, by: int) -> np.ndarray:
    """Return a recording with frames inserted, or lost where `by` is less than 0."""
    if by > 0:
        return np.concatenate((recording[:at], np.zeros(by), recording[at:]))[: recording.size]
    return np.concatenate((recording[:at], recording[at - by :], np.zeros(-by)))


def loud_frame(di: np.ndarray, *, after_s: float, rate: int = RATE) -> int:
    """Return the loudest place of the half second that begins then."""
    at = round(after_s * rate)
    level = np.convolve(di[at : at + rate // 2] ** 2, np.ones(rate // 100), "same")
    return at + int(np.argmax(level))


def tracked(
    di: np.ndarray, recording: np.ndarray, *, rate: int = RATE, cuts: Any = ()
) -> Alignment:
    track = RunningTrack(rate=rate)
    pieces = zip(np.split(di, cuts), np.split(recording, cuts), strict=True)
    for played, heard in pieces:
        track.feed(played, heard)
    return track.alignment()


# ------------------------------------------------------------------ where it lies


@pytest.mark.parametrize("delay", [-2880.0, -1234.56, -0.5, 0.0, 0.25, 17.0, 2880.0])
def test_a_delay_comes_back_and_polarity_and_gain_with_it(delay: float) -> None:
    told = tracked(sent(), through(sent(), delay=delay, gain=-0.25))
    assert told.delay_frames == pytest.approx(delay, abs=0.03)
    assert told.polarity == "inverted"
    assert told.gain_db == pytest.approx(-12.04, abs=0.05)
    assert told.slips == ()
    assert told.reason is None


@pytest.mark.parametrize("delay", [-250, 0, 3, 612])
def test_the_delay_is_that_of_a_general_library(delay: int) -> None:
    """scipy.signal's correlation of a clean copy peaks at the same frame."""
    di = sent()
    recording = through(di, delay=float(delay))
    lags = correlation_lags(recording.size, di.size)
    peer = int(lags[np.argmax(correlate(recording, di, method="fft"))])
    told = tracked(di, recording)
    assert told.delay_frames == pytest.approx(peer, abs=0.03)


@lru_cache(maxsize=1)
def plain_copy() -> tuple[np.ndarray, Alignment]:
    """Return what comes back turned by nothing, and where it lies."""
    recording = through(sent(), delay=5.5, noise_db=-40.0)
    return recording, tracked(sent(), recording)


def test_turning_the_polarity_turns_nothing_else() -> None:
    recording, one = plain_copy()
    other = tracked(sent(), -recording)
    assert (one.polarity, other.polarity) == ("normal", "inverted")
    assert other.delay_frames == pytest.approx(one.delay_frames, abs=1e-6)
    assert other.gain_db == pytest.approx(one.gain_db, abs=1e-6)


@settings(max_examples=5, deadline=None)
@given(db=st.floats(-50.0, 6.0))
def test_gain_moves_the_gain_by_as_many_decibels_and_nothing_else(db: float) -> None:
    recording, one = plain_copy()
    other = tracked(sent(), recording * 10 ** (db / 20))
    assert other.delay_frames == pytest.approx(one.delay_frames, abs=0.01)
    assert one.gain_db is not None
    assert other.gain_db == pytest.approx(one.gain_db + db, abs=0.01)


def test_a_high_pass_in_the_path_is_not_taken_for_time() -> None:
    """A coupling capacitor at 20 Hz turns 300 Hz by 4 degrees: 1.7 frames, if it were taken for delay."""
    told = tracked(sent(), through(sent(), delay=10.0, high_pass_hz=20.0))
    assert told.delay_frames == pytest.approx(10.0, abs=0.05)


@pytest.mark.parametrize("seed", [11, 25, 1001])
def test_path_and_delay_are_learned_together_where_little_noise_is_in_the_way(seed: int) -> None:
    """Learned in turns, a tenth of a frame passes for a high-pass, and the high-pass for frames."""
    di = np.concatenate((np.zeros(RATE // 4), sent(seed, RATE, 6.0)))
    told = tracked(di, through(di, delay=1886.066, noise_db=-80.0, high_pass_hz=25.0))
    assert told.delay_frames == pytest.approx(1886.066, abs=0.002)
    assert told.slips == ()


@settings(max_examples=5, deadline=None)
@given(data=st.data())
def test_the_result_does_not_depend_on_how_the_sound_was_cut(data: st.DataObject) -> None:
    di, recording, whole = slipped_copy()
    cuts = sorted(data.draw(st.lists(st.integers(0, di.size), max_size=20)))
    assert tracked(di, recording, cuts=cuts) == whole


@lru_cache(maxsize=1)
def slipped_copy() -> tuple[np.ndarray, np.ndarray, Alignment]:
    """Return four seconds of a DI, what comes back of it with a slip in the middle, and where it lies."""
    di = sent()[: 4 * RATE]
    recording = slipped(through(di), at=2 * RATE, by=7)
    return di, recording, tracked(di, recording)


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_other_rates_are_followed_alike(rate: int) -> None:
    di = sent(11, rate)
    at = loud_frame(di, after_s=5.0, rate=rate)
    told = tracked(di, slipped(through(di, delay=8.0, rate=rate), at=at, by=-3), rate=rate)
    (slip,) = told.slips
    assert slip.frames == -3
    assert abs(slip.at_frame - (at - 8)) <= 512
    assert told.delay_frames == pytest.approx(8.0, abs=0.1)


# ------------------------------------------------------------------ slips


@pytest.mark.parametrize(
    ("by", "noise_db"),
    [
        *((-5000, -60.0), (-480, -100.0), (-64, -30.0), (-1, -60.0), (-1, -30.0)),
        *((1, -100.0), (1, -30.0), (2, -60.0), (100, -100.0), (441, -60.0), (5000, -30.0)),
    ],
)
def test_a_slip_is_found_to_the_frame_and_placed_to_a_block(by: int, noise_db: float) -> None:
    di = sent()
    at = loud_frame(di, after_s=5.0)
    told = tracked(di, slipped(through(di, delay=3.0, noise_db=noise_db), at=at, by=by))
    (slip,) = told.slips
    assert slip.frames == by
    assert abs(slip.at_frame - (at - 3)) <= min(slip.within_frames, 512)
    assert told.delay_frames == pytest.approx(3.0, abs=0.1)


def test_several_slips_are_several_and_places_follow_them() -> None:
    di = sent()
    first, second = loud_frame(di, after_s=3.0), loud_frame(di, after_s=6.5)
    recording = slipped(slipped(through(di), at=second, by=512), at=first, by=-100)
    told = tracked(di, recording)
    assert [slip.frames for slip in told.slips] == [-100, 512]
    # the second place was moved by the first slip with the recording, not against what was sent
    assert [slip.at_frame for slip in told.slips] == pytest.approx([first, second], abs=512)
    assert told.places[0].delay_frames == pytest.approx(0.0, abs=0.1)
    assert told.places[-1].delay_frames == pytest.approx(412.0, abs=0.1)


@pytest.mark.parametrize(("seed", "by", "after_s"), [(11, 8, 3.0), (1001, -5, 2.2), (25, -41, 3.0)])
def test_a_slip_before_the_path_is_known_is_not_learned_as_path(
    seed: int, by: int, after_s: float
) -> None:
    """A path is first learned from some two seconds; a few frames among them turn phases like a filter."""
    di = np.concatenate((np.zeros(RATE // 4), sent(seed, RATE, 6.0)))
    at = loud_frame(di, after_s=after_s)
    recording = through(di, delay=1438.4, high_pass_hz=20.0)
    told = tracked(di, slipped(recording, at=at + 1438, by=by))
    assert [slip.frames for slip in told.slips] == [by]
    assert abs(told.slips[0].at_frame - at) <= 8192


def test_a_slip_in_a_rest_is_placed_in_that_rest() -> None:
    di = sent().copy()
    di[4 * RATE : 7 * RATE] = 0.0
    told = tracked(di, slipped(through(di), at=6 * RATE, by=33))
    (slip,) = told.slips
    assert slip.frames == 33
    assert abs(slip.at_frame - 6 * RATE) <= slip.within_frames
    assert slip.at_frame - slip.within_frames >= 3.9 * RATE
    assert slip.at_frame + slip.within_frames <= 7.1 * RATE


@pytest.mark.parametrize("gone_s", [0.01, 0.2, 1.5])
def test_sound_that_drops_out_and_comes_back_in_place_is_no_slip(gone_s: float) -> None:
    di = sent()
    recording = through(di)
    at = loud_frame(di, after_s=4.0)
    recording[at : at + round(gone_s * RATE)] = 0.0
    told = tracked(di, recording)
    assert told.slips == ()
    assert told.delay_frames == pytest.approx(0.0, abs=0.1)


def test_a_level_that_jumps_is_no_slip() -> None:
    di = sent()
    recording = through(di)
    recording[5 * RATE :] *= 0.1
    told = tracked(di, recording)
    assert told.slips == ()
    assert told.delay_frames == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("ppm", [-20.0, 5.0, 20.0])
def test_drift_is_told_from_slips(ppm: float) -> None:
    di = sent(12, RATE, 16.0)
    at = np.arange(di.size) / (1.0 + ppm * 1e-6)
    # read off a curve eight times as fine, straight between its points: −60 dB of error at 4 kHz
    fine = 8.0 * irfft(rfft(di), 8 * di.size)
    recording = np.interp(8.0 * at, np.arange(fine.size), fine)
    told = tracked(di, recording + 1e-4 * np.random.default_rng(1).standard_normal(di.size))
    assert told.slips == ()
    assert told.drift_ppm == pytest.approx(ppm, abs=0.2)
    assert told.delay_frames == pytest.approx(0.0, abs=0.1)


# ------------------------------------------------------------------ nothing to follow


def test_silence_on_either_side_is_refused_with_its_reason() -> None:
    di = sent()
    assert "digital silence" in str(tracked(di, np.zeros(di.size)).reason)
    assert "nothing was sent" in str(tracked(np.zeros(di.size), through(di)).reason)
    assert tracked(di, np.zeros(di.size)).delay_frames is None


def test_noise_and_another_sound_are_no_copy() -> None:
    di = sent()
    noise = 1e-3 * np.random.default_rng(2).standard_normal(di.size)
    for recording in (noise, np.sin(np.arange(di.size) * 0.05) + noise):
        told = tracked(di, recording)
        assert told.delay_frames is None
        assert "cannot be recognised" in str(told.reason)
        assert told.slips == ()


def test_more_may_be_fed_after_it_was_asked() -> None:
    di = sent()
    recording = slipped(through(di), at=loud_frame(di, after_s=6.0), by=-9)
    track = RunningTrack(rate=RATE)
    track.feed(di[: 4 * RATE], recording[: 4 * RATE])
    assert track.alignment().slips == ()
    track.feed(di[4 * RATE :], recording[4 * RATE :])
    assert track.alignment() == tracked(di, recording)


def test_a_copy_whose_first_block_is_all_but_silent_is_recognised() -> None:
    di = sent()
    quiet = np.random.default_rng(4).standard_normal(di.size) * 10 ** (-110 / 20)
    rest = np.concatenate((np.zeros(9000), di))[: di.size]
    found = tracked(rest + quiet, through(rest, delay=-6.4, gain=1.0, noise_db=-100.0) + quiet)
    assert found.reason is None
    assert found.delay_frames == pytest.approx(-6.4, abs=0.05)
    assert found.slips == ()


@pytest.mark.parametrize("seed", [1001, 1003, 1010])
def test_hum_in_a_rest_before_the_music_hides_nothing(seed: int) -> None:
    """Mains and its odd harmonics 48 dB under the peak, and a quarter of a second before the first note."""
    di = np.concatenate((np.zeros(RATE // 4), sent(seed, RATE, 6.0)))
    at = np.arange(di.size) / RATE
    hum = sum(np.sin(2 * np.pi * 50 * k * at) / k for k in (1, 3, 5)) * 4e-3 * np.max(np.abs(di))
    told = tracked(di, through(di, delay=683.4, gain=1.0, noise_db=-60.0) + hum)
    assert told.delay_frames == pytest.approx(683.4, abs=0.1)
    assert told.slips == ()


@pytest.mark.parametrize(
    ("seed", "noise_db", "delay", "gain"),
    [(11, -110.0, -1335.16, 0.04), (5, -80.0, 653.54, -0.95), (25, -80.0, 653.54, -0.95)],
)
def test_converters_without_noise_to_speak_of_show_no_slips(
    seed: int, noise_db: float, delay: float, gain: float
) -> None:
    """Whitened by so little noise, a bass that is cut off or an attack at an edge may drown the rest."""
    di = np.concatenate((np.zeros(RATE // 4), sent(seed, RATE, 8.0)))
    told = tracked(di, through(di, delay=delay, gain=gain, noise_db=noise_db, high_pass_hz=10.0))
    assert told.delay_frames == pytest.approx(delay, abs=0.05)
    assert told.slips == ()
