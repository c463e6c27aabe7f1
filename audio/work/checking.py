"""A DI looked through before it is sent: the whole file in memory once, every measure after the other."""

from __future__ import annotations

from bisect import bisect_left
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from msgspec.structs import replace

from audio.files.inspect import inspect
from audio.files.source import SourceFile
from audio.measure.between import find_between
from audio.measure.copied_material import find_repeats
from audio.measure.dead_stops import find_dead_stops
from audio.measure.di_level import RunningDiLevel
from audio.measure.edges import find_edges
from audio.measure.edit_joints import find_edit_joints
from audio.measure.flat_tops import find_flat_tops
from audio.measure.onsets import find_hits
from audio.measure.rises import rise_db
from audio.vocab.answers import HitsFound
from audio.vocab.readiness import (
    ATTACK_RISES_DB,
    DiLevel,
    DiMeasures,
    EditJoint,
    Hit,
    OtherChannels,
)
from audio.vocab.requests import CheckDi, FindHits

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Sound = NDArray[np.float32]

_CLICK_S = 0.002
"""How near a hit lies to a joint that was taken for one."""
_AT_A_TIME = 2
"""Measures that are taken side by side."""
_AT_ONCE_S = 5
"""Read and measured at a time."""
_MOST_BITS = 24
"""Of an integer sample: single precision holds no more."""


def check_di(asked: CheckDi) -> DiMeasures:
    """Measure a channel of a DI.

    Parameters
    ----------
    asked
        File and channel.

    Returns
    -------
    DiMeasures
        All of it.

    Raises
    ------
    UseError
        If the file is none of the accepted kind, has no such channel, or cannot be decoded.
    """
    path, channel = Path(asked.path), asked.channel
    with closing(SourceFile(path)) as sound, ThreadPoolExecutor(_AT_A_TIME) as pool:
        rate = sound.rate
        looked = pool.submit(inspect, path, channel=channel)
        samples = _whole(sound, channel)
        facts = looked.result()
        # Arrays are worked on outside the interpreter's lock: two measures at a time take little over half.
        level = pool.submit(_level, samples, rate)
        found = pool.submit(find_hits, samples, rate=rate)
        seams = pool.submit(_joints, samples, rate=rate)
        repeats = pool.submit(find_repeats, samples, rate=rate)
        stops = pool.submit(find_dead_stops, samples, rate=rate)
        others = _others(sound, samples, channel)
        joints = seams.result()
        hits = _struck(found.result(), joints, rate=rate)
        start, end = find_edges(samples, rate=rate)
        return DiMeasures(
            facts=facts,
            others=others,
            used_bits=_used_bits(samples, sound.integer_bits),
            level=level.result(),
            start=start,
            end=end,
            hits=hits,
            flat_tops=find_flat_tops(samples, rate=rate),
            joints=joints,
            repeats=repeats.result(),
            stops=stops.result(),
            between=find_between(samples, hits, rate=rate),
        )


def _joints(samples: Sound, *, rate: int) -> tuple[EditJoint, ...]:
    return tuple(
        replace(one, rise_db=rise_db(samples, one.frame, rate=rate))
        for one in find_edit_joints(samples, rate=rate)
    )


def _struck(hits: tuple[Hit, ...], joints: tuple[EditJoint, ...], *, rate: int) -> tuple[Hit, ...]:
    """Return the hits without those that are the click of a joint, behind which nothing is louder."""
    clicks = [one.frame for one in joints if one.rise_db < ATTACK_RISES_DB]
    reach = _CLICK_S * rate

    def is_click(hit: Hit) -> bool:
        at = bisect_left(clicks, hit.frame - reach)
        return at < len(clicks) and clicks[at] <= hit.frame + reach

    return tuple(hit for hit in hits if not is_click(hit))


def hits_of(asked: FindHits) -> HitsFound:
    """Find the hits of a channel of a recording; fails as `check_di` does."""
    path = Path(asked.path)
    facts = inspect(path, channel=asked.channel)
    with closing(SourceFile(path)) as sound:
        samples = _whole(sound, asked.channel)
    return HitsFound(facts=facts, hits=find_hits(samples, rate=facts.sample_rate))


def _whole(sound: SourceFile, channel: int) -> Sound:
    """Return all of a channel, single precision."""
    samples = np.empty(sound.frames, dtype=np.float32)
    for at in _places(sound):
        piece = sound.read(at, min(_AT_ONCE_S * sound.rate, sound.frames - at), channel=channel)
        samples[at : at + piece.size] = piece
    return samples


def _level(samples: Sound, rate: int) -> DiLevel:
    level = RunningDiLevel(rate=rate)
    for at in range(0, samples.size, _AT_ONCE_S * rate):
        level.feed(samples[at : at + _AT_ONCE_S * rate])
    return level.level()


def _places(sound: SourceFile) -> range:
    return range(0, sound.frames, _AT_ONCE_S * sound.rate)


def _others(sound: SourceFile, samples: Sound, channel: int) -> OtherChannels:
    """Return how the file's other channels compare with the DI; the first that differs decides."""
    silent = alike = True
    others = [other for other in range(sound.channels) if other != channel]
    for at in _places(sound) if others else ():
        mine = samples[at : at + _AT_ONCE_S * sound.rate]
        for other in others:
            piece = sound.read(at, mine.size, channel=other).astype(np.float32)
            silent = silent and not piece.any()
            alike = alike and bool(np.array_equal(piece, mine))
        if not (silent or alike):
            return "different"
    if not others:
        return "none"
    return "silent" if silent else "alike"


def _used_bits(samples: Sound, bits: int | None) -> int | None:
    """Return how many of an integer sample's bits are ever other than zero; 0 for digital silence."""
    if bits is None or bits > _MOST_BITS:
        return None
    used = 0
    for at in range(0, samples.size, 1 << 20):
        codes = (samples[at : at + (1 << 20)] * np.float32(2 ** (bits - 1))).astype(np.int32)
        used |= int(np.bitwise_or.reduce(np.abs(codes)))
    return bits - (used & -used).bit_length() + 1 if used else 0
