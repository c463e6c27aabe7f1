"""Roughly where a recording lies against its DI, out of minutes either way.

Blocks of a few seconds, spread over the shorter of the two, are looked for in the longer one at a low rate,
phase transform again. Each block speaks for itself, so neither a drifting clock nor lost frames smear the
likeness, and a riff that comes back is given away by the blocks that have no counterpart there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import fft

from audio.measure import gauss
from audio.measure.spread import spread

if TYPE_CHECKING:
    from numpy.typing import NDArray

FARTHEST_S = 122.0
"""Two minutes, and what converters add."""
_TWICE_LEAST_RATE = 8000.0
_TAPS = 8
"""Either side of the middle of the half-band filter."""
_BLOCK = 16_384
"""Low-rate frames: four seconds."""
_BLOCKS = 14
_BROAD = 5
"""So many of the blocks look everywhere; the others only near where these agree."""
DRIVE = 10.0
"""Gain over the level of usual peaks before the curve of `audio.measure.driven`: in the middle of what
amps do, so that one curve serves them all for so rough a look."""
_BAND_HZ = (90.0, 160.0, 1400.0, 1700.0)
_BIN_S = 0.010
_NEAR_BINS = 3
"""A clock that drifts, or frames lost, move a block by so much against the others."""
_MOST = 12.0
_FOUND = 6.5
"""Likeness over noise from which a block counts as found; 240 s of lags pass 6 by chance once in 400."""
_STRAYS_S = 1.5
"""A block that was found elsewhere counts if it is no further than this from the others."""


@dataclass(frozen=True, kw_only=True)
class Whereabouts:
    """Where blocks of the DI were found."""

    at: NDArray[np.int64]
    """(found,) · frame of the DI in the middle of each block, rising; files' rate."""
    lags: NDArray[np.int64]
    """(found,) · frame of the recording less frame of the DI, to some frames; files' rate."""
    lead: float
    """By how much the blocks fit better here than anywhere else, in noise's standard deviations, at most
    some 60."""
    fit: float
    """Mean likeness over noise of a block here, at most 12."""

    def around(self, at_frame: int) -> tuple[int, int]:
        """Return the lags of the blocks before and after a frame of the DI."""
        after = int(np.searchsorted(self.at, at_frame))
        last = self.at.size - 1
        return int(self.lags[max(after - 1, 0)]), int(self.lags[min(after, last)])


def low_step(*, rate: int) -> int:
    """Return how many frames of the files make one of the low rate."""
    return 2 * max(1, int(rate / _TWICE_LEAST_RATE))


