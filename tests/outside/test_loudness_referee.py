"""Loudness against a second implementation and against the standard's own test signal.

Referee: pyloudnorm's ``Meter.integrated_loudness`` on whole signals, within 0.1 LU (the tolerance of
EBU Tech 3341). Only the filters' coefficients are shared with it; state, blocks and gates are ours.
Value from outside: ITU-R BS.1770-4, annex 1: a 0 dBFS sine of 1 kHz (997 Hz) on one front loudspeaker
reads −3.01 LKFS.
"""

from __future__ import annotations

import numpy as np
import pyloudnorm
import pytest
from needs import needs_samples
from playing import phrase

from audio.measure.running import RunningReturn

TOLERANCE_LU = 0.1


def ours(signal: np.ndarray, *, rate: int) -> float | None:
    running = RunningReturn(rate=rate)
    for piece in np.array_split(signal, 37):
        running.feed(piece)
    return running.measures(path="close.wav").loudness_lufs


@needs_samples()
@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_playing_reads_as_the_referee_reads_it(rate: int, seed: int) -> None:
    music = phrase(rate=rate, seconds=8.0, seed=seed)
    referee = pyloudnorm.Meter(rate).integrated_loudness(music)
    assert ours(music, rate=rate) == pytest.approx(referee, abs=TOLERANCE_LU)


@needs_samples()
def test_both_gates_close_as_the_referees_do() -> None:
    loud = phrase(rate=48_000, seconds=6.0, seed=4)
    faint, silent = loud * 10 ** (-25 / 20), np.full(48_000 * 5, 1e-6)
    music = np.concatenate((silent, loud, faint, silent, loud * 0.5))
    referee = pyloudnorm.Meter(48_000).integrated_loudness(music)
    assert ours(music, rate=48_000) == pytest.approx(referee, abs=TOLERANCE_LU)


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000, 192_000])
def test_a_full_scale_sine_on_one_loudspeaker_reads_what_the_standard_says(rate: int) -> None:
    tone = np.sin(2 * np.pi * 997 * np.arange(10 * rate) / rate)
    assert ours(tone, rate=rate) == pytest.approx(-3.01, abs=TOLERANCE_LU)
