"""What is measured of a pass: its captures as they grow, and the DI beside them.

All captures are read in step, the same frames of each, so that they can be held against each other and
against the DI. Loads scipy for the loudness, which takes a second or more.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Self

import msgspec
import numpy as np

from audio.measure.copies import plain_copy
from audio.measure.music import RunningMusic
from audio.measure.running import RunningLevels, RunningReturn, window_frames
from audio.measure.shared import RunningShared
from audio.measure.together import together
from audio.measure.tracking import RunningTrack
from audio.vocab.alignment import Alignment
from audio.vocab.requests import Follow
from audio.vocab.results import PassMeasures, ReturnMeasures
from audio.work.growing import GrowingCapture
from audio.work.played import PlayedDi

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_PIECE_S = 4.0
"""Sound that is read at a time: what memory holds of each file."""


class PassSound:
    """The files of one pass, and how far they have been measured; close it, or use it as a context.

    Parameters
    ----------
    asked
        Which captures, and the DI beside them. A capture that does not exist yet is waited for. `UseError`
        if the DI cannot be read, or has another rate.
    """

    def __init__(self, asked: Follow) -> None:
        rate = asked.sample_rate
        self._asked = asked
        self._di = PlayedDi(asked)
        self._piece = round(_PIECE_S * rate)
        self._levels = RunningLevels(rate=rate)
        self._taken = 0
        self._returns = [
            _Return(GrowingCapture(Path(path), rate=rate), RunningReturn(rate=rate))
            for path in asked.paths
        ]
        self._to_di = RunningShared(others=len(asked.paths), rate=rate)
        self._to_reference = RunningShared(others=len(asked.paths) - 1, rate=rate)
        self._music = RunningMusic(rate=rate)
        self._cables = {
            name: _Cable(GrowingCapture(Path(path), rate=rate), RunningTrack(rate=rate))
            for name, path in (("loop", asked.loop_path), ("witness", asked.witness_path))
            if path is not None
        }

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._di.close()

    def take_di(self) -> Iterator[None]:
        """Measure the DI by itself, pausing after each piece; raise `UseError` if it cannot be read."""
        for at in range(0, self._di.frames, self._piece):
            frames = min(self._piece, self._di.frames - at)
            self._levels.feed(self._di.read(at, frames))
            yield

    def take_captures(self, *, closed: bool) -> bool:
        """Measure the next frames that all captures have; return whether there were any.

        Once they are `closed`, one that is shorter than others counts as silent behind its end.
        """
        captures = [one.capture for one in self._returns]
        captures += [one.capture for one in self._cables.values()]
        there = [capture.frames for capture in captures]
        ready = max(there) if closed else min(there)
        frames = min(ready - self._taken, self._piece)
        if frames <= 0:
            return False
        di = self._di.read(self._taken, frames)
        self._take_returns(di)
        for cable in self._cables.values():
            cable.track.feed(di, cable.capture.filled(self._taken, frames))
        self._taken += frames
        return True

    def _take_returns(self, di: Floats) -> None:
        sounds = [one.capture.filled(self._taken, di.size) for one in self._returns]
        for one, sound in zip(self._returns, sounds, strict=True):
            one.running.feed(sound[: max(one.capture.frames - self._taken, 0)])
        self._to_di.feed(di, sounds)
        reference = sounds.pop(self._asked.reference)
        if sounds:
            self._to_reference.feed(reference, sounds)
        self._music.feed(di, reference)

    def measures(self) -> PassMeasures:
        """Return everything; raise `UseError` if one of the captures never became one."""
        levels = self._levels.levels_dbfs()
        return PassMeasures(
            window_frames=window_frames(rate=self._asked.sample_rate),
            di_levels_dbfs=levels,
            returns=tuple(self._return(number, levels) for number in range(len(self._returns))),
            loop=self._tracked("loop"),
            witness=self._tracked("witness"),
            music=self._music.alignment(),
        )

    def _return(self, number: int, di_levels_dbfs: tuple[float, ...]) -> ReturnMeasures:
        """Return what one return tells by itself, beside the DI, and beside the reference."""
        one, rate, reference = self._returns[number], self._asked.sample_rate, self._asked.reference
        one.capture.check()
        alone = one.running.measures(path=str(one.capture.path), di_levels_dbfs=di_levels_dbfs)
        copy = plain_copy(self._to_di.shared(number), rate=rate)
        beside = None
        if number != reference:
            other = number - (number > reference)
            beside = together(self._to_reference.shared(other), rate=rate)
        return msgspec.structs.replace(
            alone,
            copy_share=copy.share if copy else None,
            copy_gain_db=copy.gain_db if copy else None,
            together=beside,
        )

    def _tracked(self, name: str) -> Alignment | None:
        """Return how a cable's recording lies; a capture that is not there says so, and costs no pass."""
        cable = self._cables.get(name)
        return cable.track.alignment() if cable else None


@dataclass(frozen=True)
class _Return:
    """A microphone's capture, and what it tells by itself."""

    capture: GrowingCapture
    running: RunningReturn


@dataclass(frozen=True)
class _Cable:
    """A capture without an amp in it."""

    capture: GrowingCapture
    track: RunningTrack
