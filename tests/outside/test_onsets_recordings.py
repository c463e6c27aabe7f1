"""Hits of real playing: pieces of CC0 recordings, spliced where each first moves (``hits.recordings``)."""

from __future__ import annotations

import mir_eval
import numpy as np
from hits.offsets import led_s, offsets_s
from hits.recordings import RATE, alone, spliced
from needs import needs_samples
from numpy.typing import NDArray

from audio.measure.onsets import find_hits

SEED = 26_950


@needs_samples()
def test_recorded_notes_are_found_within_half_a_millisecond_of_each_ones_own_offset() -> None:
    phrase, offsets = spliced(seed=SEED), offsets_s(alone(), _found(alone().samples))
    assert all(-0.1e-3 <= late <= 3.5e-3 for late in offsets.values())
    found, truth = _found(phrase.samples), np.array(led_s(phrase, offsets))
    assert mir_eval.onset.f_measure(truth, found, window=0.010)[0] >= 0.89
    errors_ms = [1e3 * np.min(np.abs(found - one)) for one in truth]
    assert np.median(errors_ms) <= 0.5


def _found(samples: NDArray[np.float32]) -> NDArray[np.float64]:
    return np.array([hit.frame / RATE for hit in find_hits(samples, rate=RATE)])
