"""Hits of General MIDI guitars rendered by fluidsynth, planted off the grid (``hits.general_midi``).

Seed 26,900; hits surer than even count. Each key's own offset is what is found of it alone.
The jazz guitar (26) ringing into the next note is left out: it misses the 3 ms, as the bench shows.
"""

from __future__ import annotations

import mir_eval
import numpy as np
import pytest
from hits.general_midi import RATE, alone, rendered
from hits.offsets import led_s, offsets_s
from needs import needs_soundfont
from numpy.typing import NDArray

from audio.measure.onsets import find_hits

SEED = 26_900


@needs_soundfont()
@pytest.mark.slow
@pytest.mark.parametrize(
    ("program", "ringing"),
    [(program, ringing) for program in (24, 25, 27, 28) for ringing in (False, True)]
    + [(26, False)],
)
def test_notes_off_the_grid_are_found_within_a_millisecond_of_each_keys_own_offset(
    program: int, ringing: bool
) -> None:
    phrase, by_itself = rendered(program, seed=SEED, ringing=ringing, bars=3), alone(program)
    found = _found(phrase.samples)
    truth = np.array(led_s(phrase, offsets_s(by_itself, _found(by_itself.samples))))
    pairs = mir_eval.util.match_events(truth, found, 0.050)
    assert 2 * len(pairs) / (truth.size + found.size) >= 0.9
    errors_ms = np.array([1e3 * (found[there] - truth[here]) for here, there in pairs])
    off_ms = np.abs(errors_ms - np.median(errors_ms))
    assert np.median(off_ms) <= 1.0
    assert np.percentile(off_ms, 95) <= 3.0


def _found(samples: NDArray[np.float32]) -> NDArray[np.float64]:
    hits = find_hits(samples, rate=RATE)
    return np.array([hit.frame / RATE for hit in hits if hit.confidence >= 0.5])
