"""Integrated loudness after ITU-R BS.1770, measured while the sound comes in.

The two filters' coefficients come from pyloudnorm; here they only keep their state between pieces.
A signal counts as one loudspeaker: the same signal on two would read 3 dB more.
"""

from __future__ import annotations

from array import array
from typing import TYPE_CHECKING

import numpy as np
from pyloudnorm import IIRfilter
from scipy.signal import lfilter

if TYPE_CHECKING:
    from numpy.typing import NDArray

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
        # BS.1770 annex 1, stage 1 (head) and stage 2 (RLB), as pyloudnorm parametrises them
        self._stages = (
            IIRfilter(4.0, 1.0 / np.sqrt(2.0), 1500.0, rate, "high_shelf"),
            IIRfilter(0.0, 0.5, 38.0, rate, "high_pass"),
        )
        self._states = [np.zeros(2) for _ in self._stages]
        self._hops = array("d")

    def feed(self, hops: NDArray[np.float64]) -> None:
        """Take (hops, frames) of sound in order, 100 ms a row; what is shorter never makes a block."""
        weighted = hops.ravel()
        for k, stage in enumerate(self._stages):
            weighted, self._states[k] = lfilter(stage.b, stage.a, weighted, zi=self._states[k])
        rows = weighted.reshape(hops.shape)
        self._hops.extend(np.mean(rows * rows, axis=1))

    def lufs(self) -> float | None:
        """Return the integrated loudness so far; None without a block over the gate of −70 LUFS."""
        hops = np.frombuffer(self._hops, dtype=np.float64) if self._hops else np.zeros(0)
        if hops.size < _HOPS_IN_BLOCK:
            return None
        powers = np.convolve(hops, np.full(_HOPS_IN_BLOCK, 1.0 / _HOPS_IN_BLOCK), mode="valid")
        loud = powers[powers >= _power(_ABSOLUTE_GATE_LUFS)]
        if not loud.size:
            return None
        kept = loud[loud > np.mean(loud) * 10.0 ** (_RELATIVE_GATE_LU / 10.0)]
        return float(_OFFSET_LU + 10.0 * np.log10(np.mean(kept)))


def _power(lufs: float) -> float:
    return float(10.0 ** ((lufs - _OFFSET_LU) / 10.0))
