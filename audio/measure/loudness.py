"""Integrated loudness after ITU-R BS.1770, measured while the sound comes in.

The two filters' coefficients come from pyloudnorm; here they only keep their state between pieces.
Whoever asks says on how many loudspeakers a signal is heard: on two it reads 3 dB more than on one, but for
what the gates let through.
"""

from __future__ import annotations

from array import array
from typing import TYPE_CHECKING, Literal

import numpy as np
from pyloudnorm import IIRfilter
from scipy.signal import sosfilt

if TYPE_CHECKING:
    from numpy.typing import NDArray

Speakers = Literal[1, 2]
"""On how many loudspeakers one channel is heard."""

_OFFSET_LU = -0.691
_ABSOLUTE_GATE_LUFS = -70.0
_RELATIVE_GATE_LU = -10.0
_HOPS_IN_BLOCK = 4
"""Blocks of 400 ms that overlap by 75 %: each is four hops of 100 ms."""


class RunningLoudness:
    """Loudness of one channel, fed hop by hop.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self._stages = k_weighting(rate=rate)
        self._state = np.zeros((self._stages.shape[0], 2))
        self._hops = array("d")

    def feed(self, hops: NDArray[np.float64]) -> None:
        """Take (hops, frames) of sound in order, 100 ms a row; what is shorter never makes a block."""
        weighted, self._state = sosfilt(self._stages, hops.ravel(), zi=self._state)
        # Row by row: how einsum adds up several rows depends on how many they are, in the last bit.
        self._hops.extend(
            float(np.einsum("f,f->", row, row)) / row.size for row in weighted.reshape(hops.shape)
        )

    def powers(self) -> NDArray[np.float64]:
        """Return the K-weighted mean square of each hop so far, (hops,)."""
        return np.array(self._hops, dtype=np.float64)

    def lufs(self, *, speakers: Speakers = 1) -> float | None:
        """Return the integrated loudness so far, heard on so many loudspeakers in front.

        None without a block over the gate of −70 LUFS.
        """
        return integrated_lufs(speakers * self.powers())


def k_weighting(*, rate: int) -> NDArray[np.float64]:
    """Return the filters of K-weighting as second-order sections, (2, 6)."""
    # BS.1770 annex 1, stage 1 (head) and stage 2 (RLB), as pyloudnorm parametrises them
    stages = (
        IIRfilter(4.0, 1.0 / np.sqrt(2.0), 1500.0, rate, "high_shelf"),
        IIRfilter(0.0, 0.5, 38.0, rate, "high_pass"),
    )
    return np.array([(*stage.b, *stage.a) for stage in stages])


def integrated_lufs(powers: NDArray[np.float64]) -> float | None:
    """Return the loudness of all that passes both gates (ITU-R BS.1770-5, annex 1, formulas 3 to 7).

    Parameters
    ----------
    powers
        (hops,) · K-weighted mean square of each 100 ms, summed over loudspeakers with the annex's weights.

    Returns
    -------
    float | None
        LUFS; None without a block of 400 ms over the gate of −70 LUFS.
    """
    if powers.size < _HOPS_IN_BLOCK:
        return None
    blocks = np.convolve(powers, np.full(_HOPS_IN_BLOCK, 1.0 / _HOPS_IN_BLOCK), mode="valid")
    loud = blocks[blocks >= _power(_ABSOLUTE_GATE_LUFS)]
    if not loud.size:
        return None
    kept = loud[loud > np.mean(loud) * 10.0 ** (_RELATIVE_GATE_LU / 10.0)]
    return float(_OFFSET_LU + 10.0 * np.log10(np.mean(kept)))


def _power(lufs: float) -> float:
    return float(10.0 ** ((lufs - _OFFSET_LU) / 10.0))
