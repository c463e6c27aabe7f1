"""Real playing for tests: CC0 guitar recordings strung into phrases."""

from __future__ import annotations

from functools import cache
from math import gcd
from pathlib import Path

import numpy as np
import soundfile
from needs import GUITARS
from scipy.signal import resample_poly


def phrase(*, rate: int, seconds: float, seed: int, peak_dbfs: float = -12.0) -> np.ndarray:
    """Return notes and chords of the recordings, each cut short and faded, one after the other.

    Shape (frames,), float64, peak as asked. The order, lengths and rests follow from `seed`.
    """
    rng = np.random.default_rng(seed)
    out, have = [np.zeros(rate // 10)], rate // 10
    while have < seconds * rate:
        note = _note(GUITARS[rng.integers(len(GUITARS))], rate, float(rng.uniform(0.3, 1.2)))
        rest = np.zeros(int(rng.uniform(0.0, 0.15) * rate))
        out += [note, rest]
        have += len(note) + len(rest)
    played = np.concatenate(out)[: int(seconds * rate)]
    played[-rate // 100 :] *= np.linspace(1, 0, len(played[-rate // 100 :]))
    return played * (10 ** (peak_dbfs / 20) / np.abs(played).max())


def _note(path: Path, rate: int, seconds: float) -> np.ndarray:
    whole, recorded_at = _recording(path)
    mono = np.array(whole[: int(seconds * recorded_at)])
    mono[-recorded_at // 50 :] *= np.linspace(1, 0, len(mono[-recorded_at // 50 :]))
    common = gcd(rate, recorded_at)
    return resample_poly(mono, rate // common, recorded_at // common)


@cache
def _recording(path: Path) -> tuple[np.ndarray, int]:
    """Return a recording from its onset on and its rate; each is decoded once in a test run."""
    samples, recorded_at = soundfile.read(path, always_2d=True)
    mono = samples.mean(axis=1)
    onset = int(np.argmax(np.abs(mono) > 0.05 * np.abs(mono).max()))
    from_onset = mono[max(0, onset - recorded_at // 200) :].copy()
    from_onset.flags.writeable = False  # all phrases share it
    return from_onset, recorded_at


def write_phrase(path: Path, *, rate: int, seconds: float, seed: int) -> Path:
    """Write a phrase as a 24-bit mono WAV file, as a DI is recorded."""
    soundfile.write(path, phrase(rate=rate, seconds=seconds, seed=seed), rate, subtype="PCM_24")
    return path
