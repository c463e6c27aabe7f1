"""Hits of plucked strings whose truth is known, judged by mir_eval.

Strings: Karplus and Strong 1983 (``hits.karplus``), seeds from 26,800 on. ``mir_eval.onset.f_measure``
matches each hit with one true hit at most, within a window; MIREX uses 50 ms.
"""

from __future__ import annotations

import mir_eval
import numpy as np
import pytest
from hits.karplus import karplus
from hits.plans import FAMILIES
from hits.strings import di

from audio.measure.onsets import find_hits

RATE = 48_000
SEED = 26_800
WIDE_S, CLOSE_S = 0.050, 0.005


@pytest.mark.parametrize("family", ["single notes", "fast runs", "palm mutes", "quiet notes"])
def test_plucked_notes_are_found_where_they_begin(family: str) -> None:
    plan = FAMILIES[family](np.random.default_rng(SEED))
    music = di(plan, karplus, rate=RATE, seed=SEED).astype(np.float32)
    found = np.array([hit.frame / RATE for hit in find_hits(music, rate=RATE)])
    truth = np.array(plan.hits_s())
    assert mir_eval.onset.f_measure(truth, found, window=WIDE_S)[0] >= 0.95
    assert mir_eval.onset.f_measure(truth, found, window=CLOSE_S)[0] >= 0.9
    errors = [np.min(np.abs(found - one)) for one in truth]
    assert np.median(errors) <= 0.0005


def test_a_strummed_chord_counts_once_at_its_first_string() -> None:
    plan = FAMILIES["strummed chords"](np.random.default_rng(SEED + 1))
    music = di(plan, karplus, rate=RATE, seed=SEED + 1).astype(np.float32)
    found = np.array([hit.frame / RATE for hit in find_hits(music, rate=RATE)])
    assert len(found) == pytest.approx(len(plan.hits_s()), abs=1)
    assert mir_eval.onset.f_measure(np.array(plan.hits_s()), found, window=CLOSE_S)[0] >= 0.9
