"""What is different between two recordings of one stretch of a DI through one chain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from audio.measure.apart import Common, common, moved, whole_lag
from audio.measure.harder import Driven, Foretold, foretell, harder_db
from audio.measure.levels import peak_dbfs, rms_dbfs
from audio.measure.moments import (
    CLEAR,
    NOMINAL_HZ,
    Moments,
    level_db,
    moments,
    noise,
    plays,
    rests,
)
from audio.vocab.likeness import BandDifference, Likeness, PlayingDifference
from audio.vocab.units import db_from_ratio

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

_ENOUGH = 12
"""Moments, half a second, from which on a mean is told."""
_STEPS = 6
"""Groups of moments by how hard the DI plays; equally many in each."""


@dataclass(frozen=True)
class Sounds:
    """What one input recorded of the stretch, (frames,) each, as long as the DI."""

    kept: Floats
    again: Floats | None
    now: Floats


class Phrase:
    """The stretch of the DI that everything is compared by.

    Parameters
    ----------
    di
        (frames,) · linear · a second at least.
    rate
        Frames a second.
    """

    def __init__(self, di: Floats, *, rate: int) -> None:
        self.di = di
        self.rate = rate
        self.moments: Moments = moments(di, rate=rate)
        self.is_silent = not np.any(di)
        self.playing: Bools = plays(self.moments)
        self.levels_dbfs: Floats = level_db(self.moments.power)
        self.driven = Driven(di, rate=rate)

    @property
    def playing_s(self) -> float:
        """How long the DI plays, seconds."""
        step = self.di.size / max(self.playing.size, 1)
        return 0.0 if self.is_silent else float(np.count_nonzero(self.playing) * step / self.rate)


@dataclass(frozen=True)
class _Difference:
    """Of one recording, less the kept one."""

    level_db: float
    bands_db: tuple[float | None, ...]
    playing_db: tuple[tuple[float, float, int], ...]
    """DI level, difference, moments."""
    common: Common
    drive_db: float | None
    crest_db: float
    noise_db: float | None
    delay_frames: float


def likeness(phrase: Phrase, name: str, sounds: Sounds) -> Likeness:
    """Compare what one return recorded then and now.

    Parameters
    ----------
    phrase
        The DI.
    name
        The return's.
    sounds
        Its recordings, each within 50 ms of its place.

    Returns
    -------
    Likeness
        Without a distance, for which other inputs must be heard; with a `reason` where nothing is told.
    """
    if phrase.is_silent:
        return Likeness(
            name=name, reason="the DI is silent all through; choose a stretch in which it plays"
        )
    taken = _Taken(phrase, sounds)
    now = taken.difference("now")
    if isinstance(now, str):
        return Likeness(name=name, reason=now)
    again = None if sounds.again is None else taken.difference("again")
    return _told(name, now, None if isinstance(again, str) else again)


def lags_frames(phrase: Phrase, sounds: Sounds) -> tuple[float | None, float | None]:
    """Return by how many frames `now` and `again` are later than `kept`; None where they share no sound."""
    taken = _Taken(phrase, sounds)
    return taken.lag_frames("now"), taken.lag_frames("again")


def louder_db(kept: Floats, other: Floats) -> float:
    """Return how much louder the other recording of a cable is, by its RMS."""
    return rms_dbfs(other) - rms_dbfs(kept)


class _Taken:
    """All recordings of one input, brought onto the frames of the kept one."""

    def __init__(self, phrase: Phrase, sounds: Sounds) -> None:
        self._phrase = phrase
        rate = phrase.rate
        others = {"now": sounds.now} | ({} if sounds.again is None else {"again": sounds.again})
        self.lags = {key: whole_lag(sounds.kept, s, rate=rate) for key, s in others.items()}
        self._signals = {"kept": sounds.kept} | {
            key: moved(s, self.lags[key]) for key, s in others.items()
        }
        self._moments = {key: moments(s, rate=rate) for key, s in self._signals.items()}
        resting = rests(phrase.moments, list(self._moments.values()))
        self._has_rests = bool(np.any(resting))
        self._noises = {key: noise(one, resting) for key, one in self._moments.items()}
        self._foretold: Foretold | None = None

    def common(self, key: str) -> Common:
        """Return what one of the others has in common with the kept one."""
        return common(
            self._moments["kept"],
            self._moments[key],
            self._phrase.playing,
            (self._noises["kept"], self._noises[key]),
            rate=self._phrase.rate,
        )

    def lag_frames(self, key: str) -> float | None:
        """Return by how many frames one of the others is later; None where it is not there or unlike."""
        if key not in self.lags:
            return None
        found = self.common(key)
        return None if found.polarity == "unsure" else self.lags[key] + found.later_frames

    def difference(self, key: str) -> _Difference | str:
        """Return how one of the others differs; or why that cannot be told."""
        clear = [self._whole_clear(one) for one in ("kept", key)]
        for heard, when in zip(clear, ("then", key), strict=True):
            if np.count_nonzero(heard) < _ENOUGH:
                return (
                    f"nothing clear of the noise came back {when}; check the microphone's cable and the"
                    " preamp"
                )
        found = self.common(key)
        if found.polarity == "unsure":
            return (
                f"what came back {key} has nothing in common with what was kept; it is another phrase, or"
                " lies more than 50 ms aside"
            )
        both = clear[0] & clear[1]
        counts = self._clear("kept") & self._clear(key)
        change = self._levels(key) - self._levels("kept")
        whole = self._whole(key) - self._whole("kept")
        return _Difference(
            level_db=float(np.mean(whole[both])),
            bands_db=_means(change, counts),
            playing_db=self._by_playing(whole, both),
            common=found,
            drive_db=harder_db(change, counts, self._foretell()),
            crest_db=self._crest(key) - self._crest("kept"),
            noise_db=self._noise_db(key),
            delay_frames=self.lags[key] + found.later_frames,
        )

    def _foretell(self) -> Foretold:
        if self._foretold is None:
            self._foretold = foretell(
                self._phrase.driven, self._moments["kept"], self._clear("kept")
            )
        return self._foretold

    def _levels(self, key: str) -> Floats:
        """Return the level of each band in each moment, the noise taken off."""
        return level_db(self._moments[key].bands - self._noises[key].bands)

    def _whole(self, key: str) -> Floats:
        """Return the same of all bands together."""
        return level_db(self._moments[key].power - np.sum(self._noises[key].bands))

    def _clear(self, key: str) -> Bools:
        """Return which levels of the bands are clear of the noise while the DI plays."""
        bands = self._moments[key].bands
        heard = (bands > CLEAR * self._noises[key].bands) & (bands > 0.0)
        return np.asarray(heard & self._phrase.playing[:, None])

    def _whole_clear(self, key: str) -> Bools:
        power, quiet = self._moments[key].power, float(np.sum(self._noises[key].bands))
        return np.asarray((power > CLEAR * quiet) & (power > 0.0) & self._phrase.playing)

    def _by_playing(self, whole: Floats, counts: Bools) -> tuple[tuple[float, float, int], ...]:
        """Return the difference of soft to hard moments, with the DI's level and how many they are."""
        at = np.flatnonzero(counts)
        at = at[np.argsort(self._phrase.levels_dbfs[at], kind="stable")]
        return tuple(
            (
                float(np.mean(self._phrase.levels_dbfs[some])),
                float(np.mean(whole[some])),
                int(some.size),
            )
            for some in np.array_split(at, _STEPS)
        )

    def _crest(self, key: str) -> float:
        return peak_dbfs(self._signals[key]) - rms_dbfs(self._signals[key])

    def _noise_db(self, key: str) -> float | None:
        if not self._has_rests:
            return None
        now, kept = (self._noises[one].whole for one in (key, "kept"))
        return db_from_ratio(now**0.5) - db_from_ratio(kept**0.5)


