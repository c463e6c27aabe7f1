"""A path that was just found, learned from some blocks that are gone over again and again."""

from __future__ import annotations

import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audio.measure.cable import Cable
    from audio.measure.looked import Looked, Pair, Spectra

_ROUNDS = 5
_NEAR_ENOUGH = 0.5
"""Frames: further off, what is wrong with the delay would be taken for the path."""
_MUCH_BETTER = 4.0
"""Times the evidence that a path learned from half the blocks must bring: where a frame was lost among
them, no path explains all."""


@dataclass(frozen=True)
class Taught:
    """A path, and how well it explains the blocks it was learned from."""

    cable: Cable
    delay: float
    evidence: tuple[float, ...]
    """Of each block, natural logarithm of how much better the copy explains it than none."""


def first_taught(pair: Pair, cable: Cable, starts: Sequence[int], *, delay: float) -> Taught:
    """Learn a path that was just found from some blocks, from half of them if frames were lost.

    Parameters
    ----------
    pair
        Where the blocks are.
    cable
        What is known; stays as it is.
    starts
        Frames of the recording at which they begin.
    delay
        Frames, known to 20 either way.

    Returns
    -------
    Taught
        The path, and the delay, frames.
    """
    lesson, half = _Lesson(pair), len(starts) // 2
    looks = lesson.looks(cable, starts, delay=delay)
    whole = lesson.taught(cable, starts, looks, delay=delay)
    best, most = whole, _MUCH_BETTER
    for part in (slice(0, half), slice(half, None)):
        one = lesson.taught(cable, starts[part], looks[part], delay=delay)
        better = sum(one.evidence) / max(sum(whole.evidence[part]), 1.0)
        if better > most:
            best, most = one, better
    return best


def taught_again(pair: Pair, cable: Cable, starts: Sequence[int], *, delay: float) -> Cable:
    """Return the path that explains some blocks best: as it is known, or learned from them.

    Parameters
    ----------
    pair
        Where the blocks are.
    cable
        What is known; stays as it is.
    starts
        Frames of the recording at which they begin.
    delay
        Frames, known to 20 either way.

    Returns
    -------
    Cable
        The path.
    """
    lesson = _Lesson(pair)
    looks = lesson.looks(cable, starts, delay=delay)
    known = _judged(cable, looks, delay=delay)
    again = lesson.taught(cable, starts, looks, delay=delay)
    return max(known, again, key=lambda one: sum(one.evidence)).cable


class _Lesson:
    """Blocks that are gone over while nothing comes in: their transforms are made once.

    Parameters
    ----------
    pair
        Where the blocks are.
    """

    def __init__(self, pair: Pair) -> None:
        self._pair = pair
        self._spectra: dict[tuple[int, int], Spectra] = {}

    def looks(self, cable: Cable, starts: Sequence[int], *, delay: float) -> list[Looked]:
        """Return what the blocks that begin there say of a path at a delay, frames."""
        around = [self._around(start, round(delay)) for start in starts]
        return [self._pair.held(cable, one, delay=delay, spread=0.0) for one in around]

    def taught(
        self, cable: Cable, starts: Sequence[int], looks: Sequence[Looked], *, delay: float
    ) -> Taught:
        """Learn a path from some blocks, begun with what they say of the one that is known."""
        cable = copy.copy(cable)
        for turn in range(_ROUNDS):
            saying = [look for look in looks if look.says_more_than_none and not look.spilt]
            if not saying:
                break
            off = _common_shift(saying)
            # The path first: what a block sounds like, whitened, depends on what is known of the noise.
            if turn > 0 and abs(off) < _NEAR_ENOUGH:
                off = _learned(cable, saying, off)
            left = [look.heard - look.expected for look in saying]
            cable.learn_noise(left, [look.expected for look in saying], share=1.0)
            delay += off
            looks = self.looks(cable, starts, delay=delay)
        return _judged(cable, looks, delay=delay)

    def _around(self, start: int, center: int) -> Spectra:
        at = (start, center)
        if at not in self._spectra:
            self._spectra[at] = self._pair.spectra(start, center)
        return self._spectra[at]


def _judged(cable: Cable, looks: Sequence[Looked], *, delay: float) -> Taught:
    """Return a path as it is, with how well it explains some blocks, as they say."""
    said = tuple(0.0 if look.spilt else max(look.evidence, 0.0) for look in looks)
    return Taught(cable, delay, said)


def _learned(cable: Cable, looks: Sequence[Looked], off: float) -> float:
    """Teach a path from blocks that lie about `off` frames later than expected; return how many they do."""
    late = cable.learn_anew([(look.heard, look.spectrum, look.late) for look in looks])
    return off if late is None else late


def _common_shift(looks: Sequence[Looked]) -> float:
    """Return by how many frames some blocks together lie later than expected, 20 at most."""
    plain = [look for look in looks if look.plain]
    if plain:
        weights = [look.information for look in plain]
        return float(np.average([look.off for look in plain], weights=weights))
    curves = [look.left / look.scale for look in looks if look.left is not None]
    middle = curves[0].size // 2
    total = np.sum(curves, axis=0)[middle - 21 : middle + 22]
    best = int(np.clip(np.argmin(total), 1, total.size - 2))
    before, at, behind = (float(total[best + k]) for k in (-1, 0, 1))
    bend = before - 2.0 * at + behind
    return best - 21 + ((before - behind) / (2.0 * bend) if bend > 0.0 else 0.0)
