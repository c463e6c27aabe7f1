"""Noise and hum of a return where the DI rests and what rang has died away."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.levels import Mains, mains, rms
from audio.measure.third_rows import parts_of
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

STRETCH_WINDOWS = 10
"""Windows of 50 ms in the stretch that is measured: half a second."""

_STEP = STRETCH_WINDOWS // 2

REST_DB = 40.0
"""How far under its loudest window the DI must be to rest (common practice, no source)."""

_AFTER_WINDOWS = 2
"""Windows before a stretch in which the DI rests already: a distant microphone hears it later."""

STABLE_DB = 2.0
"""What the halves of a stretch may differ by: a quarter of a second of noise varies by 0.1 dB, of hum by
less; an echo that still dies, 60 dB in 9 s, loses 1.7 dB, and adds less than that to the noise."""

_MAINS_UNDER = 1.15
"""RMS over the lowest so far up to which hum is looked for: louder stretches are music."""


@dataclass(frozen=True)
class Rest:
    """What a return is in a rest."""

    noise_dbfs: float
    """RMS, full band."""
    hum: Mains | None = None
    parts: NDArray[np.float64] | None = field(default=None, compare=False)
    """(bands, parts) mean square in the parts of third-octave bands, as `audio.measure.third_rows` has
    them; None, as is `hum`, where something still quieter sounded while the DI played."""


class RunningRests:
    """Keeps hum and bands of every stretch that may turn out to be a rest, some hundred numbers each.

    Parameters
    ----------
    window
        Frames of a window of 50 ms.
    rate
        Frames a second.
    """

    def __init__(self, *, window: int, rate: int) -> None:
        self._rate = rate
        self._hop = _STEP * window
        self._held = np.zeros(0)
        self._hops = 0
        self._lowest = np.inf
        self._heard: dict[int, tuple[Mains | None, NDArray[np.float64]]] = {}

    def feed(self, piece: NDArray[np.floating]) -> None:
        """Take the next (frames,) of a return, any number of them."""
        self._held = np.concatenate((self._held, piece))
        at = 0
        while at + 2 * self._hop <= self._held.size:
            self._look(self._held[at : at + 2 * self._hop])
            at += self._hop
        self._held = self._held[at:].copy()

    def rest(self, di_dbfs: Sequence[float], levels_dbfs: Sequence[float]) -> Rest | None:
        """Return what the return is where the DI rests.

        Parameters
        ----------
        di_dbfs
            (windows,) level of the DI; behind its end it rests.
        levels_dbfs
            (windows,) level of the return in the same windows.

        Returns
        -------
        Rest | None
            Of the quietest of `still`; None where there is none.
        """
        still = self.still(di_dbfs, levels_dbfs)
        return self.at(min(still, key=lambda one: still[one]), still) if still else None

    def still(self, di_dbfs: Sequence[float], levels_dbfs: Sequence[float]) -> dict[int, float]:
        """Return the mean square of each half second that rests, by its number.

        The DI rests in it, and the return is as loud at its end as at its beginning. They begin a quarter
        of a second apart; levels are those of `rest`.
        """
        sent = np.full(len(levels_dbfs), -np.inf)
        known = min(len(di_dbfs), sent.size)
        sent[:known] = di_dbfs[:known]
        loudest = max(di_dbfs, default=-np.inf)
        power = 10.0 ** (np.asarray(levels_dbfs) / 10.0)
        return {
            hop: float(np.mean(power[at : at + STRETCH_WINDOWS]))
            for hop, at in enumerate(range(0, _STEP * self._hops, _STEP))
            if np.all(sent[max(at - _AFTER_WINDOWS, 0) : at + STRETCH_WINDOWS] <= loudest - REST_DB)
            and _stable(power[at : at + STRETCH_WINDOWS])
        }

    def at(self, number: int, still: Mapping[int, float]) -> Rest:
        """Return what the return is in one of the half seconds of `still`."""
        hum, parts = self._heard.get(number, (None, None))
        noise_dbfs = db_from_ratio(float(np.sqrt(still[number])))
        return Rest(noise_dbfs=noise_dbfs, hum=hum, parts=parts)

    def _look(self, stretch: NDArray[np.float64]) -> None:
        level = rms(stretch)
        if level < _MAINS_UNDER * self._lowest:
            self._heard[self._hops] = (
                mains(stretch, rate=self._rate),
                parts_of(stretch, rate=self._rate),
            )
            self._lowest = min(self._lowest, level)
        self._hops += 1


def _stable(power: NDArray[np.float64]) -> bool:
    halves = [float(np.sum(half)) for half in (power[:_STEP], power[_STEP:])]
    return bool(max(halves) <= 10.0 ** (STABLE_DB / 10.0) * min(halves))
