"""All returns of a sound, then and now, and how far each microphone was moved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import msgspec
import numpy as np

from audio.measure.likeness import Phrase, Sounds, lags_frames, likeness, louder_db
from audio.vocab.air import air_cm
from audio.vocab.likeness import SoundsCompared

By = Literal["cable", "other returns", "nothing"]


def compare_sounds(
    phrase: Phrase,
    returns: Mapping[str, Sounds],
    *,
    witness: Sounds | None,
    sends: bool,
    later_frames: float | None,
    celsius: float,
) -> SoundsCompared:
    """Compare what all returns recorded of a phrase then and now.

    Parameters
    ----------
    phrase
        The DI.
    returns
        Recordings by return; one at least.
    witness
        Recordings of a cable that lies beside the amp, so that the converters' delay and where the files
        were put cancel; None without one.
    sends
        Whether that is the send.
    later_frames
        How much later converters and files are now, where there is no such recording; None if unknown.
    celsius
        Temperature of the air, degrees.

    Returns
    -------
    SoundsCompared
        Returns in the order given.
    """
    found = [likeness(phrase, name, sounds) for name, sounds in returns.items()]
    cable = _cable(phrase, witness, later_frames)
    delays = [one.delay_frames for one in found]
    by: By = (
        "cable" if cable.now is not None else "other returns" if _several(delays) else "nothing"
    )
    now = _beside(delays, cable.now)
    again = _beside([one.delay_floor_frames for one in found], cable.again)
    placed = (
        msgspec.structs.replace(
            one,
            distance_cm=_cm(moved, phrase.rate, celsius),
            distance_floor_cm=None if moved is None else _size(_cm(floor, phrase.rate, celsius)),
        )
        for one, moved, floor in zip(found, now, again, strict=True)
    )
    return SoundsCompared(
        sample_rate=phrase.rate,
        playing_s=phrase.playing_s,
        kept_twice=any(sounds.again is not None for sounds in returns.values()),
        distance_by=by,
        returns=tuple(placed),
        send_db=cable.louder_db if sends else None,
        send_floor_db=_size(cable.louder_again_db) if sends else None,
    )


@dataclass(frozen=True)
class _Cable:
    """What a cable beside the amp tells; None where it tells nothing."""

    now: float | None = None
    """How much later converters and files alone are, frames."""
    again: float | None = None
    louder_db: float | None = None
    louder_again_db: float | None = None


def _cable(phrase: Phrase, witness: Sounds | None, later_frames: float | None) -> _Cable:
    if witness is None:
        return _Cable(now=later_frames)
    now, again = lags_frames(phrase, witness)
    return _Cable(
        now=now,
        again=again,
        louder_db=louder_db(witness.kept, witness.now),
        louder_again_db=None if witness.again is None else louder_db(witness.kept, witness.again),
    )


def _beside(delays: Sequence[float | None], cable: float | None) -> list[float | None]:
    """Return delays less that of the cable, else less that of the other returns."""
    if cable is not None:
        return [None if one is None else one - cable for one in delays]
    if not _several(delays):
        return [None] * len(delays)
    return [None if one is None else one - _of_others(delays, at) for at, one in enumerate(delays)]


def _of_others(delays: Sequence[float | None], at: int) -> float:
    """Return the middle of all delays, which one return that was moved leaves alone; of two, the other."""
    known = [one for one in delays if one is not None]
    if len(known) > 2:
        return float(np.median(known))
    return next(one for k, one in enumerate(delays) if one is not None and k != at)


def _several(delays: Sequence[float | None]) -> bool:
    return sum(one is not None for one in delays) > 1


def _cm(frames: float | None, rate: int, celsius: float) -> float | None:
    return None if frames is None else air_cm(frames, rate=rate, celsius=celsius)


def _size(value: float | None) -> float | None:
    return None if value is None else abs(value)
