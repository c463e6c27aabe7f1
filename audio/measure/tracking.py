"""A clean recording of what was sent, loop or witness, followed frame by frame.

Such a recording is a copy: only delay, gain, polarity, a high-pass and noise lie between. So every block
that sounds can be placed to a small fraction of a frame, and a lost frame shows as soon as the copy lies
elsewhere. What decides is the likelihood of the recording, noise taken as Gaussian with the spectrum that
was measured (Kay 1993, Fundamentals of Statistical Signal Processing, from memory).
"""

from __future__ import annotations

import copy
from typing import TYPE_CHECKING

import numpy as np

from audio.measure.track import Track
from audio.vocab.alignment import Alignment

if TYPE_CHECKING:
    from numpy.typing import NDArray


class RunningTrack:
    """Follows a recording against what was played, piece by piece.

    Both begin together: frame 0 of the recording belongs to frame 0 of what was played, but for a delay
    of at most 60 ms either way. Pieces of any size give the same result. Memory holds some 20 s of both,
    and grows by some twenty numbers a second.

    Parameters
    ----------
    rate
        Frames a second, 44 100 to 192 000.
    """

    def __init__(self, *, rate: int) -> None:
        self._track = Track(rate=rate)

    def feed(self, played: NDArray[np.floating], recording: NDArray[np.floating]) -> None:
        """Take the next stretch of both, (frames,) each, linear, any number of frames."""
        self._track.add(played, recording)
        self._track.go_on(last=False)

    def alignment(self) -> Alignment:
        """Return how the recording lies so far; more may be fed afterwards.

        Returns
        -------
        Alignment
            Slips are exact to the frame, and placed where what was played sounds; one that happened in
            a rest lies somewhere in that rest. `reason` is set, and no delay, where nothing was sent,
            nothing came, or what came is no copy.
        """
        rest = copy.deepcopy(self._track)
        rest.go_on(last=True)
        return rest.told()
