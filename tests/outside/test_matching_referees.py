"""Matched sounds judged from outside: pyloudnorm, ffmpeg's ebur128, a general resampler, EBU Tech 3341.

What is judged is the mix as it is heard, read from its files and added up sample by sample, at the gains
that were told. Tolerance between sounds: 0.1 LU, that of EBU Tech 3341. The document's signals and their
tolerances are those of `test_loudness_ebu`, from memory as there; it hears them on two loudspeakers, which
read 3.01 LU more than the one that is told here.
"""

from __future__ import annotations

import math
import subprocess
from pathlib import Path

import numpy as np
import pytest
from matched import RATE, Sound, asked, dbtp, eight_times, mixed, referee_lufs, sounds_of, write
from msgspec import structs
from needs import needs_program
from scipy import signal

from audio.vocab.layers import Layer
from audio.vocab.matching import CEILING_DBTP, Matched
from audio.vocab.units import ratio_from_db
from audio.work.matching import Matching

FRAMES = 3 * RATE
TOLERANCE_LU = 0.1


@pytest.fixture(scope="module")
def sounds(tmp_path_factory: pytest.TempPathFactory) -> list[Sound]:
    """Twenty sounds: microphones one by one, pairs in one file's channels added to mono, and whole rigs."""
    folder = tmp_path_factory.mktemp("sounds")
    rigs = sounds_of(folder, range(8), seconds=3.0, many=3)
    singles = sounds_of(folder, range(20, 26), seconds=3.0, many=1)
    pairs = sounds_of(folder, range(40, 46), seconds=3.0, many=2)
    sums = []
    for number, (left, right) in enumerate(pairs):
        both = np.column_stack([mixed([one], frames=FRAMES) for one in (left, right)])
        first = write(folder / f"both-{number}.wav", both)
        sums.append((first, Layer(path=first.path, channel=1, gain_db=-2.0 * number)))
    return [*rigs, *singles, *sums]


@pytest.fixture(scope="module")
def under(tmp_path_factory: pytest.TempPathFactory) -> Sound:
    folder = tmp_path_factory.mktemp("under")
    return sounds_of(folder, [70], seconds=3.0, many=2)[0]


@pytest.fixture(scope="module")
def told(sounds: list[Sound], under: Sound) -> Matched:
    return Matching().match(asked(*sounds, under=under, frames=FRAMES))


def at_their_gains(sounds: list[Sound], told: Matched) -> list[np.ndarray]:
    gains = [ratio_from_db(one.match_db + told.cut_matched_db) for one in told.sounds]
    return [gain * mixed(sound, frames=FRAMES) for gain, sound in zip(gains, sounds, strict=True)]


def test_twenty_sounds_are_all_as_loud_as_the_quietest(sounds: list[Sound], told: Matched) -> None:
    before = [referee_lufs(mixed(sound, frames=FRAMES)) for sound in sounds]
    assert max(before) - min(before) > 15.0  # there was something to do
    heard = [referee_lufs(one) for one in at_their_gains(sounds, told)]
    (quietest,) = [k for k, one in enumerate(told.sounds) if one.match_db == 0.0]
    assert before[quietest] == min(before)
    assert heard == pytest.approx([heard[quietest]] * 20, abs=TOLERANCE_LU)
    assert all(one.match_db <= 0.0 for one in told.sounds)


def test_each_sounds_loudness_is_the_referees(sounds: list[Sound], told: Matched) -> None:
    for sound, one in zip(sounds, told.sounds, strict=True):
        assert one.loudness_lufs == pytest.approx(
            referee_lufs(mixed(sound, frames=FRAMES)), abs=0.01
        )


