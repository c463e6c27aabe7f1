"""Noise and hum where the DI rests, and plain copies of the DI."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from needs import needs_samples
from playing import phrase
from scipy.signal import butter, coherence, lfilter

from audio.measure.copies import Copy, plain_copy
from audio.measure.rests import Rest, RunningRests
from audio.measure.running import RunningLevels, window_frames
from audio.measure.shared import RunningShared
from audio.measure.third_rows import bands_at
from audio.measure.thirds import edges_hz

RATE = 48_000

pytestmark = needs_samples()


def levels(signal: np.ndarray) -> tuple[float, ...]:
    running = RunningLevels(rate=RATE)
    running.feed(signal)
    return running.levels_dbfs()


def rest(di: np.ndarray, sound: np.ndarray, *, cuts: tuple[int, ...] = ()) -> Rest | None:
    running = RunningRests(window=window_frames(rate=RATE), rate=RATE)
    for piece in np.split(sound, cuts):
        running.feed(piece)
    return running.rest(levels(di), levels(sound))


def hiss(frames: int, *, dbfs: float = -80.0) -> np.ndarray:
    return 10 ** (dbfs / 20) * np.random.default_rng(5).standard_normal(frames)


@lru_cache(maxsize=1)
def played() -> np.ndarray:
    """Four seconds, a rest of three, four seconds more."""
    parts = [phrase(rate=RATE, seconds=4.0, seed=seed) for seed in (31, 32)]
    return np.concatenate((parts[0], np.zeros(3 * RATE), parts[1]))


# ------------------------------------------------------------------ rests


@pytest.mark.parametrize("dbfs", [-100.0, -80.0, -50.0])
def test_noise_is_that_of_the_rest_not_of_the_music(dbfs: float) -> None:
    found = rest(played(), 0.5 * played() + hiss(played().size, dbfs=dbfs))
    assert found is not None
    assert found.noise_dbfs == pytest.approx(dbfs, abs=0.2)
    assert found.hum is None


def test_the_bands_of_the_rest_hold_its_noise_by_their_widths() -> None:
    """White noise holds power by the hertz; band edges: IEC 61260-1, base ten (from memory)."""
    found = rest(played(), 0.5 * played() + hiss(played().size, dbfs=-60.0))
    assert found is not None
    assert found.parts is not None
    for hz, power in zip(bands_at(RATE), np.sum(found.parts, axis=1), strict=True):
        low, high = edges_hz(hz)
        if hz >= 1000.0:
            held = 10 * np.log10(power / ((high - low) / (RATE / 2)))
            assert held == pytest.approx(-60.0, abs=1.2)


def test_where_the_playing_is_quieter_than_the_rest_its_bands_are_not_known() -> None:
    sound = hiss(played().size, dbfs=-60.0)
    sound[: 3 * RATE] = 0.0
    found = rest(played(), sound)
    assert found is not None
    assert found.noise_dbfs == pytest.approx(-60.0, abs=0.2)
    assert found.parts is None


@pytest.mark.parametrize("hz", [50, 60])
def test_hum_in_the_rest_is_told_with_its_frequency_and_level(hz: int) -> None:
    hum = 0.003 * np.sin(2 * np.pi * hz * np.arange(played().size) / RATE)
    found = rest(played(), 0.5 * played() + hiss(played().size) + hum)
    assert found is not None
    assert found.hum is not None
    assert found.hum.hz == hz
    assert found.hum.dbfs == pytest.approx(20 * np.log10(0.003 / np.sqrt(2)), abs=0.3)


def test_an_echo_that_rings_into_the_rest_is_not_taken_for_noise() -> None:
    echo = 0.5 * played()
    for _ in range(4):
        echo[18_000:] += 0.35 * echo[:-18_000]
    found = rest(played(), echo + hiss(played().size))
    assert found is not None
    assert found.noise_dbfs == pytest.approx(-80.0, abs=1.0)


def test_music_without_a_rest_tells_nothing() -> None:
    di = played()[: 4 * RATE] + hiss(4 * RATE, dbfs=-45.0)
    assert rest(di, 0.5 * di) is None


def test_what_dies_all_through_the_rest_tells_nothing() -> None:
    di = played()[: 6 * RATE]
    dying = 0.1 * np.exp(-np.arange(di.size) / (0.5 * RATE)) * hiss(di.size, dbfs=0.0)
    assert rest(di, dying) is None


def test_the_tail_behind_the_di_is_a_rest() -> None:
    di = played()[: 4 * RATE]
    tail = np.concatenate((0.5 * di, np.zeros(2 * RATE)))
    found = rest(di, tail + hiss(tail.size))
    assert found is not None
    assert found.noise_dbfs == pytest.approx(-80.0, abs=0.2)


@pytest.mark.slow
@settings(max_examples=8, deadline=None)
@given(data=st.data())
def test_how_the_return_was_cut_does_not_show(data: st.DataObject) -> None:
    sound = 0.5 * played() + hiss(played().size)
    cuts = tuple(sorted(data.draw(st.lists(st.integers(0, sound.size), max_size=12))))
    cut, whole = rest(played(), sound, cuts=cuts), rest(played(), sound)
    assert cut == whole
    assert cut is not None
    assert whole is not None
    np.testing.assert_array_equal(cut.parts, whole.parts)


# ------------------------------------------------------------------ plain copies


def copy_in(sound: np.ndarray) -> Copy | None:
    running = RunningShared(others=1, rate=RATE)
    running.feed(played(), [sound + hiss(sound.size, dbfs=-84.0)])
    return plain_copy(running.shared(0), rate=RATE)


def loudspeaker(signal: np.ndarray) -> np.ndarray:
    """A guitar loudspeaker's band, and its presence (common practice, no source)."""
    shaped = lfilter(*butter(2, [80.0, 5000.0], "band", fs=RATE), signal)
    return shaped + 0.8 * lfilter(*butter(1, [2000.0, 4000.0], "band", fs=RATE), shaped)


