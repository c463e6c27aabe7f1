"""The status block: what the engine shows of itself, read at any rate without asking.

A small file mapped into both processes. The writer makes the sequence number odd, writes, makes it
even; a reader takes a copy and keeps it only if the number was even and the same before and after.
Levels are linear and belong to the last 50 ms; peak hold and clip counts to the current roll.
"""

from __future__ import annotations

import mmap
import os
import struct
from dataclasses import dataclass
from pathlib import Path

MAX_CHANNELS = 64
"""Inputs and outputs the block has room for, each."""

_SEQUENCE = struct.Struct("<Q")
_HEAD = struct.Struct("<qqqqiiIIII")
_FLOATS = struct.Struct(f"<{3 * MAX_CHANNELS}f")
_CLIPS = struct.Struct(f"<{MAX_CHANNELS}I")
_SIDE = _FLOATS.size + _CLIPS.size
_INPUTS = _SEQUENCE.size + _HEAD.size
_OUTPUTS = _INPUTS + _SIDE
SIZE = _OUTPUTS + _SIDE


@dataclass(frozen=True, slots=True)
class Meters:
    """Levels of a row of channels, linear."""

    peak: tuple[float, ...]
    rms: tuple[float, ...]
    held: tuple[float, ...]
    """Largest sample since the roll began."""
    clips: tuple[int, ...]
    """Samples at full scale since the roll began."""


@dataclass(frozen=True, slots=True)
class Status:
    """One consistent picture of the engine."""

    stream_frame: int
    """Frames the callback has counted since the stream was opened."""
    roll_frame: int
    """Frames since the current roll began; negative while it waits for its first frame."""
    timeline_frame: int
    """Where in the timeline the output is now."""
    roll_length: int
    """Roll frame at which it ends by itself; 0 when nothing rolls."""
    roll_id: int
    """−1 when nothing rolls."""
    state: int
    """Index into `audio.engine.states` order."""
    dropouts: int
    """Noticed in the current roll, or since the stream was opened when nothing rolls."""
    flagged: int
    """Callbacks flagged since the stream was opened."""
    inputs: Meters
    outputs: Meters


class StatusWriter:
    """The engine's side."""

    def __init__(self, path: Path) -> None:
        with path.open("wb") as file:
            file.truncate(SIZE)
        with path.open("r+b") as file:
            self._map = mmap.mmap(file.fileno(), SIZE)
        self._sequence = 0

    def write(self, status: Status) -> None:
        """Publish `status`; meters longer than `MAX_CHANNELS` are cut."""
        self._turn()
        _HEAD.pack_into(
            self._map,
            _SEQUENCE.size,
            status.stream_frame,
            status.roll_frame,
            status.timeline_frame,
            status.roll_length,
            status.roll_id,
            status.state,
            status.dropouts,
            status.flagged,
            min(len(status.inputs.peak), MAX_CHANNELS),
            min(len(status.outputs.peak), MAX_CHANNELS),
        )
        _pack_meters(self._map, _INPUTS, status.inputs)
        _pack_meters(self._map, _OUTPUTS, status.outputs)
        self._turn()

    def _turn(self) -> None:
        """Step the sequence by itself: packed with other fields it would turn even before they stand."""
        self._sequence += 1
        _SEQUENCE.pack_into(self._map, 0, self._sequence)

    def close(self) -> None:
        """Unmap the block."""
        self._map.close()


class StatusReader:
    """The face's side."""

    def __init__(self, path: Path) -> None:
        fd = os.open(path, os.O_RDONLY)
        try:
            self._map = mmap.mmap(fd, SIZE, access=mmap.ACCESS_READ)
        finally:
            os.close(fd)

    def read(self) -> Status | None:
        """Return the newest picture, or None when none was published yet or the writer is busy."""
        for _ in range(50):
            before = _SEQUENCE.unpack_from(self._map, 0)[0]
            if before == 0:
                return None
            copy = self._map[:]
            if before % 2 == 0 and _SEQUENCE.unpack_from(self._map, 0)[0] == before:
                return _unpack(copy)
        return None

    def close(self) -> None:
        """Unmap the block."""
        self._map.close()


def _pack_meters(block: mmap.mmap, at: int, meters: Meters) -> None:
    rows = (_row(meters.peak), _row(meters.rms), _row(meters.held))
    _FLOATS.pack_into(block, at, *rows[0], *rows[1], *rows[2])
    clips = tuple(min(c, 0xFFFFFFFF) for c in meters.clips[:MAX_CHANNELS])
    _CLIPS.pack_into(block, at + _FLOATS.size, *clips, *([0] * (MAX_CHANNELS - len(clips))))


def _row(values: tuple[float, ...]) -> tuple[float, ...]:
    return values[:MAX_CHANNELS] + (0.0,) * (MAX_CHANNELS - len(values))


def _unpack(copy: bytes) -> Status:
    (stream, roll, timeline, length, roll_id, state, dropouts, flagged, inputs, outputs) = (
        _HEAD.unpack_from(copy, _SEQUENCE.size)
    )
    return Status(
        stream_frame=stream,
        roll_frame=roll,
        timeline_frame=timeline,
        roll_length=length,
        roll_id=roll_id,
        state=state,
        dropouts=dropouts,
        flagged=flagged,
        inputs=_unpack_meters(copy, _INPUTS, inputs),
        outputs=_unpack_meters(copy, _OUTPUTS, outputs),
    )


def _unpack_meters(copy: bytes, at: int, count: int) -> Meters:
    floats = _FLOATS.unpack_from(copy, at)
    clips = _CLIPS.unpack_from(copy, at + _FLOATS.size)
    return Meters(
        peak=floats[:count],
        rms=floats[MAX_CHANNELS : MAX_CHANNELS + count],
        held=floats[2 * MAX_CHANNELS : 2 * MAX_CHANNELS + count],
        clips=clips[:count],
    )