@pytest.mark.slow
@needs_program("ffmpeg", package="ffmpeg")
def test_ffmpeg_hears_twenty_files_as_loud_as_the_quietest(
    sounds: list[Sound], told: Matched, tmp_path: Path
) -> None:
    heard = [ebur128(tmp_path, one) for one in at_their_gains(sounds, told)]
    (quietest,) = [k for k, one in enumerate(told.sounds) if one.match_db == 0.0]
    assert heard == pytest.approx([heard[quietest]] * 20, abs=TOLERANCE_LU)


def ebur128(folder: Path, sound: np.ndarray) -> float:
    """Return the integrated loudness that ffmpeg's filter tells of a mono file, LUFS."""
    path = write(folder / "judged.wav", sound).path
    tell = "ebur128=metadata=1,ametadata=print:key=lavfi.r128.I:file=-"
    command = ["ffmpeg", "-v", "error", "-i", path, "-af", tell, "-f", "null", "-"]
    printed = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return float(printed.rpartition("lavfi.r128.I=")[2])


# ------------------------------------------------------------------ peaks


def test_no_flip_between_any_two_sounds_goes_over_the_ceiling(tmp_path: Path, under: Sound) -> None:
    # What an equal-power crossfade of two can reach at any moment is √(x² + y²): here of the two largest at
    # that moment of all, eight times oversampled, with what plays under them at its worst.
    hot = [
        tuple(structs.replace(layer, gain_db=layer.gain_db + 18.0) for layer in sound)
        for sound in sounds_of(tmp_path, range(80, 86), seconds=1.0, many=3)
    ]
    told = Matching().match(asked(*hot, under=under, frames=RATE))
    assert told.cut_plain_db < told.cut_matched_db < 0.0  # there was something to do
    heard = [eight_times(mixed(sound, frames=RATE)) for sound in hot]
    beneath = np.abs(eight_times(mixed(under, frames=RATE)))
    for cut, matches in (
        (told.cut_plain_db, [0.0] * len(hot)),
        (told.cut_matched_db, [one.match_db for one in told.sounds]),
    ):
        sizes = [ratio_from_db(db) * np.abs(one) for db, one in zip(matches, heard, strict=True)]
        second, first = np.sort(sizes, axis=0)[-2:]
        reached = dbtp(ratio_from_db(cut) * (np.hypot(first, second) + beneath))
        assert CEILING_DBTP - 9.0 < reached <= CEILING_DBTP


def test_one_microphone_alone_peaks_where_a_general_resampler_says(
    sounds: list[Sound], told: Matched
) -> None:
    for sound, one in list(zip(sounds, told.sounds, strict=True))[8:11]:
        referee = dbtp(eight_times(mixed(sound, frames=FRAMES)))
        assert one.peak_dbtp == pytest.approx(referee, abs=0.1)


def test_two_sounds_that_are_one_meet_the_ceiling_in_the_middle_of_a_flip(tmp_path: Path) -> None:
    at = np.arange(2 * RATE) / RATE
    fade = np.minimum(1.0, np.minimum(at, at[::-1]) / 0.1)
    layer = write(tmp_path / "sine.wav", 0.99 * fade * np.sin(2 * np.pi * 440.0 * at))
    told = Matching().match(asked([layer], [layer], frames=at.size))
    sound = ratio_from_db(told.cut_matched_db) * mixed([layer], frames=at.size)
    turns = np.linspace(0.0, np.pi / 2, 91)
    worst = max(dbtp(eight_times((np.cos(t) + np.sin(t)) * sound)) for t in turns[::15])
    # Under it by what the waveform may hide between values at 192 kHz, 0.69 dB (BS.1770-5, annex 2).
    assert CEILING_DBTP - 0.75 <= worst <= CEILING_DBTP


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_reaches_up_to_the_end_of_hearing_stays_under_the_ceiling(
    tmp_path: Path, seed: int
) -> None:
    # Sines near 20 kHz hide most between the samples.
    draw = np.random.default_rng(seed)
    at = np.arange(RATE) / RATE
    sines = [
        0.4 * np.hanning(at.size) * np.sin(2 * np.pi * draw.uniform(17e3, 20e3) * at + phase)
        for phase in draw.uniform(0, 6, 3)
    ]
    sound = [write(tmp_path / f"{k}.wav", sine) for k, sine in enumerate(sines)]
    told = Matching().match(asked(sound, sound, frames=at.size))
    fine = eight_times(ratio_from_db(told.cut_plain_db) * mixed(sound, frames=at.size))
    assert dbtp(math.sqrt(2.0) * fine) <= CEILING_DBTP


