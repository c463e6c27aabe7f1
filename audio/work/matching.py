"""Sounds of one part matched in loudness, from their files; what was read is remembered."""

from __future__ import annotations

from collections import OrderedDict
from contextlib import ExitStack, closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from audio.files.source import SourceFile
from audio.measure.matching import Heard, Mix, Span, match
from audio.vocab.errors import UseError
from audio.vocab.matching import LONGEST_S, MOST_GAIN_DB, Matched
from audio.vocab.units import ratio_from_db

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audio.vocab.layers import Layer
    from audio.vocab.requests import MatchSounds

MOST_BYTES = 128 * 2**20
"""Kept of what was read; beyond this the sound that was not asked for longest is forgotten.

Sixteen sounds of four microphones and ten minutes are 54 MB."""

_AT_ONCE = 4096
"""Frames read of each microphone in turn, so that the channels of one file are read together."""

_SANE = 1e6
"""No sample is larger: 120 dB over full scale."""


@dataclass(frozen=True, slots=True)
class _Place:
    """Where sound lies on the timeline: a channel of a file as it is now."""

    path: str
    channel: int
    at_frame: int
    state: tuple[int, int]
    """Length and time of the last change: another file under this name is another sound."""


@dataclass(frozen=True, slots=True)
class _Key:
    """What a `Mix` is of."""

    places: tuple[_Place, ...]
    """One for each microphone, in its order."""
    rate: int
    weighed: bool

    def does_for(self, other: _Key) -> bool:
        """Return whether what is known of it tells all that is asked of another one."""
        return (
            self.rate == other.rate
            and self.weighed >= other.weighed
            and set(other.places) <= set(self.places)
        )


class Matching:
    """Answers `MatchSounds`, reading only what it never read.

    Parameters
    ----------
    most_bytes
        How much is kept.
    """

    def __init__(self, *, most_bytes: int = MOST_BYTES) -> None:
        self._most_bytes = most_bytes
        self._mixes: OrderedDict[_Key, Mix] = OrderedDict()  # least recently used first

    @property
    def bytes(self) -> int:
        """How much memory is held."""
        return sum(mix.bytes for mix in self._mixes.values())

    def match(self, asked: MatchSounds) -> Matched:
        """Return how loud sounds are and what matches them.

        Parameters
        ----------
        asked
            Sounds, what plays under them, and the stretch.

        Returns
        -------
        Matched
            As its fields say.

        Raises
        ------
        UseError
            If no sound is named, the stretch holds no frame or more than an hour, a gain is out of range,
            or a file cannot be read, has another rate, no such channel or samples that are no numbers.
        """
        _check(asked)
        span = Span(from_frame=asked.from_frame, frames=asked.frames, rate=asked.sample_rate)
        under = np.zeros(len(span.pieces), dtype=np.float32)
        for layer in asked.under:
            mix, gains = self._measured([layer], span, weighed=False)
            under += mix.bounds(gains, span)
        return match([self._heard(sound, span) for sound in asked.sounds], under)

    def _heard(self, sound: Sequence[Layer], span: Span) -> Heard:
        if not sound:
            return Heard(powers=np.zeros(0), bounds=np.zeros(len(span.pieces), dtype=np.float32))
        mix, gains = self._measured(sound, span, weighed=True)
        return mix.heard(gains, span)

    def _measured(
        self, layers: Sequence[Layer], span: Span, *, weighed: bool
    ) -> tuple[Mix, NDArray[np.float64]]:
        """Return what is known of some layers, measured over a stretch, and the gain of each microphone."""
        gains: dict[_Place, float] = {}
        for layer in layers:
            place = _place(layer)
            gains[place] = gains.get(place, 0.0) + ratio_from_db(layer.gain_db)
        key = self._known(_Key(places=tuple(gains), rate=span.rate, weighed=weighed))
        mix = self._mixes.get(key) or Mix(rate=span.rate, weighed=weighed)
        if missing := mix.missing(span):
            _read(mix, key.places, missing)
        self._mixes[key] = mix
        self._mixes.move_to_end(key)
        self._forget()
        return mix, np.array([gains.get(place, 0.0) for place in key.places])

    def _known(self, wanted: _Key) -> _Key:
        """Return the key of what is kept that does for one, of fewest microphones; or the one itself."""
        fit = [key for key in self._mixes if key.does_for(wanted)]
        return min(fit, key=lambda key: len(key.places), default=wanted)

    def _forget(self) -> None:
        held = self.bytes
        while held > self._most_bytes and len(self._mixes) > 1:
            held -= self._mixes.popitem(last=False)[1].bytes


def _check(asked: MatchSounds) -> None:
    if not asked.sounds:
        raise UseError("no sound was named to be matched; name at least one")
    if not 0 < asked.frames <= LONGEST_S * asked.sample_rate:
        raise UseError(
            f"a stretch of {asked.frames} frames was asked for; one frame to an hour can be matched"
        )
    for layer in (*asked.under, *(layer for sound in asked.sounds for layer in sound)):
        if not layer.gain_db <= MOST_GAIN_DB:
            raise UseError(
                f"{layer.path} was asked for at {layer.gain_db:g} dB; at most {MOST_GAIN_DB:g} dB can be"
            )


def _place(layer: Layer) -> _Place:
    try:
        told = Path(layer.path).stat()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise UseError(f"{layer.path} cannot be opened: {reason}; check its name") from error
    state = (told.st_size, told.st_mtime_ns)
    return _Place(path=layer.path, channel=layer.channel, at_frame=layer.at_frame, state=state)


def _read(mix: Mix, places: Sequence[_Place], segments: Sequence[int]) -> None:
    """Read and measure segments of a mix."""
    with ExitStack() as open_files:
        files = {
            path: open_files.enter_context(closing(SourceFile(Path(path))))
            for path in {place.path for place in places}
        }
        for sound in files.values():
            if sound.rate != mix.rate:
                raise UseError(
                    f"{sound.path} is at {sound.rate}, its part at {mix.rate}: they must agree; convert it"
                )
        for number in segments:
            at, frames = mix.needs(number)
            mix.measure(number, _sound(files, places, at, frames))


def _sound(
    files: Mapping[str, SourceFile], places: Sequence[_Place], at: int, frames: int
) -> NDArray[np.float64]:
    """Return (microphones, frames) of the timeline, zeros where there is nothing."""
    sound = np.empty((len(places), frames))
    for done in range(0, frames, _AT_ONCE):
        for row, place in zip(sound[:, done : done + _AT_ONCE], places, strict=True):
            row[:] = files[place.path].read(
                at + done - place.at_frame, row.size, channel=place.channel
            )
    for one, place in zip(sound, places, strict=True):
        if not (np.max(one) <= _SANE and np.min(one) >= -_SANE):
            raise UseError(
                f"{place.path} holds a sample that is no number, or far over full scale; export it again"
            )
    return sound
