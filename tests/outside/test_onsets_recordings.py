"""Hits of real playing: pieces of CC0 recordings, spliced where each first moves (``hits.recordings``)."""

from __future__ import annotations

import mir_eval
import numpy as np
from hits.recordings import RATE, spliced
from needs import needs_samples

from audio.measure.onsets import find_hits

SEED = 26_950


@needs_samples()
def test_recorded_notes_are_found_within_half_a_millisecond_as_a_rule() -> None:
    music, truth = spliced(seed=SEED)
    found = np.array([h.frame / RATE for h in find_hits(music.astype(np.float32), rate=RATE)])
    assert mir_eval.onset.f_measure(np.array(truth), found, window=0.010)[0] >= 0.89
    errors_ms = [1e3 * np.min(np.abs(found - one)) for one in truth]
    assert np.median(errors_ms) <= 0.5