def driven(db: float) -> np.ndarray:
    music = played() / np.max(np.abs(played()))
    return 0.3 * np.tanh(10 ** (db / 20) * music + 0.2) - 0.3 * np.tanh(0.2)


@pytest.mark.parametrize("late", [0, 3, 600])
@pytest.mark.parametrize("db", [0.0, -30.0, -60.0])
def test_a_wire_is_a_plain_copy_with_its_gain(late: int, db: float) -> None:
    sound = np.roll(played(), late) * 10 ** (db / 20)
    sound[:late] = 0.0
    found = copy_in(sound)
    assert found is not None
    assert found.share > 0.97
    assert found.gain_db == pytest.approx(db, abs=0.2)


def test_crosstalk_between_two_wires_is_a_plain_copy() -> None:
    """It rises by 6 dB an octave, as a small capacitance into a resistance does (from memory)."""
    found = copy_in(0.01 * np.diff(played(), prepend=0.0))
    assert found is not None
    assert found.share > 0.97
    # |1 − exp(−iω)| at 1 kHz is 2·sin(π/48)
    assert found.gain_db == pytest.approx(-40.0 + 20 * np.log10(2 * np.sin(np.pi / 48)), abs=0.3)


def test_a_loudspeaker_is_none_even_when_the_amp_is_clean() -> None:
    found = copy_in(0.3 * loudspeaker(played()))
    assert found is not None
    assert found.share < 0.9


@pytest.mark.parametrize(("db", "most"), [(6.0, 0.75), (20.0, 0.4), (40.0, 0.2)])
def test_drive_takes_the_likeness_away(db: float, most: float) -> None:
    found = copy_in(loudspeaker(driven(db)))
    assert found is not None
    assert found.share < most


def test_a_copy_explains_no_more_than_any_linear_path_could() -> None:
    """Referee: the coherence of scipy.signal is what the best linear path explains at each frequency."""
    sound = loudspeaker(driven(20.0))
    found = copy_in(sound)
    hz, most = coherence(played(), sound, fs=RATE, nperseg=16_384)
    band = (hz > 80) & (hz < 8000)
    assert found is not None
    assert found.share < float(np.max(most[band]))


def test_noise_alone_and_silence_are_no_copy() -> None:
    assert copy_in(np.zeros(played().size)) is None
    running = RunningShared(others=1, rate=RATE)
    running.feed(np.zeros(2 * RATE), [hiss(2 * RATE)])
    assert plain_copy(running.shared(0), rate=RATE) is None
