"""What the simulated amplifier does to tones and to playing."""

from __future__ import annotations

import numpy as np
import pytest
from needs import needs_samples
from scipy.signal import bilinear, freqz
from simulated_wirings import guitar, line_db, played, pulse, rms_db, room, sine

from audio.device.simulated.amp import even_level
from audio.vocab.wiring import Amp, Bell

RATE = 48_000
DRIVES_DB = (0.0, 12.0, 24.0, 40.0, 60.0)


def lines(amp: Amp, *, hz: float = 187.5, peak: float = 0.18) -> list[float]:
    """Level of the first nine harmonics of a tone through the amp, dB."""
    one = room(rate=RATE, amp=amp, noise_dbfs=-200.0)
    heard = played(one, sine(hz, rate=RATE, seconds=1.2, peak=peak))[9600:, 1]
    return [line_db(heard[:48_000], hz * n, rate=RATE) for n in range(1, 10)]


# A curve that is odd has a Fourier series of odd harmonics only; any even part adds even ones
# (any handbook of signals, half-wave symmetry).


@pytest.mark.parametrize("drive_db", DRIVES_DB)
def test_a_symmetric_amp_makes_odd_harmonics_only(drive_db: float) -> None:
    found = lines(Amp(drive_db=drive_db, asymmetry=0.0))
    assert max(found[1::2]) < -110.0
    assert found[2] > found[0] - (70.0 if drive_db == 0.0 else 40.0)


@pytest.mark.parametrize("drive_db", DRIVES_DB)
def test_an_asymmetric_amp_makes_even_harmonics_too(drive_db: float) -> None:
    found = lines(Amp(drive_db=drive_db, asymmetry=0.3))
    assert found[1] > found[0] - 45.0


def test_more_asymmetry_makes_more_of_the_second_harmonic() -> None:
    second = [lines(Amp(drive_db=20.0, asymmetry=a))[1] for a in (0.1, 0.3, 1.0)]
    assert second[0] + 3.0 < second[1] < second[2] - 3.0


def test_a_hard_driven_tone_is_nearly_a_square_wave() -> None:
    # The third harmonic of a square wave is a third of the first, −9.54 dB, the fifth −13.98 dB.
    found = lines(Amp(drive_db=60.0, asymmetry=0.0))
    assert found[2] - found[0] == pytest.approx(-9.54, abs=0.2)
    assert found[4] - found[0] == pytest.approx(-13.98, abs=0.3)


def test_no_direct_current_is_left_behind_the_amp() -> None:
    one = room(rate=RATE, amp=Amp(drive_db=30.0, asymmetry=1.0), noise_dbfs=-200.0)
    heard = played(one, sine(200.0, rate=RATE, seconds=1.0, peak=0.2))[24_000:, 1]
    assert abs(heard.mean()) < 1e-4


@pytest.mark.parametrize(("drive_db", "limit_db"), [(12.0, -85.0), (24.0, -45.0), (40.0, -35.0)])
def test_aliases_stay_under_the_tone_by_a_stated_distance(drive_db: float, limit_db: float) -> None:
    """A tone whose harmonics fold back between its own: what stands there is aliasing.

    1 kHz-like tones of a guitar's upper register; four times the rate, so harmonics up to 168 kHz
    fold out of the way.
    """
    hz = 1171.875
    one = room(rate=RATE, amp=Amp(drive_db=drive_db, asymmetry=0.2), noise_dbfs=-200.0)
    heard = played(one, sine(hz, rate=RATE, seconds=1.2, peak=0.18))[9600:57_600, 1]
    window = np.blackman(heard.size)
    spectrum = np.abs(np.fft.rfft(heard * window)) * 2.0 / window.sum()
    bins = np.arange(spectrum.size) * RATE / heard.size
    distance = np.abs(bins / hz - np.round(bins / hz)) * hz
    between = spectrum[(distance > 20.0) & (bins > 100.0) & (bins < 18_000.0)]
    worst = 20.0 * np.log10(between.max() / spectrum.max())
    assert worst < limit_db


