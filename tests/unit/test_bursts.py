"""The set-up tone against known truth: who hears it, how loud, and who does not."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from audio.measure.bursts import read_bursts, steady_levels_dbfs
from audio.signals.bursts import LATEST_S, PATTERN, bursts
from audio.vocab.errors import UseError
from audio.vocab.units import ratio_from_db

RATE = 48_000
Signal = NDArray[np.float64]


def noise(frames: int, *, dbfs: float, seed: int = 1) -> Signal:
    return np.random.default_rng(seed).standard_normal(frames) * ratio_from_db(dbfs)


def late(signal: Signal, frames: int) -> Signal:
    return np.concatenate((np.zeros(frames), signal[: signal.size - frames]))


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000, 192_000])
def test_bursts_never_exceed_their_peak_and_begin_and_end_in_silence(rate: int) -> None:
    signal, tone = bursts(rate=rate, level_dbfs=-40.0)
    peak = 20.0 * np.log10(np.max(np.abs(signal)))
    assert -41.0 < peak < -40.0 + 1e-9
    assert not np.any(signal[: tone.quiet_frames - round(0.005 * rate)])
    assert not np.any(signal[-round(0.4 * rate) :])


def test_the_pattern_agrees_with_itself_nowhere_but_in_place() -> None:
    signs = 2 * np.asarray(PATTERN) - 1
    agreements = [int(signs @ np.roll(signs, by)) for by in range(len(signs))]
    assert agreements == [31] + [-1] * 30  # what makes it a maximum-length sequence


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
@pytest.mark.parametrize("delay_s", [0.0, 0.0431, 0.3])
@pytest.mark.parametrize("gain_db", [-50.0, -10.0, 20.0])
def test_each_frequency_comes_back_with_its_gain(rate: int, delay_s: float, gain_db: float) -> None:
    signal, tone = bursts(rate=rate, level_dbfs=-40.0)
    heard = late(signal, round(delay_s * rate)) * ratio_from_db(gain_db)
    reading = read_bursts(heard + noise(signal.size, dbfs=-100.0), tone)
    assert reading.reason is None
    # A place may be half a hop off: its edges then lie in the fades.
    assert reading.gains_db == pytest.approx((gain_db,) * 3, abs=1.5)


def test_noise_alone_is_never_heard_as_the_tone() -> None:
    _, tone = bursts(rate=44_100, level_dbfs=-40.0)
    heard = [read_bursts(noise(tone.frames, dbfs=-60.0, seed=seed), tone) for seed in range(60)]
    assert {one.reason for one in heard} == {"nothing"}


@pytest.mark.parametrize("hz", [50.0, 60.0])
def test_mains_far_over_the_tone_neither_hide_nor_feign_it(hz: float) -> None:
    signal, tone = bursts(rate=RATE, level_dbfs=-40.0)
    at = np.arange(signal.size) / RATE
    lines = [np.sin(2 * np.pi * hz * k * at + k) / k**1.5 for k in range(1, 12)]
    hum = 0.1 * np.sum(lines, axis=0)
    assert read_bursts(hum + noise(signal.size, dbfs=-90.0), tone).reason == "nothing"
    reading = read_bursts(hum + signal + noise(signal.size, dbfs=-90.0), tone)
    assert reading.gains_db[0] == pytest.approx(0.0, abs=1.5)


def test_a_steady_tone_of_the_same_frequency_is_not_the_bursts() -> None:
    _, tone = bursts(rate=RATE, level_dbfs=-40.0)
    at = np.arange(tone.frames) / RATE
    steady = 0.01 * np.sin(2 * np.pi * tone.hz[0] * at)
    beating = steady * (1.0 + np.sin(2 * np.pi * 6.0 * at))
    for sound in (steady, beating):
        assert read_bursts(sound + noise(tone.frames, dbfs=-90.0), tone).reason == "nothing"


def test_an_echo_between_the_bursts_does_not_hide_them() -> None:
    signal, tone = bursts(rate=RATE, level_dbfs=-40.0)
    heard = signal + 0.4 * late(signal, round(0.093 * RATE))
    reading = read_bursts(heard + noise(signal.size, dbfs=-90.0), tone)
    assert reading.gains_db[0] == pytest.approx(0.0, abs=3.0)


def test_a_loudspeaker_loses_the_high_tones_in_its_noise() -> None:
    signal, tone = bursts(rate=RATE, level_dbfs=-40.0)
    spectrum = np.fft.rfft(signal)
    spectrum[np.fft.rfftfreq(signal.size, 1 / RATE) > 5000.0] = 0.0
    reading = read_bursts(
        np.fft.irfft(spectrum, signal.size) + noise(signal.size, dbfs=-80.0), tone
    )
    assert reading.gains_db[0] == pytest.approx(0.0, abs=1.5)
    assert reading.gains_db[1:] == (None, None)


def test_silence_and_clipping_are_reasons() -> None:
    signal, tone = bursts(rate=RATE, level_dbfs=0.0)
    assert read_bursts(np.zeros(tone.frames), tone).reason == "digital silence"
    assert read_bursts(np.clip(4.0 * signal, -1.0, 1.0), tone).reason == "clipped"


def test_what_arrives_later_than_a_tone_waits_is_not_heard() -> None:
    signal, tone = bursts(rate=RATE, level_dbfs=-40.0)
    heard = late(signal, round((LATEST_S + 0.1) * RATE)) + noise(signal.size, dbfs=-90.0)
    assert read_bursts(heard, tone).reason == "nothing"


def test_a_recording_that_is_too_short_is_refused() -> None:
    _, tone = bursts(rate=RATE, level_dbfs=-40.0)
    with pytest.raises(UseError, match="let the roll run to its end"):
        read_bursts(np.zeros(tone.frames - 1), tone)


def test_a_steady_tone_tells_each_fifth_of_a_second() -> None:
    at = np.arange(round(1.3 * RATE)) / RATE
    signal = ratio_from_db(-30.0) * np.sin(2.0 * np.pi * 625.0 * at)
    signal[RATE:] *= ratio_from_db(-1.0)
    levels = steady_levels_dbfs(signal + noise(signal.size, dbfs=-80.0), hz=625.0, rate=RATE)
    sine = -30.0 - 10 * np.log10(2.0)
    assert levels == pytest.approx((*(sine,) * 5, sine - 1.0), abs=0.02)


@pytest.mark.parametrize(
    ("rate", "level", "says"),
    [(8000, -40.0, "rate from 44100"), (RATE, 1.0, "louder than full scale")],
)
def test_bursts_that_make_no_sense_are_refused(rate: int, level: float, says: str) -> None:
    with pytest.raises(UseError, match=says):
        bursts(rate=rate, level_dbfs=level)
