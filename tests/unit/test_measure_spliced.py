"""Frames that were lost and put back, repeats, dropouts: what happened for a moment on loop or witness.

What is true is known by construction: recordings are cut and joined at known frames, before the cable, as a
device does that plays too late, or behind it, as one does that records too late.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
from needs import needs_samples
from playing import phrase
from scipy.fft import irfft, rfft, rfftfreq

from audio.measure.tracking import RunningTrack
from audio.vocab.alignment import Alignment

RATE = 48_000
DELAY = 683.4
BLOCK = 512
PEAK = 0.5

pytestmark = [needs_samples(), pytest.mark.slow]


@lru_cache(maxsize=4)
def sent(seed: int = 11, rate: int = RATE) -> np.ndarray:
    return phrase(rate=rate, seconds=9.0, seed=seed, peak_dbfs=-6.0)


def loud_frame(di: np.ndarray, *, after_s: float, rate: int = RATE) -> int:
    """Return the loudest place of the half second that begins then."""
    at = round(after_s * rate)
    return at + int(
        np.argmax(np.convolve(di[at : at + rate // 2] ** 2, np.ones(rate // 100), "same"))
    )


def cable(signal: np.ndarray, *, coupling_hz: float = 12.0, rate: int = RATE) -> np.ndarray:
    """Return what comes back: later, turned over, through a coupling capacitor."""
    size = signal.size + 2 * rate
    hz = rfftfreq(size, 1.0 / rate)
    path = -0.6 * 1j * hz / (1j * hz + coupling_hz) * np.exp(-2j * np.pi * hz * DELAY / rate)
    return irfft(rfft(signal, size) * path, size)[: signal.size]


def noise(frames: int, *, db: float, seed: int = 1) -> np.ndarray:
    """Return noise so far over the copy's peak, and hum as loud."""
    level = 0.6 * PEAK * 10 ** (db / 20)
    hum = level * np.sin(2 * np.pi * 50 / RATE * np.arange(frames))
    return hum + level * np.random.default_rng(seed).standard_normal(frames)


def both_ways(di: np.ndarray, *, at: int, frames: int, rate: int = RATE) -> np.ndarray:
    """Return a recording in which so much time passed without a call, at a frame of both directions."""
    there = cable(np.concatenate((di[:at], np.zeros(frames), di[at:])), rate=rate)
    return np.concatenate((there[:at], there[at + frames :]))[: di.size]


def dropped_then_silence(copy: np.ndarray, *, at: int, frames: int, length: int) -> np.ndarray:
    behind = at + length
    parts = (
        copy[:at],
        copy[at + frames : behind + frames],
        np.zeros(frames),
        copy[behind + frames :],
    )
    return np.concatenate(parts)[: copy.size]


def repeated_then_dropped(copy: np.ndarray, *, at: int, frames: int, length: int) -> np.ndarray:
    behind = at + length
    parts = (copy[:at], copy[at - frames : behind], copy[behind + frames :])
    return np.concatenate(parts)[: copy.size]


def tracked(di: np.ndarray, recording: np.ndarray, *, rate: int = RATE) -> Alignment:
    track = RunningTrack(rate=rate)
    for at in range(0, di.size, 50_000):
        track.feed(di[at : at + 50_000], recording[at : at + 50_000])
    return track.alignment()


def assert_pair(told: Alignment, by: int, *, first: float, last: float) -> None:
    """Both slips are there, to the frame and in their place (frames of what was played)."""
    assert [slip.frames for slip in told.slips] == [by, -by]
    for slip, at in zip(told.slips, (first, last), strict=True):
        assert abs(slip.at_frame - at) <= min(slip.within_frames, BLOCK)
    assert told.disturbances == ()
    assert told.delay_frames == pytest.approx(DELAY, abs=0.1)


@pytest.mark.parametrize(
    ("frames", "db"),
    [
        *((1, -80.0), (7, -80.0), (64, -80.0), (300, -80.0)),
        *((1, -60.0), (7, -60.0), (64, -60.0), (300, -60.0)),
        *((7, -40.0), (64, -40.0), (300, -40.0)),
    ],
)
def test_frames_that_both_directions_lost_are_counted(frames: int, db: float) -> None:
    """They are missing until what was sent afterwards has come back: one round trip."""
    di = sent()
    at = loud_frame(di, after_s=5.0) + round(DELAY)
    told = tracked(di, both_ways(di, at=at, frames=frames) + noise(di.size, db=db))
    assert_pair(told, -frames, first=at - DELAY, last=at)


@pytest.mark.parametrize("length", [300, 1500, 10_000])
@pytest.mark.parametrize("frames", [3, 128, 1024])
def test_frames_dropped_and_filled_with_silence_later_are_counted(frames: int, length: int) -> None:
    di = sent(12)
    at = loud_frame(di, after_s=4.0) + round(DELAY)
    copy = cable(di) + noise(di.size, db=-60.0)
    told = tracked(di, dropped_then_silence(copy, at=at, frames=frames, length=length))
    assert_pair(told, -frames, first=at - DELAY, last=at + length - DELAY + frames)


