"""The tempo map of a Standard MIDI File: tempo and metre from all its tracks, exact.

The file counts ticks, so many a quarter note, and gives whole microseconds a quarter note; nothing of that
is rounded here. Bytes are read by the library mido, and what they say is not taken on trust.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from audio.vocab.errors import UseError
from audio.vocab.tempo import (
    LONGEST_S,
    MOST_BEATS,
    MOST_CHANGES,
    NOTES,
    QUARTER_S,
    Metre,
    MetreChange,
    TempoChange,
    TempoMap,
    tempo_map,
)

if TYPE_CHECKING:
    from mido import MidiFile

MAGIC = b"MThd"
"""What such a file begins with."""

LARGEST_BYTES = 400_000
"""mido reads some 300 kB a second; a tempo track alone has a few kB, a whole arrangement some hundred."""

MOST_TRACKS = 1000

LONGEST_NUMBER = 16_384
"""Bytes from 128 on in a row: a number in such a file has four of them at most, and mido reads on for as
long as they go, slower with each; text has some."""

LONGEST_DELTA = 2**28 - 1
"""Ticks between two events of a track: what four bytes say (Standard MIDI File 1.0, from memory)."""

DEFAULT_QUARTER_S = Fraction(1, 2)
"""120 quarter notes a minute, until the file says otherwise (Standard MIDI File 1.0, from memory)."""

_TEMPO, _METRE, _END = 0x51, 0x58, 0x2F
"""The events that are understood; all others are passed over, whatever is in them."""

_THIN = "export fewer of them, such as one a beat"
_EXPORT = "export the tempo track again as a Standard MIDI File of type 0 or 1"


def midi_map(data: bytes, *, where: Path, metre: Metre) -> TempoMap:
    """Read the tempo map of a Standard MIDI File of type 0 or 1.

    Parameters
    ----------
    data
        The whole file.
    where
        The file, for messages.
    metre
        Where the file tells none at all; one whose first metre comes later begins in 4/4.

    Returns
    -------
    TempoMap
        Its tick 0 is bar 1; where that lies says the song. At one place the last event of the last track
        holds. A metre begins a bar wherever it comes; one that holds already changes nothing.

    Raises
    ------
    UseError
        If it is no such file or cut off, of type 2, counts frames of film or video instead of quarter
        notes, or has a tempo, a metre, a number or a length beyond all music.
    """
    file = _read(data, where)
    ticks = int(file.ticks_per_beat)
    tempos, metres = [TempoChange(Fraction(0), DEFAULT_QUARTER_S)], []
    for event in _events(file, where):
        at = Fraction(event.tick, ticks)
        if event.kind == _TEMPO:
            tempos.append(TempoChange(at, _quarter_s(event, at, where)))
        else:
            metres.append(MetreChange(at, _metre(event, at, where)))
        if len(tempos) + len(metres) > MOST_CHANGES:
            _refuse(
                where, f"there are more than {MOST_CHANGES} changes of tempo and metre; {_THIN}"
            )
    before = Metre(4, 4) if metres else metre
    found = tempo_map(tempos, [MetreChange(Fraction(0), before), *metres])
    last = max(found.tempos[-1].at, found.metres[-1].at)
    if (lasts := found.seconds(last)) > LONGEST_S:
        _refuse(where, f"the last change lies {float(lasts) / 3600:.0f} hours from bar 1, beyond a day;"
                       f" {_EXPORT}")  # fmt: skip
    return found


# ------------------------------------------------------------------ events


@dataclass(frozen=True, slots=True)
class _Event:
    tick: int
    kind: int
    data: tuple[int, ...]
    track: int
    """From 1."""


def _events(file: MidiFile, where: Path) -> Iterator[_Event]:
    """Yield the events of tempo and metre, track by track."""
    for number, track in enumerate(file.tracks, start=1):
        tick = 0
        for message in track:
            tick += message.time
            if message.time > LONGEST_DELTA:
                _refuse(where, f"track {number} has an event more than {LONGEST_DELTA} ticks after the one"
                               f" before, which no such file can say; {_EXPORT}")  # fmt: skip
            kind = getattr(message, "kind", None)
            if kind in (_TEMPO, _METRE):
                yield _Event(tick, kind, tuple(message.content), number)


def _quarter_s(event: _Event, at: Fraction, where: Path) -> Fraction:
    microseconds = int.from_bytes(bytes(event.data[:3]), "big") if len(event.data) >= 3 else 0
    found, (low, high) = Fraction(microseconds, 10**6), QUARTER_S
    if not low <= found <= high:
        _refuse(
            where,
            f"{_place(event, at)} a quarter note lasts {microseconds} µs, which is none from"
            f" {int(low * 10**6)} to {int(high * 10**6)}; correct the tempo there",
        )
    return found


def _metre(event: _Event, at: Fraction, where: Path) -> Metre:
    beats, power = (*event.data, 0, 0)[:2]
    if len(event.data) < 2 or not 1 <= beats <= MOST_BEATS or 2 ** min(power, 9) not in NOTES:
        _refuse(
            where,
            f"{_place(event, at)} is a metre of {beats}/2^{power}, which is none from 1/1 to {MOST_BEATS}/"
            f"{NOTES[-1]}; correct the metre there",
        )
    return Metre(beats, 2**power)


def _place(event: _Event, at: Fraction) -> str:
    return f"track {event.track}, {float(at):g} quarter notes from the start:"


# ------------------------------------------------------------------ bytes


def _read(data: bytes, where: Path) -> MidiFile:
    _check_head(data, where)
    mido_file, key_error = _mido()
    try:
        file: MidiFile = mido_file(file=_Guarded(data), clip=True)
    except EOFError:
        raise UseError(f"{where} is cut off; copy it again, or {_EXPORT}") from None
    except (OSError, ValueError, LookupError, TypeError, struct.error, key_error) as error:
        raise UseError(
            f"{where} is damaged, or no Standard MIDI File: {error}; {_EXPORT}"
        ) from None
    return file


def _check_head(data: bytes, where: Path) -> None:
    """Refuse what the first bytes tell already, before all of it is read."""
    if len(data) > LARGEST_BYTES:
        _refuse(where, f"it is larger than a tempo track can be ({len(data)} bytes); {_EXPORT}, without"
                       " notes")  # fmt: skip
    if not data.startswith(MAGIC):
        _refuse(where, f"this is no Standard MIDI File; {_EXPORT}")
    if len(data) < 14:
        raise UseError(f"{where} is cut off; copy it again, or {_EXPORT}")
    kind, tracks, division = struct.unpack(">HHh", data[8:14])
    if kind == 2:
        _refuse(where, f"it is of type 2, several songs one after the other; {_EXPORT}")
    if kind > 2:
        _refuse(where, f"it is of type {kind}, which nobody knows; {_EXPORT}")
    if not 1 <= tracks <= MOST_TRACKS:
        _refuse(where, f"it has {tracks} tracks, not 1 to {MOST_TRACKS}; {_EXPORT}")
    if division <= 0:
        frames = f"{-(division >> 8)} frames a second" if division else "nothing"
        _refuse(where, f"it counts {frames} instead of ticks a quarter note, so it has no tempo; export it"
                       " in musical time (ticks a quarter note)")  # fmt: skip


class _Guarded(io.BytesIO):
    """A file in memory that ends a number without an end."""

    _high = 0

    def read(self, size: int | None = -1, /) -> bytes:
        """Read; `OSError` at more high bytes in a row than anything but damage has."""
        data = super().read(size)
        self._high = self._high + 1 if len(data) == 1 and data[0] >= 0x80 else 0
        if self._high > LONGEST_NUMBER:
            raise OSError("a number in it has no end")
        return data


@cache
def _mido() -> tuple[Any, type[Exception]]:
    """Load mido, and let it pass over all events that are not needed.

    It would refuse a file for a key signature that it does not know, and it forgets the time before an
    event of a kind it does not know (mido 1.3.3, ``build_meta_message``), so that all behind it comes too
    early. So every kind gets a reader that keeps its bytes as they are and minds the time.
    """
    from mido.midifiles import meta  # noqa: PLC0415 - a tenth of a second that few sessions need
    from mido.midifiles.midifiles import MidiFile  # noqa: PLC0415 - the same

    class Plain(meta.MetaSpec):  # type: ignore[misc]
        attributes = ("kind", "content")

        def __init__(self, kind: int) -> None:
            self.type_byte, self.type = kind, f"plain {kind}"
            self.defaults = (kind, ())

        def decode(self, message: object, data: list[int]) -> None:
            vars(message)["content"] = tuple(data)

    for kind in range(256):
        if kind != _END:
            meta.add_meta_spec(partial(Plain, kind))
    return MidiFile, meta.KeySignatureError


def _refuse(where: Path, why: str) -> None:
    raise UseError(f"{where}: {why}")
