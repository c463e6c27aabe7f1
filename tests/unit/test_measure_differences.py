"""Two sounds of one part: planted differences are found in size and place, and none where there is none."""

from __future__ import annotations

import numpy as np
import pyloudnorm
import pytest
from difference_cases import RATE, compared, di, echoed, noise, reverberant, shelf
from scipy import signal

from audio.measure.shapes import Bands, Fitted, fitted, shape_power
from audio.measure.third_rows import PARTS, RunningThirds, bands_at, middles_of_parts
from audio.measure.thirds import edges_hz, exact_hz
from audio.verdict.differences import NOTHING, words

A = di() + noise(-75.0, 2)
B = di() + noise(-75.0, 3)


def test_two_takes_with_different_noise_are_not_told_apart() -> None:
    told = compared(A, B)
    assert words(told) == (NOTHING,)
    assert told.shapes == ()
    assert told.loudness is not None
    assert abs(told.loudness.db) < 0.02


def test_two_takes_of_a_slow_tremolo_are_not_told_apart() -> None:
    at = np.arange(di().size) / RATE
    a, b = (one * (1 - 0.3 * np.sin(2 * np.pi * 0.7 * at + by)) for one, by in ((A, 0), (B, 2)))
    assert words(compared(a, b)) == (NOTHING,)


def test_a_level_is_told_to_a_tenth_of_a_decibel_and_nothing_else_with_it() -> None:
    told = compared(A, B * 10 ** (-3.3 / 20))
    assert told.loudness is not None
    assert told.loudness.db == pytest.approx(-3.3, abs=0.1)
    assert words(told) == ("3.3 dB quieter",)


@pytest.mark.parametrize(("hz", "db"), [(1000.0, 6.0), (2500.0, -4.0)])
def test_a_shelf_is_told_with_its_gain_and_its_corner(hz: float, db: float) -> None:
    told = compared(A, signal.lfilter(*shelf(hz, db), B))
    assert len(told.shapes) == 1
    found = told.shapes[0]
    assert found.kind == "above"
    assert found.apart.db == pytest.approx(db, abs=0.5)
    assert abs(np.log2((found.hz or 1.0) / hz)) < 1 / 3


def test_a_shelf_under_the_middle_is_told_by_what_lies_below_it() -> None:
    found = compared(A, signal.lfilter(*shelf(300.0, -5.0), B)).shapes[0]
    assert found.kind == "below"
    assert found.apart.db == pytest.approx(5.0, abs=0.5)


def test_the_difference_of_a_band_is_what_the_filter_does_there_at_equal_loudness() -> None:
    """Referee: `scipy.signal.freqz`, and pyloudnorm for the loudness that is taken off."""
    coefficients = shelf(1000.0, 6.0)
    other = signal.lfilter(*coefficients, A)
    told = compared(A, other)
    meter = pyloudnorm.Meter(RATE)
    louder = meter.integrated_loudness(other) - meter.integrated_loudness(A)
    assert told.loudness is not None
    assert told.loudness.db == pytest.approx(louder, abs=0.02)
    for one in told.thirds:
        if one.hz not in (200.0, 4000.0):
            continue
        _, response = signal.freqz(*coefficients, worN=[exact_hz(one.hz)], fs=RATE)
        assert one.apart is not None
        assert one.apart.db == pytest.approx(20 * np.log10(abs(response[0])) - louder, abs=0.15)


