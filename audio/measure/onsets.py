"""Where notes and chords are struck in a DI, to a fraction of a millisecond.

`onset_flux` says where there is new sound, `onset_place` where its first motion is; here it is decided
what counts. How sure a hit is follows from two things: how far all bands rise, and how far what
prediction leaves stands over its usual before. They are weighed as tells hits from the rest on the tuning
material (logistic regression, Cox 1958), so that a confidence is the share of such places that are hits.

A strum and a fast run are told apart by time alone: strings struck within 62 ms of the first are one hit,
whatever is between them. Sixteenths at 220 beats a minute are 68 ms apart. A strum slower than that counts
as two hits, a run faster as one hit for two notes, and a grace note as one with its note. Before it is
struck, a string is touched by pick or hand, in recordings up to 25 ms before: that is no hit. A strum's
width is a least: the later strings are often covered by the earlier ones, and on the tuning material half
of the widths are 18 ms short or more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from audio.measure.onset_flux import Flux, flux
from audio.measure.onset_place import Places, place
from audio.vocab.readiness import Hit

if TYPE_CHECKING:
    from numpy.typing import NDArray

_LEAST_RISE_DB = 0.10
_PEAK_HOPS = 4
"""What is expected to be a hit rises most of all hops so far to either side."""
_OFFSET, _OF_RISE, _OF_OVER, _MOST_OVER_DB = -0.51, 4.12, 0.88, 12.0
"""Weights of the logarithm of the rise, and of what stands over the usual before, dB, to a most."""
_SURE_ENOUGH = 0.35
"""Of what is less sure, fewer than one in three are hits."""
_STRUM_MS = 62.0
_ONE_STRING_MS = 2.0
"""What is narrower is one string, or all at once."""
_LATER_STRING = 0.03
"""Inside a strum far less sureness will do: earlier strings ring over the later ones."""
_ATTACK_MS = 8.0
_TOUCH = 0.1
"""What attacks with so little of a string struck behind it is the hand or the pick that touches."""
_CUT_S = 0.005
"""What a file breaks off with is no hit."""
_LEVEL_S = 0.050
_SILENT = 1e-9


def find_hits(samples: NDArray[np.float32], *, rate: int) -> tuple[Hit, ...]:
    """Find where notes and chords are struck.

    Made for a guitar's DI; drums and bass are found by the same rules. A file that begins with a note
    counts it where the file begins.

    Parameters
    ----------
    samples
        The whole recording, shape (frames,), full scale 1, no NaN. Any length, silence included.
    rate
        Frames a second, 22,050 to 192,000.

    Returns
    -------
    tuple[Hit, ...]
        Hits in the order of time, 62 ms apart or more; `confidence` is 0.35 or more.
    """
    if not samples.size or float(np.max(samples)) - float(np.min(samples)) < _SILENT:
        return ()
    new = flux(samples, rate=rate)
    expected = _expected(new.rise_db)
    end = samples.size - _CUT_S * rate
    expected = expected[expected * new.hop * new.factor < end]
    if not expected.size:
        return ()
    places = place(new.samples, expected * new.hop, rate=new.rate)
    sure = _confidence(new.rise_db[expected], places)
    order = np.argsort(places.frame, kind="stable")
    struck = _attack(new.samples, places.frame[order], new.rate)
    at = _in_frames(places, new, samples.size)[order]
    return _grouped(samples, at, np.where(at < end, sure[order], 0.0), struck, rate)


def _expected(rise_db: NDArray[np.float32]) -> NDArray[np.int64]:
    """Return the hops that rise most of all around them, shape (hits,)."""
    around = sliding_window_view(np.pad(rise_db, _PEAK_HOPS), 2 * _PEAK_HOPS + 1).max(axis=1)
    return np.flatnonzero((rise_db >= around) & (rise_db >= _LEAST_RISE_DB))


def _confidence(rise_db: NDArray[np.float32], places: Places) -> NDArray[np.float64]:
    """Return how sure each place is a hit, 0 to 1."""
    rise = np.log(rise_db.astype(np.float64))
    weighed = (
        _OFFSET + _OF_RISE * rise + _OF_OVER * np.clip(places.over_usual_db, 0.0, _MOST_OVER_DB)
    )
    sure: NDArray[np.float64] = 1.0 / (1.0 + np.exp(-np.clip(weighed, -30.0, 30.0)))
    return sure


def _attack(low: NDArray[np.float32], at: NDArray[np.float64], rate: float) -> NDArray[np.float32]:
    """Return the largest step from frame to frame just behind each place: what rings on has small ones."""
    steps = np.abs(np.diff(low, append=low[-1:]))
    reach = max(1, round(_ATTACK_MS * rate / 1e3))
    behind = np.clip(at.astype(np.int64), 0, low.size - 1)[:, None] + np.arange(reach)
    largest: NDArray[np.float32] = steps[np.minimum(behind, low.size - 1)].max(axis=1)
    return largest


def _in_frames(places: Places, new: Flux, frames: int) -> NDArray[np.float64]:
    """Return the places in frames of the recording.

    Nothing is taken off: on the tuning material plucked strings are found 0.02 to 0.09 ms late.
    """
    return np.clip(places.frame * new.factor, 0.0, frames - 1.0)


def _grouped(
    samples: NDArray[np.float32],
    at: NDArray[np.float64],
    sure: NDArray[np.float64],
    attack: NDArray[np.float32],
    rate: int,
) -> tuple[Hit, ...]:
    """Return what lies within a strum of its first string as one hit; places are in the order of time."""
    reach = _STRUM_MS * rate / 1e3
    kept = np.flatnonzero(sure >= _SURE_ENOUGH)
    hits: list[Hit] = []
    while kept.size:
        inside = kept[at[kept] < at[kept[0]] + reach]
        # What is half as sure as the best behind it is no first string; what is far softer is the touch.
        first = at[inside[np.argmax(_struck(sure[inside], attack[inside]))]]
        group = (at >= first) & (at < first + reach) & (sure >= _LATER_STRING)
        hits.append(_hit(samples, at[group], float(sure[group].max()), rate))
        kept = kept[at[kept] >= first + reach]
    return tuple(hits)


def _struck(sure: NDArray[np.float64], attack: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Return which may be the first string of those within a strum."""
    may = sure >= sure.max() / 2.0
    first: NDArray[np.bool_] = may & (attack >= _TOUCH * attack[may].max())
    return first


def _hit(samples: NDArray[np.float32], at: NDArray[np.float64], sure: float, rate: int) -> Hit:
    width_ms = 1e3 * float(at[-1] - at[0]) / rate
    heard = samples[int(at[0]) : int(at[0] + _LEVEL_S * rate) + 1]
    peak = max(float(heard.max()), -float(heard.min()), _SILENT)
    return Hit(
        frame=float(at[0]),
        width_ms=width_ms if width_ms >= _ONE_STRING_MS else 0.0,
        level_dbfs=20.0 * float(np.log10(peak)),
        confidence=sure,
    )
