"""By how much an edited DI is louder than its raw one, note by note.

An edit moves notes in time, so the two cannot be subtracted. A short stretch behind each attack of the edit
is looked for in the raw DI around the same place by normalised correlation; where it is the same note, the
ratio of their levels is the edit's gain there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from msgspec.structs import replace

from audio.measure.attacks import RunningAttacks
from audio.measure.levels import peak_dbfs
from audio.vocab.looped import EditGain

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Sound = NDArray[np.float32]

MOST_NOTES = 96
"""Spread evenly over the edit; more say nothing new."""
_LENGTH_S = 0.08
_AROUND_S = 1.0
"""How far an edit may have moved a note, either way: a beat at 60 a minute."""
_SAME = 0.97
"""Correlation from which it is the same note: another pick of the same string reaches 0.9 or so (common
practice, no source); 0.97 leaves room for a fade and a resampler's highs."""
_FEWEST_NOTES = 4
_FEWEST_SHARE = 1.0 / 3.0
"""Of the notes looked for: fewer found again, and the two are different takes."""


def edit_gain(raw: Sound, edited: Sound, *, rate: int) -> EditGain:
    """Compare an edit with the DI it was made from.

    Parameters
    ----------
    raw
        (frames,) · linear.
    edited
        (frames,) · linear · of any length; the same notes within a second of where they were.
    rate
        Frames a second of both.

    Returns
    -------
    EditGain
        With a `reason` where too few notes were found again to tell.
    """
    found = RunningAttacks(rate=rate)
    attacks = [at for at, _ in (*found.feed(edited), *found.finish())]
    length = round(_LENGTH_S * rate)
    attacks = [at for at in attacks if at + length <= edited.size]
    chosen = [attacks[i] for i in _spread(len(attacks))]
    gains = [_gain_at(raw, edited, at, length, rate) for at in chosen]
    known = np.asarray([gain for gain in gains if gain is not None])
    told = EditGain(
        gain_db=None,
        notes=known.size,
        looked_for=len(chosen),
        peak_dbfs=peak_dbfs(edited),
        raw_peak_dbfs=peak_dbfs(raw),
    )
    if len(chosen) < _FEWEST_NOTES:
        return replace(told, reason="no notes")
    if known.size < max(_FEWEST_NOTES, _FEWEST_SHARE * len(chosen)):
        return replace(told, reason="not found")
    low, middle, high = np.percentile(known, (10.0, 50.0, 90.0))
    return replace(told, gain_db=float(middle), spread_db=float(high - low) / 2.0)


def _spread(count: int) -> list[int]:
    if count <= MOST_NOTES:
        return list(range(count))
    return [int(i) for i in np.linspace(0, count - 1, MOST_NOTES).round()]


def _gain_at(raw: Sound, edited: Sound, at: int, length: int, rate: int) -> float | None:
    """Return the edit's gain at one note, dB; None where the raw DI does not hold it nearby."""
    note = edited[at : at + length].astype(np.float64)
    reach = round(_AROUND_S * rate)
    first = max(0, at - reach)
    around = raw[first : at + length + reach].astype(np.float64)
    if around.size < length or not np.any(note):
        return None
    energies = _energies(around, length)
    size = 1 << (around.size + length).bit_length()
    spectrum = np.fft.rfft(around, size) * np.conj(np.fft.rfft(note, size))
    likeness = np.fft.irfft(spectrum, size)[: energies.size]
    own = float(note @ note)
    sounding = energies > 1e-9 * own
    curve = np.where(sounding, likeness / np.sqrt(np.where(sounding, energies, 1.0) * own), 0.0)
    best = int(np.argmax(np.abs(curve)))
    if abs(curve[best]) < _SAME:
        return None
    return float(10.0 * np.log10(own / energies[best]))


def _energies(around: Floats, length: int) -> Floats:
    """Return the energy of each stretch of `length` frames."""
    sums = np.concatenate(([0.0], np.cumsum(around * around)))
    return np.asarray(np.maximum(sums[length:] - sums[:-length], 0.0))