# ------------------------------------------------------------------ EBU Tech 3341

STEPS = {
    # number of the signal: (peak dBFS, seconds) one after the other; all −23 LUFS on two loudspeakers
    1: ((-23.0, 20.0),),
    2: ((-33.0, 20.0),),
    3: ((-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0)),
    4: ((-72.0, 10.0), (-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0), (-72.0, 10.0)),
    5: ((-26.0, 20.0), (-20.0, 20.1), (-26.0, 20.0)),
}
EXPECTED_LUFS = {1: -23.0, 2: -33.0, 3: -23.0, 4: -23.0, 5: -23.0}


@pytest.mark.parametrize("number", STEPS)
def test_integrated_loudness_of_signals_1_to_5(tmp_path: Path, number: int) -> None:
    heights = [np.full(round(s * RATE), ratio_from_db(peak)) for peak, s in STEPS[number]]
    height = np.concatenate(heights)
    sine = height * np.sin(2 * np.pi * 1000.0 * np.arange(height.size) / RATE)
    # Two microphones that add up to it, in one file's channels.
    layer = write(tmp_path / "both.wav", np.column_stack((0.25 * sine, 0.75 * sine)))
    other = Layer(path=layer.path, channel=1)
    told = Matching().match(asked([layer, other], frames=sine.size)).sounds[0].loudness_lufs
    assert told is not None
    heard_on_two = told + 10 * math.log10(2)
    assert heard_on_two == pytest.approx(EXPECTED_LUFS[number], abs=TOLERANCE_LU)


SINES = {
    # number of the signal: frames of a period, degrees, height, expected dBTP
    15: (4, 0.0, 0.50, -6.0),
    16: (4, 45.0, 0.50, -6.0),
    17: (6, 60.0, 0.50, -6.0),
    18: (8, 67.5, 0.50, -6.0),
    19: (4, 45.0, 1.41, 3.0),
}


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
@pytest.mark.parametrize("number", SINES)
def test_true_peak_of_signals_15_to_19(tmp_path: Path, number: int, rate: int) -> None:
    period, degrees, height, expected = SINES[number]
    at = np.arange(rate)
    fade = np.minimum(1.0, np.minimum(at, at[::-1]) / (0.1 * rate))
    sine = height * fade * np.sin(2 * np.pi * at / period + math.radians(degrees))
    layer = write(tmp_path / "sine.wav", sine, rate=rate)
    told = Matching().match(asked([layer], frames=rate, sample_rate=rate)).sounds[0].peak_dbtp
    assert expected - 0.4 <= told <= expected + 0.2


@pytest.mark.parametrize("offset", range(4))
def test_true_peak_of_signals_20_to_23(tmp_path: Path, offset: int) -> None:
    # As in `test_loudness_ebu`: one period of a sine at full height, at a frequency of our own.
    at = np.arange(2 * RATE)
    sound = 0.5 * np.sin(2 * np.pi * at / 16.0)
    sound[at.size // 2 : at.size // 2 + 16] *= 2.0
    fine = np.convolve(sound, signal.firwin(1025, 0.245, window=("kaiser", 10.0)), mode="same")
    layer = write(tmp_path / "sine.wav", (fine / np.max(np.abs(fine)))[offset::4])
    told = Matching().match(asked([layer], frames=RATE // 2)).sounds[0].peak_dbtp
    assert -0.4 <= told <= 0.2