@pytest.mark.parametrize("frames", [2, 64, 512])
def test_a_repeated_block_that_was_caught_up_with_is_counted(frames: int) -> None:
    di = sent(13)
    at = loud_frame(di, after_s=3.0) + round(DELAY)
    copy = cable(di) + noise(di.size, db=-60.0)
    told = tracked(di, repeated_then_dropped(copy, at=at, frames=frames, length=1200))
    assert_pair(told, frames, first=at - DELAY, last=at + 1200 - DELAY)


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_other_rates_are_looked_at_alike(rate: int) -> None:
    di = sent(11, rate)
    at = loud_frame(di, after_s=5.0, rate=rate) + round(DELAY)
    told = tracked(
        di, both_ways(di, at=at, frames=5, rate=rate) + noise(di.size, db=-60.0), rate=rate
    )
    assert_pair(told, -5, first=at - DELAY, last=at)


@pytest.mark.parametrize("gone_s", [0.005, 0.02, 0.3, 1.5])
def test_silence_in_the_place_of_the_music_is_told_with_its_length(gone_s: float) -> None:
    di = sent()
    at, gone = loud_frame(di, after_s=4.0) + round(DELAY), round(gone_s * RATE)
    copy = cable(di)
    copy[at : at + gone] = 0.0
    told = tracked(di, copy + noise(di.size, db=-60.0))
    assert told.slips == ()
    (one,) = told.disturbances
    assert one.kind == "silent"
    assert one.at_frame <= at - DELAY
    assert at - DELAY + gone <= one.at_frame + one.frames
    assert one.frames - gone <= BLOCK


def test_a_crackle_is_strange_and_no_slip() -> None:
    di = sent()
    at = loud_frame(di, after_s=4.0)
    copy = cable(di) + noise(di.size, db=-60.0)
    copy[at : at + 400] += 0.2 * np.random.default_rng(3).standard_normal(400)
    told = tracked(di, copy)
    assert told.slips == ()
    assert [one.kind for one in told.disturbances] == ["strange"]
    assert abs(told.disturbances[0].at_frame - (at - DELAY)) <= BLOCK


def test_an_attack_with_a_hard_edge_in_very_little_noise_is_not_strange() -> None:
    """A cut at full level reaches up to half the rate, where no path is known to 80 dB."""
    once = sent(14)
    starts = [loud_frame(once, after_s=1.0 + 0.13 * number) for number in range(50)]
    falls = np.exp(-np.arange(7000) / 1500)
    di = np.concatenate([once[at : at + 7000] * falls for at in starts])
    told = tracked(di, cable(di) + noise(di.size, db=-100.0))
    assert told.slips == ()
    assert told.disturbances == ()


def test_where_the_music_is_too_quiet_to_count_no_number_is_invented() -> None:
    """A third of a second 40 dB down, in noise 50 dB down: none, or the right one, never another."""
    di = sent(11).copy()
    at = loud_frame(di, after_s=5.0)
    di[at - RATE // 6 : at + RATE // 6] *= 0.01
    for frames in (1, 20, 300):
        lost = both_ways(di, at=at + 2000, frames=frames)
        told = tracked(di, lost + noise(di.size, db=-50.0))
        assert [slip.frames for slip in told.slips] in ([], [-frames, frames])


def test_a_held_tone_is_alike_a_period_later_so_frames_are_not_counted() -> None:
    """A period of 100 frames: 130 lost look like 30, or 70 too many."""
    di = sent(11).copy()
    at = loud_frame(di, after_s=5.0) // 100 * 100
    there = slice(at - 2 * RATE // 5, at + 2 * RATE // 5)
    tone = 0.2 * sum(np.sin(2 * np.pi * k / 100 * np.arange(di.size)) / k for k in range(1, 9))
    di[there] = tone[there]
    told = tracked(di, both_ways(di, at=at, frames=130) + noise(di.size, db=-60.0))
    assert told.slips == ()
    assert [one.kind for one in told.disturbances] == ["moved"]


def test_a_level_that_jumps_is_neither_silence_nor_a_slip() -> None:
    di = sent()
    copy = cable(di)
    copy[5 * RATE :] *= 0.1
    told = tracked(di, copy + noise(di.size, db=-60.0))
    assert told.slips == ()
    assert {one.kind for one in told.disturbances} <= {"strange"}


def test_what_is_lost_for_good_is_told_once() -> None:
    di = sent()
    at = loud_frame(di, after_s=5.0)
    copy = cable(di) + noise(di.size, db=-60.0)
    told = tracked(di, np.concatenate((copy[:at], copy[at + 40 :], np.zeros(40))))
    assert [slip.frames for slip in told.slips] == [-40]
    assert told.disturbances == ()


def test_pairs_and_what_is_lost_for_good_stand_in_their_order() -> None:
    di = sent()
    at, later = loud_frame(di, after_s=3.5) + round(DELAY), loud_frame(di, after_s=6.0)
    there = both_ways(di, at=at, frames=9) + noise(di.size, db=-60.0)
    told = tracked(di, np.concatenate((there[:later], np.zeros(77), there[later:-77])))
    assert [slip.frames for slip in told.slips] == [-9, 9, 77]
    assert told.places[-1].delay_frames == pytest.approx(DELAY + 77, abs=0.1)


@pytest.mark.parametrize("db", [-80.0, -60.0, -40.0])
@pytest.mark.parametrize("seed", [11, 12, 13, 14])
def test_a_clean_recording_is_never_accused(seed: int, db: float) -> None:
    di = sent(seed)
    told = tracked(di, cable(di, coupling_hz=3.0 * seed - 30.0) + noise(di.size, db=db, seed=seed))
    assert told.slips == ()
    assert told.disturbances == ()