def _means(change: Floats, counts: Bools) -> tuple[float | None, ...]:
    return tuple(
        float(np.mean(column[heard])) if np.count_nonzero(heard) >= _ENOUGH else None
        for column, heard in zip(change.T, counts.T, strict=True)
    )


def _told(name: str, now: _Difference, again: _Difference | None) -> Likeness:
    """Return what is different now, with what differs when nothing was touched as the floor."""
    told = Likeness(
        name=name,
        level_db=now.level_db,
        bands=_bands(now, again),
        playing=_playing(now, again),
        bent_db=db_from_ratio(now.common.bent**0.5),
        drive_db=now.drive_db,
        crest_db=now.crest_db,
        noise_db=now.noise_db,
        delay_frames=now.delay_frames,
        polarity=now.common.polarity,
    )
    if again is None:
        return told
    return msgspec.structs.replace(
        told,
        level_floor_db=abs(again.level_db),
        bent_floor_db=db_from_ratio(again.common.bent**0.5),
        drive_floor_db=_size(again.drive_db),
        crest_floor_db=abs(again.crest_db),
        noise_floor_db=_size(again.noise_db),
        delay_floor_frames=again.delay_frames,
    )


def _bands(now: _Difference, again: _Difference | None) -> tuple[BandDifference, ...]:
    floors = [None] * len(NOMINAL_HZ) if again is None else [_size(db) for db in again.bands_db]
    return tuple(
        BandDifference(hz=hz, difference_db=db, floor_db=floor)
        for hz, db, floor in zip(NOMINAL_HZ, now.bands_db, floors, strict=True)
    )


def _playing(now: _Difference, again: _Difference | None) -> tuple[PlayingDifference, ...]:
    floors = [None] * _STEPS if again is None else [abs(db) for _, db, _ in again.playing_db]
    return tuple(
        PlayingDifference(di_dbfs=dbfs, difference_db=db, floor_db=floor, moments=count)
        for (dbfs, db, count), floor in zip(now.playing_db, floors, strict=True)
    )


def _size(db: float | None) -> float | None:
    return None if db is None else abs(db)
