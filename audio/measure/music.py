"""Where a recording lies against its DI, by the music alone.

For chains that swallow clicks, for originals, for any file. From coarse to fine: blocks of the DI are
looked for in the whole recording at a low rate (`audio.measure.whereabouts`), then each attack is compared
with the recording around that place, behind the curve of an amp that suits best; a line through all attacks
settles place and polarity; all attacks together give the response, and with it the first arrival.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audio.measure.attacks import RunningAttacks
from audio.measure.strikes import Strikes
from audio.measure.struck import AMBIGUOUS, FEWEST, NO_ATTACKS, NOT_ALIKE, measured
from audio.measure.tape import Tape, piece_of
from audio.measure.whereabouts import DRIVE, decimated, whereabouts
from audio.measure.whitened import Geometry, geometry, likeness, lowered
from audio.vocab.alignment import Alignment

if TYPE_CHECKING:
    from numpy.typing import NDArray

_REACH_S = 0.040
_LEAST_LEAD = 3.5
_ALIKE = 8.0
"""Of blocks: likeness from which they do fit, wherever that is."""


def align(di: NDArray[np.floating], recording: NDArray[np.floating], *, rate: int) -> Alignment:
    """Find how far a recording lies from its DI.

    Parameters
    ----------
    di
        (frames,) · linear, any level.
    recording
        (frames,) · linear, any level and polarity; begins up to two minutes early or late.
    rate
        Frames a second, of both.

    Returns
    -------
    Alignment
        With a `reason` instead of a delay where it cannot be told.
    """
    shape = geometry(rate=rate, reach_s=_REACH_S)
    detector = RunningAttacks(rate=rate)
    attacks = detector.feed(di) + detector.finish()
    if len(attacks) < FEWEST:
        return Alignment(delay_frames=None, reason=NO_ATTACKS)
    peaks = [np.max(np.abs(di[at : at + shape.stretch])) for at, _ in attacks]
    rough = whereabouts(
        decimated(di, rate=rate),
        decimated(recording, rate=rate),
        rate=rate,
        peak=float(np.median(peaks)),
    )
    if rough is None or rough.lead < _LEAST_LEAD:
        alike = rough is not None and rough.fit > _ALIKE
        return Alignment(delay_frames=None, reason=AMBIGUOUS if alike else NOT_ALIKE)
    strikes = Strikes(shape)
    for at, rise in attacks:
        if strikes.wanted(at, rise):
            pieces = _Pieces(di, recording, at - shape.before, shape)
            if (offset := pieces.offset(rough.around(at))) is not None:
                strikes.add(
                    at, rise, di=pieces.played(), recording=pieces.heard(offset), offset=offset
                )
    return measured(strikes.kept(), shape)


class _Pieces:
    """The stretches of DI and recording around one attack; silence beyond the ends of both."""

    def __init__(
        self,
        di: NDArray[np.floating],
        recording: NDArray[np.floating],
        begin: int,
        shape: Geometry,
    ) -> None:
        self._di, self._recording = di, recording
        self._begin, self._shape = begin, shape

    def offset(self, lags: tuple[int, int]) -> int | None:
        """Return the lag, in whole steps, at which to search; None where the recording does not reach.

        Where the blocks before and after the attack disagree, frames were lost or inserted between them:
        it is the one at which this attack is more like the recording.
        """
        step = self._shape.step
        there = [one for one in dict.fromkeys(lag // step * step for lag in lags) if self._has(one)]
        if len(there) < 2 or abs(there[0] - there[1]) < self._shape.reach * step // 2:
            return there[0] if there else None
        played = self.played()
        bent = np.tanh(played * (DRIVE / max(float(np.max(np.abs(played))), 1e-9)))
        spectrum = lowered(bent * self._shape.ramp, self._shape)
        return max(there, key=lambda one: self._clearness(spectrum, one))

    def played(self) -> NDArray[np.floating]:
        """Return the DI."""
        return piece_of(self._di, self._begin, self._shape.stretch)

    def heard(self, offset: int) -> NDArray[np.floating]:
        """Return the recording from `reach` before a lag on."""
        begin = self._begin + offset - self._shape.reach * self._shape.step
        return piece_of(self._recording, begin, self._shape.long)

    def _has(self, offset: int) -> bool:
        middle = self._begin + offset + self._shape.stretch // 2
        return 0 <= middle < self._recording.size

    def _clearness(self, played: NDArray[np.complex64], offset: int) -> float:
        recording = lowered(self.heard(offset), self._shape)
        curve = likeness(played, recording, self._shape)
        return float(np.max(np.abs(curve[: 2 * self._shape.reach + 1])))


class RunningMusic:
    """Compares a recording that is roughly in place with its DI while both come in.

    Parameters
    ----------
    rate
        Frames a second.
    """

    def __init__(self, *, rate: int) -> None:
        self._shape = geometry(rate=rate, reach_s=_REACH_S)
        self._attacks = RunningAttacks(rate=rate)
        self._strikes = Strikes(self._shape)
        self._waiting: list[tuple[int, float]] = []
        keep = 2 * self._shape.long + rate
        self._di, self._recording = Tape(keep), Tape(keep)

    def feed(self, di: NDArray[np.floating], recording: NDArray[np.floating]) -> None:
        """Take the next stretch of both, (frames,) each: frame *n* of one beside *n* of the other.

        The recording may lie 30 ms early or late.
        """
        step = self._shape.rate // 4
        for begin in range(0, di.size, step):
            piece = di[begin : begin + step]
            self._di.add(piece)
            self._recording.add(recording[begin : begin + step])
            self._waiting += self._attacks.feed(piece)
            self._take_strikes()

    def alignment(self) -> Alignment:
        """Return what was found so far."""
        return measured(self._strikes.kept(), self._shape)

    def _take_strikes(self) -> None:
        reach = self._shape.reach * self._shape.step
        while self._waiting:
            at, rise = self._waiting[0]
            begin = at - self._shape.before
            if begin - reach + self._shape.long > self._recording.end:
                return
            del self._waiting[0]
            if self._strikes.wanted(at, rise):
                di = self._di.take(begin, self._shape.stretch)
                recording = self._recording.take(begin - reach, self._shape.long)
                self._strikes.add(at, rise, di=di, recording=recording.astype(np.float32), offset=0)
