"""What an edit did to the level of its DI: constant gains are found though notes were moved."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from needs import needs_samples
from playing import phrase

from audio.measure.edit_gain import edit_gain
from audio.verdict.edited import constant_gain_db, findings_of_edit
from audio.vocab.looped import EditGain

RATE = 44_100

pytestmark = needs_samples()


@cache
def raw() -> np.ndarray:
    return phrase(rate=RATE, seconds=6.0, seed=31).astype(np.float32)


def moved(seed: int, *, by_s: float = 0.04, pieces: int = 6) -> np.ndarray:
    """Return the raw DI cut into pieces, each moved by up to so much, with fades of 5 ms at the cuts."""
    rng, source = np.random.default_rng(seed), raw()
    edges = np.linspace(0, source.size, pieces + 1).astype(int)
    out = np.zeros(source.size + RATE, dtype=np.float32)
    fade = np.linspace(0.0, 1.0, RATE // 200, dtype=np.float32)
    for first, last in pairwise(edges):
        piece = source[first:last].copy()
        piece[: fade.size] *= fade
        piece[-fade.size :] *= fade[::-1]
        at = max(0, first + int(rng.uniform(-by_s, by_s) * RATE))
        out[at : at + piece.size] += piece
    return out


@settings(max_examples=8, deadline=None)
@given(gain=st.floats(-12.0, 12.0), seed=st.integers(0, 3999), inverted=st.booleans())
def test_a_constant_gain_is_found_though_notes_moved(
    gain: float, seed: int, inverted: bool
) -> None:
    factor = 10 ** (gain / 20) * (-1 if inverted else 1)
    found = edit_gain(raw(), (moved(seed) * factor).astype(np.float32), rate=RATE)
    assert found.gain_db == pytest.approx(gain, abs=0.05)
    assert found.spread_db is not None
    assert found.spread_db < 0.25
    assert found.notes >= found.looked_for / 2


def test_a_ride_of_the_fader_is_no_constant_gain() -> None:
    ride = 10 ** (np.linspace(-4.0, 4.0, raw().size) / 20)
    found = edit_gain(raw(), (raw() * ride).astype(np.float32), rate=RATE)
    assert found.spread_db is not None
    assert found.spread_db > 1.0
    assert constant_gain_db(found) == 0.0
    assert findings_of_edit(found, raw="revision 1") == []


def test_another_take_is_not_found_and_silence_has_no_notes() -> None:
    other = raw()[::-1].copy()
    assert edit_gain(raw(), other, rate=RATE).reason in {"not found", "no notes"}
    silence = np.zeros(RATE, dtype=np.float32)
    found = edit_gain(raw(), silence, rate=RATE)
    assert (found.gain_db, found.reason) == (None, "no notes")


# ------------------------------------------------------------------ in words


def told(**changes: object) -> EditGain:
    usual = {"gain_db": 3.0, "spread_db": 0.02, "notes": 40, "looked_for": 41}
    return EditGain(**(usual | {"peak_dbfs": -6.4, "raw_peak_dbfs": -9.4} | changes))


@pytest.mark.parametrize(
    ("changes", "code", "words"),
    [
        (
            {},
            "edit-pan-law",
            "3.0 dB louder than revision 1 everywhere (40 notes, ± 0.0 dB): a pan law",
        ),
        ({"gain_db": -6.02}, "edit-pan-law", "6.0 dB quieter than revision 1 everywhere"),
        (
            {"gain_db": 4.2, "peak_dbfs": -0.1},
            "edit-normalised",
            "peak at −0.1 dBFS, normalised by +4.2 dB",
        ),
        ({"gain_db": 3.0, "peak_dbfs": -0.1}, "edit-normalised", "normalised by +3.0 dB"),
        ({"gain_db": -3.0, "peak_dbfs": -1.0}, "edit-pan-law", "a pan law of 3 dB"),
        ({"gain_db": 1.7}, "edit-level", "a fader or a gain"),
        ({"gain_db": None, "reason": "not found"}, "edit-not-found", "was not found in revision 1"),
    ],
)
def test_an_edits_gain_is_told_by_its_likely_cause(
    changes: dict[str, object], code: str, words: str
) -> None:
    (finding,) = findings_of_edit(told(**changes), raw="revision 1")
    assert finding.code == code
    assert words in finding.text


@pytest.mark.parametrize("changes", [{"gain_db": 0.05}, {"spread_db": 0.6}, {"gain_db": None}])
def test_no_gain_or_no_constant_one_is_not_told(changes: dict[str, object]) -> None:
    assert findings_of_edit(told(**changes), raw="revision 1") == []