def test_peaks_and_crest_are_those_of_the_samples() -> None:
    """Referee: numpy over windows of 400 ms in which the DI lies within 20 dB of its loudest one."""
    told = compared(A, np.tanh(4.0 * B))
    size = round(0.4 * RATE)
    rows, bare = (one[: one.size // size * size].reshape(-1, size) for one in (A, di()))
    power = np.mean(bare**2, axis=1)
    loud = rows[power >= np.max(power) / 100]
    crest = np.mean(20 * np.log10(np.max(abs(loud), axis=1) / np.sqrt(np.mean(loud**2, axis=1))))
    assert told.a.peak_dbfs == pytest.approx(20 * np.log10(np.max(abs(A))), abs=1e-9)
    assert told.a.true_peak_dbtp >= told.a.peak_dbfs
    assert told.a.crest_db == pytest.approx(crest, abs=1e-6)
    assert told.crest is not None
    assert told.crest.db < -2.0
    assert any("squashed" in line for line in words(told))


def test_noise_in_the_rests_is_its_rms() -> None:
    told = compared(A, B + noise(-55.0, 4))
    assert told.a.noise_dbfs == pytest.approx(-75.0, abs=0.5)
    assert told.b.noise_dbfs == pytest.approx(-55.0, abs=0.5)
    assert words(told) == ("noisier between the notes, by 20 dB",)


def test_without_a_rest_there_is_no_noise_to_be_told() -> None:
    busy = np.random.default_rng(7).standard_normal(di().size) * 0.1
    told = compared(busy, busy, played=busy)
    assert told.a.noise_dbfs is None
    assert told.a.rings.reason == "the DI never stops and rests"


def test_noise_of_both_is_heard_in_the_same_half_second() -> None:
    """The rest is two seconds long: one hisses at its beginning, the other at its end."""
    first, second = A.copy(), B.copy()
    half = 3 * RATE // 4
    first[-2 * RATE : -2 * RATE + half] += noise(-60.0, 4)[:half]
    second[-half:] += noise(-40.0, 5)[:half]
    told = compared(first, second)
    assert told.a.noise_dbfs == pytest.approx(-75.0, abs=0.5)
    assert told.b.noise_dbfs == pytest.approx(-75.0, abs=0.5)
    assert words(told) == (NOTHING,)


def test_where_each_is_still_in_another_rest_noise_is_not_told() -> None:
    """In each tail the other one still dies away."""
    dying = noise(-30.0, 4)[: 2 * RATE] * 10 ** (-np.arange(2 * RATE) / RATE)
    played = np.concatenate((di(), di()))
    first, second = (
        np.concatenate((one, one)) + 1e-5 * np.random.default_rng(9).standard_normal(played.size)
        for one in (A, B)
    )
    middle = slice(di().size - 2 * RATE, di().size)
    first[middle] += dying
    second[-2 * RATE :] += dying
    told = compared(first, second, played=played)
    assert (told.a.noise_dbfs, told.b.noise_dbfs) == (None, None)


@pytest.mark.parametrize("is_resting", [True, False])
def test_noise_is_not_told_as_tone(is_resting: bool) -> None:
    """The second sound hisses where the first has nothing: over the loudspeaker's upper end."""
    played = di() if is_resting else np.random.default_rng(7).standard_normal(di().size) * 0.1
    amp = signal.butter(6, 1500.0, fs=RATE)
    a, b = (signal.lfilter(*amp, played) + noise(*hiss) for hiss in ((-85.0, 2), (-65.0, 3)))
    lines = words(compared(a, b, played=played))
    assert lines == (("noisier between the notes, by 20 dB",) if is_resting else (NOTHING,))


def test_an_echo_is_told_with_its_time_and_whose_it_is() -> None:
    told = compared(A, echoed(B, ms=310.0, db=-9.0))
    assert told.a.echo is None
    assert told.b.echo is not None
    assert told.b.echo.repeat_ms == pytest.approx(310.0, abs=0.2)
    assert told.b.echo.level_db == pytest.approx(-9.0, abs=2.0)
    assert any(line.startswith("an echo at 310 ms") for line in words(told))
    back = compared(echoed(A, ms=310.0, db=-9.0), B)
    assert back.b.echo is None
    assert any(line.startswith("without the echo at 310 ms") for line in words(back))


def test_a_longer_tail_is_told_with_how_long_both_ring() -> None:
    told = compared(A, reverberant(B, falls_s=1.0))
    assert told.a.rings.falls_s is not None
    assert told.b.rings.falls_s is not None
    assert told.a.rings.falls_s < 0.05
    # The reverb lies about 6 dB under the note and falls 60 dB a second: 30 dB down after some 0.4 s.
    assert told.b.rings.falls_s == pytest.approx(0.4, abs=0.12)
    assert any(line.startswith("longer tail") for line in words(told))


def test_a_tail_under_the_noise_says_why_it_is_not_told() -> None:
    told = compared(A + noise(-35.0, 5), B)
    assert told.a.rings.falls_s is None
    assert told.a.rings.reason == "the noise lies over it"


def test_pieces_of_any_size_tell_the_same() -> None:
    other = echoed(B, ms=200.0, db=-10.0)
    one, many = compared(A, other), compared(A, other, step=7777)
    assert words(one) == words(many)
    assert one.a.rms_dbfs == pytest.approx(many.a.rms_dbfs, abs=1e-9)
    assert one.b.echo == many.b.echo


def test_silence_is_said_and_no_figure_is_made_of_it() -> None:
    told = compared(np.zeros_like(A), B)
    assert words(told) == ("A: nothing loud enough to be compared",)
    assert (told.loudness, told.thirds, told.crest) == (None, (), None)
    assert told.a.crest_db is None


def test_third_octaves_hold_a_tone_and_white_noise_by_their_widths() -> None:
    """Band edges: IEC 61260-1, base ten (from memory); white noise holds power by the hertz."""
    sound = np.random.default_rng(3).standard_normal(20 * RATE)
    running = RunningThirds(rate=RATE)
    running.feed(sound)
    for hz, power in zip(bands_at(RATE), np.mean(running.rows(), axis=0).sum(axis=1), strict=True):
        low, high = edges_hz(hz)
        if hz >= 500.0:
            assert 10 * np.log10(power / ((high - low) / (RATE / 2))) == pytest.approx(0.0, abs=0.6)
    assert bands_at(RATE)[-1] == 6300.0


def test_shapes_are_the_cookbook_filters() -> None:
    """Referee: `scipy.signal.freqz` of the digital shelf, far under half the rate."""
    hz = np.array([100.0, 300.0, 500.0, 1000.0])
    _, response = signal.freqz(*shelf(500.0, 6.0), worN=hz, fs=RATE)
    assert 10 * np.log10(shape_power(Fitted("shelf", 500.0, 6.0), hz)) == pytest.approx(
        20 * np.log10(np.abs(response)), abs=0.05
    )


def test_a_tilt_is_so_many_decibels_an_octave() -> None:
    power = shape_power(Fitted("tilt", 1000.0, -1.5), np.array([500.0, 1000.0, 4000.0]))
    assert 10 * np.log10(power) == pytest.approx([1.5, 0.0, -3.0])


def even_bands() -> Bands:
    """Return all bands, filled evenly."""
    hz = middles_of_parts(bands_at(48_000))
    return Bands(hz=hz, fill=np.full_like(hz, 1.0 / PARTS))


@pytest.mark.parametrize("part", range(PARTS))
def test_what_a_bell_makes_of_a_band_is_told_by_where_in_it_the_sound_lies(part: int) -> None:
    """Referee: `scipy.signal.freqs` of the cookbook's analogue bell, where there is any sound."""
    hz = middles_of_parts(bands_at(48_000))
    bands = Bands(hz=hz, fill=np.eye(PARTS)[np.full(hz.shape[0], part)])
    turn, root, quality = 2 * np.pi * 500.0, 10 ** (9.0 / 40), 3.0
    above = [1.0, turn * root / quality, turn**2]
    below = [1.0, turn / root / quality, turn**2]
    _, response = signal.freqs(above, below, worN=2 * np.pi * hz[:, part])
    seen = bands.seen((Fitted("bell", 500.0, 9.0, quality),))
    assert seen == pytest.approx(20 * np.log10(np.abs(response)), abs=1e-6)


def test_two_shapes_at_once_are_both_found() -> None:
    planted = Fitted("shelf", 3000.0, 6.0), Fitted("bell", 400.0, -5.0, 1.4)
    db = even_bands().seen(planted) - 2.0
    found, left = fitted(even_bands(), db, np.ones_like(db))
    assert left < 0.1
    assert sorted((one.kind, round(one.db)) for one in found) == [("bell", -5), ("shelf", 6)]


def test_a_constant_is_no_shape() -> None:
    count = len(bands_at(48_000))
    assert fitted(even_bands(), np.full(count, 3.0), np.ones(count))[0] == ()