def decimated(sound: NDArray[np.floating], *, rate: int) -> NDArray[np.float32]:
    """Return (frames,) of sound at the low rate, what would fold taken out well enough for a rough look.

    Sums of neighbours first, as playing holds little where those leak; then a half-band filter.
    """
    step = low_step(rate=rate) // 2
    rows = -(-sound.size // (2 * step)) * 2
    padded = np.zeros(rows * step, dtype=np.float32)
    padded[: sound.size] = sound
    halved = padded.reshape(rows, step) @ np.full(step, 1.0 / step, dtype=np.float32)
    at = np.arange(-_TAPS, _TAPS + 1)
    kernel = (0.45 * np.sinc(0.45 * at) * np.hanning(at.size + 2)[1:-1]).astype(np.float32)
    padded = np.pad(halved, _TAPS)
    out = np.zeros(rows // 2, dtype=np.float32)
    for tap, weight in enumerate(kernel):
        out += weight * padded[tap : tap + rows : 2]
    return out


def whereabouts(
    di: NDArray[np.float32], recording: NDArray[np.float32], *, rate: int, peak: float
) -> Whereabouts | None:
    """Look for a recording.

    Parameters
    ----------
    di
        (frames,) · as `decimated` returns it.
    recording
        (frames,) · likewise.
    rate
        Of the files.
    peak
        Of usual attacks of the DI, linear.

    Returns
    -------
    Whereabouts | None
        None where fewer than two blocks were found in one place (one, where there is but one).
    """
    step = low_step(rate=rate)
    bent = np.tanh(di * np.float32(DRIVE / max(peak, 1e-9)))
    flipped = recording.size < 0.7 * di.size
    short, long = (recording, bent) if flipped else (bent, recording)
    farthest = round(FARTHEST_S * rate / step)
    seen = _Seen(long, rate / step, farthest)
    begins = _beginnings(short)
    broad = [begins[i] for i in spread(len(begins), _BROAD)]
    looks = [one for begin in broad if (one := seen.look(short, begin)) is not None]
    if not looks:
        return None
    middle, lead, fits = _agreed(looks, rate, step)
    near = round(_STRAYS_S * rate / step)
    close = [seen.look(short, begin, around=(middle - farthest, near)) for begin in begins]
    found = [(one.middle, _own_lag(one, middle, rate, step)) for one in close if one is not None]
    there = sorted((at, lag - farthest) for at, lag in found if lag is not None)
    if not there or len(there) < min(2, len(found)):
        return None
    if flipped:
        there = sorted((at + lag, -lag) for at, lag in there)
    at, lags = np.array(there, dtype=np.int64).T * step
    return Whereabouts(at=at, lags=lags, lead=lead, fit=fits)


@dataclass(frozen=True, kw_only=True)
class _Look:
    """One block's likeness with the other sound."""

    middle: int
    curve: NDArray[np.float32]
    """(2 · farthest + 1,) · likeness over noise, either polarity; 0 where there is nothing to compare."""


class _Seen:
    """The longer sound, cut into overlapping pieces and whitened once."""

    def __init__(self, sound: NDArray[np.float32], low_rate: float, farthest: int) -> None:
        self._farthest = farthest
        self._frames = sound.size
        pieces = -(-sound.size // _BLOCK) + 1
        padded = np.zeros((pieces + 1) * _BLOCK, dtype=np.float32)
        padded[_BLOCK : _BLOCK + sound.size] = sound
        self._spectra = np.stack(
            [_white(padded[i * _BLOCK : (i + 2) * _BLOCK], low_rate) for i in range(pieces)]
        )
        self._low_rate = low_rate

    def look(
        self, short: NDArray[np.float32], begin: int, *, around: tuple[int, int] | None = None
    ) -> _Look | None:
        """Compare the block of `short` from `begin` on with everything within reach of it.

        Or with what is near a lag: `around` is that and how near.
        """
        block = short[begin : begin + _BLOCK]
        if not np.any(block):
            return None
        conjugate = np.conj(_white(np.pad(block, (0, 2 * _BLOCK - block.size)), self._low_rate))
        lag, reach = around or (0, self._farthest)
        # Piece i begins at frame (i - 1) * block of the sound.
        first = max(0, (begin + lag - reach) // _BLOCK + 1)
        last = min(len(self._spectra), (begin + lag + reach) // _BLOCK + 2)
        if first >= last:
            return None
        curves = fft.irfft(self._spectra[first:last] * conjugate, 2 * _BLOCK, axis=1)[:, :_BLOCK]
        return _Look(
            middle=begin + block.size // 2,
            curve=self._placed(np.abs(curves).reshape(-1), (first - 1) * _BLOCK - begin),
        )

    def _placed(self, flat: NDArray[np.float32], lag: int) -> NDArray[np.float32]:
        """Return likeness over noise by lag, where `flat` begins at `lag`."""
        some = flat[:: max(1, flat.size // 50_000)]
        noise = float(np.median(some[some > 0.0])) / gauss.MEDIAN if np.any(some) else 1.0
        out = np.zeros(2 * self._farthest + 1, dtype=np.float32)
        begin = max(lag, -self._farthest)
        end = min(lag + flat.size, self._farthest + 1)
        if begin < end:
            out[begin + self._farthest : end + self._farthest] = flat[begin - lag : end - lag]
        return out * np.float32(1.0 / noise)


def _white(piece: NDArray[np.float32], low_rate: float) -> NDArray[np.complex64]:
    spectrum = fft.rfft(piece)
    size = np.abs(spectrum)
    hz = np.arange(size.size) * (low_rate / piece.size)
    band = np.interp(hz, _BAND_HZ, (0.0, 1.0, 1.0, 0.0)).astype(np.float32)
    most = np.max(size)
    return np.asarray(spectrum * (band / (size + np.float32(1e-4) * most + np.float32(1e-20))))


def _beginnings(sound: NDArray[np.float32]) -> list[int]:
    """Return where blocks begin: spread over what is not silent, the liveliest of each part."""
    hop = _BLOCK // 8
    levels = np.square(np.pad(sound, (0, -sound.size % hop)).reshape(-1, hop)).mean(axis=1)
    loud = np.flatnonzero(levels > 1e-4 * np.max(levels, initial=0.0))
    if not loud.size:
        return []
    first, last = int(loud[0]) * hop, min((int(loud[-1]) + 1) * hop, sound.size)
    room = last - first - _BLOCK
    if room <= 0:
        return [max(0, first)]
    count = min(_BLOCKS, 1 + max(1, 2 * room // _BLOCK))
    return [int(v) for v in np.linspace(first, first + room, count)]


def _agreed(looks: list[_Look], rate: int, step: int) -> tuple[int, float, float]:
    """Return the column at which most blocks agree, their lead over any other, and how well they fit."""
    size = max(1, round(_BIN_S * rate / step))
    total = np.sum([_binned(one.curve, size) for one in looks], axis=0)
    best = int(np.argmax(total))
    away = np.abs(np.arange(total.size) - best) > 2 * _NEAR_BINS + 1
    lead = float(total[best] - np.max(total[away], initial=0.0))
    return best * size + size // 2, lead, float(total[best]) / len(looks)


def _binned(curve: NDArray[np.float32], size: int) -> NDArray[np.float32]:
    """Return what a block adds to each bin of lags, its neighbours' best included."""
    rows = np.pad(curve, (0, -curve.size % size)).reshape(-1, size).max(axis=1)
    top = float(np.max(rows, initial=0.0))
    worth = rows * np.float32(min(1.0, _MOST / max(top, 1e-9)))
    spread = worth.copy()
    for shift in range(1, _NEAR_BINS + 1):
        spread[shift:] = np.maximum(spread[shift:], worth[:-shift])
        spread[:-shift] = np.maximum(spread[:-shift], worth[shift:])
    return np.asarray(spread)


def _own_lag(look: _Look, middle: int, rate: int, step: int) -> int | None:
    """Return the column of a block's best likeness near the others, or a bit away if it is clear there."""
    for reach_s in ((_NEAR_BINS + 1) * _BIN_S, _STRAYS_S):
        reach = round(reach_s * rate / step)
        begin = max(0, middle - reach)
        best = begin + int(np.argmax(look.curve[begin : middle + reach + 1]))
        if look.curve[best] >= _FOUND:
            return best
    return None