@needs_samples()
@pytest.mark.parametrize("asymmetry", [0.0, 0.2, 1.0])
@pytest.mark.parametrize("drive_db", DRIVES_DB)
def test_playing_comes_out_about_as_loud_at_every_drive(drive_db: float, asymmetry: float) -> None:
    signal, rate = guitar(rms_dbfs=-18.0)
    one = room(rate=rate, amp=Amp(drive_db=drive_db, asymmetry=asymmetry), noise_dbfs=-200.0)
    heard = played(one, signal)[:, 1]
    delay = round(one.truth(2).delay_frames)
    loud = np.abs(signal) > 0.01 * np.max(np.abs(signal))
    sounding = np.append(np.zeros(delay, dtype=bool), loud)[: heard.size]
    assert rms_db(heard[sounding]) == pytest.approx(-18.0, abs=3.0)


def test_the_oversampling_filters_are_flat_to_20_khz_at_48_khz() -> None:
    one = room(rate=RATE, amp=Amp(drive_db=0.0, asymmetry=0.0), noise_dbfs=-200.0)
    heard = played(one, pulse(4096, height=1e-3))[:, 1]
    gain = 20.0 * np.log10(np.abs(np.fft.rfft(heard)))
    hz = np.arange(gain.size) * RATE / heard.size
    band = gain[(hz > 300.0) & (hz < 20_000.0)]
    assert band.max() - band.min() < 0.05


def test_a_clean_amp_ignores_its_drive() -> None:
    one = room(
        rate=RATE, amp=Amp(drive_db=40.0, clean=True), noise_dbfs=-200.0, converter_frames=64.0
    )
    signal = sine(200.0, rate=RATE, seconds=0.1, peak=0.5)
    assert np.array_equal(played(one, signal)[576:, 1], signal[:-576])


def test_a_quiet_click_through_a_driven_amp_keeps_its_polarity_and_comes_out_louder() -> None:
    one = room(rate=RATE, amp=Amp(drive_db=40.0, asymmetry=1.0), noise_dbfs=-200.0)
    heard = played(one, sine(1000.0, rate=RATE, seconds=0.001, peak=0.001)[:24])[:, 1]
    assert heard.size == 24  # nothing yet: the round trip is longer
    tail = played(one, np.zeros(2048))[:, 1]
    assert np.max(tail) > 0.005
    assert np.max(tail) == np.max(np.abs(tail))


def test_the_level_behind_a_curve_that_does_nothing_is_what_undoes_the_drive() -> None:
    # −120 dB of drive: the curve is a straight line there and the gain must undo it.
    assert even_level(drive=1e-3, asymmetry=0.0) == pytest.approx(1e3, rel=1e-3)


# ------------------------------------------------------------------ the tone control


def gain_db(bell: Bell | None, *, rate: int = RATE) -> tuple[np.ndarray, np.ndarray]:
    """Frequencies and gain through a clean amp with that tone control, dB."""
    one = room(rate=rate, amp=Amp(clean=True, bell=bell), noise_dbfs=-200.0, converter_frames=64.0)
    heard = played(one, pulse(16_384, height=0.5))[576:, 1] / 0.5
    return np.arange(heard.size // 2 + 1) * rate / heard.size, 20.0 * np.log10(
        np.abs(np.fft.rfft(heard))
    )


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
@pytest.mark.parametrize(
    "bell", [Bell(db=2.0), Bell(db=-2.0), Bell(hz=400.0, db=12.0, q=3.0), Bell(db=-20.0, q=0.2)]
)
def test_a_bell_is_the_peaking_equalizer_of_handbooks(bell: Bell, rate: int) -> None:
    # Its analogue prototype, by a general library's bilinear transform tuned to the same middle.
    root = 10.0 ** (bell.db / 40.0)
    turn = np.pi * bell.hz / rate
    middle = 2.0 * rate * np.tan(turn)
    b = [1.0, middle * root / bell.q, middle**2]
    a = [1.0, middle / (root * bell.q), middle**2]
    hz, found = gain_db(bell, rate=rate)
    expected = 20.0 * np.log10(np.abs(freqz(*bilinear(b, a, fs=rate), worN=hz, fs=rate)[1]))
    assert np.max(np.abs(found - expected)) < 0.01
    assert found[np.argmin(np.abs(hz - bell.hz))] == pytest.approx(bell.db, abs=0.01)


def test_a_bell_makes_nothing_later_and_one_of_no_gain_changes_nothing() -> None:
    plain, flat = gain_db(None), gain_db(Bell(db=0.0))
    assert np.array_equal(plain, flat)
    one = room(rate=RATE, amp=Amp(clean=True, bell=Bell(db=6.0)), converter_frames=64.0)
    assert np.argmax(np.abs(played(one, pulse(2048))[:, 1])) == one.truth(2).delay_frames == 576
