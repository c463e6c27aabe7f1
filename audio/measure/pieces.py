"""What pieces of 10 ms of several microphones hold: enough to know any balance without their sound.

For gains g the mix is Σ gᵢ·xᵢ, K-weighted Σ gᵢ·yᵢ, for the weighting is linear. Its mean square in a piece
is Σᵢⱼ gᵢ·gⱼ·mean(yᵢ·yⱼ): the mean products of all pairs are enough for any gains. Its true peak is no more
than Σ |gᵢ|·peakᵢ.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import sosfilt

from audio.measure.loudness import k_weighting
from audio.measure.true_peak import MARGIN, piece_peaks

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

PIECES_IN_HOP = 10
"""A piece is 10 ms, a hop of the loudness's blocks 100 ms."""

_RUN_IN_PIECES = 10
"""Before the first: what the slowest of the filters' states, a double pole at 38 Hz, keeps of what lies
further back has fallen by 180 dB."""


def piece_frames(*, rate: int) -> int:
    """Return the frames of one piece."""
    return max(1, round(rate / 100))


@dataclass(frozen=True, slots=True)
class Pieces:
    """A row of pieces.

    Single precision: what is left of microphones that cancel is right to 0.01 dB down to 40 dB under them.
    """

    products: Singles | None
    """(pairs, pieces) · K-weighted mean product of each of `pairs`, twice that where the two differ."""
    peaks: Singles
    """(microphones, pieces) · true peak, linear."""

    def powers(self, gains: Floats) -> Floats:
        """Return the K-weighted mean square of each piece of a mix; only where products were kept."""
        if self.products is None:
            raise ValueError("only the peaks of these pieces were kept")
        first, second = pairs(gains.size)
        weights = (gains[first] * gains[second]).astype(np.float32)
        return np.asarray(np.maximum(weights @ self.products, 0.0), dtype=np.float64)

    def bounds(self, gains: Floats) -> Singles:
        """Return what the true peak of a mix is at most, piece by piece."""
        return np.asarray(np.abs(gains).astype(np.float32) @ self.peaks)

    @property
    def bytes(self) -> int:
        """How much memory it holds."""
        return self.peaks.nbytes + (0 if self.products is None else self.products.nbytes)


def around(*, rate: int) -> tuple[int, int]:
    """Return how many frames before the first and behind the last piece have to be known."""
    return max(MARGIN, _RUN_IN_PIECES * piece_frames(rate=rate)), MARGIN


def measure_pieces(sound: Floats, *, rate: int, weighed: bool) -> Pieces:
    """Measure microphones piece by piece.

    Parameters
    ----------
    sound
        (microphones, before + pieces · `piece_frames` + behind) · linear, what `around` says before and
        behind.
    rate
        Frames a second.
    weighed
        Whether loudness will be asked for, or the peak alone.

    Returns
    -------
    Pieces
        The same whatever was measured before.
    """
    piece = piece_frames(rate=rate)
    before, behind = around(rate=rate)
    peaks = [piece_peaks(one[before - MARGIN :], piece=piece, rate=rate) for one in sound]
    return Pieces(
        products=_products(sound[:, : sound.shape[1] - behind], before, rate) if weighed else None,
        peaks=np.stack(peaks),
    )


@lru_cache(maxsize=16)
def pairs(microphones: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return both microphones of each pair, a microphone with itself among them."""
    return np.triu_indices(microphones)


def _products(sound: Floats, before: int, rate: int) -> Singles:
    weighted = sosfilt(k_weighting(rate=rate), sound)[:, before:]
    piece = piece_frames(rate=rate)
    rows = weighted.reshape(sound.shape[0], -1, piece).transpose(1, 0, 2)
    means = np.matmul(rows, rows.transpose(0, 2, 1)) / piece
    first, second = pairs(sound.shape[0])
    once = np.where(first == second, 1.0, 2.0)
    return np.ascontiguousarray((means[:, first, second] * once).T, dtype=np.float32)
