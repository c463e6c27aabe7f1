"""Faults on request: which, from when, for which chain.

Only the simulated room knows this list; what judges a pass must find a fault in the sound.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from audio.device.simulated.filters import Signal
from audio.device.simulated.words import (
    Number,
    OneOf,
    Pair,
    Switch,
    Text,
    Words,
    read_kind,
    read_words,
)
from audio.vocab.errors import UseError
from audio.vocab.units import ratio_from_db

_INPUT = Number(1, 1024, whole=True)
_ANY_INPUT = Number(1, 1024, whole=True, optional=True)
_FRAMES = Number(1, 1_000_000, whole=True)
_EITHER_WAY = Number(-1_000_000, 1_000_000, whole=True)

LASTING: dict[str, Words] = {
    "dead cable": {"input": _ANY_INPUT},
    "standby": {},
    "swapped inputs": {"inputs": Pair()},
    "clipping input": {"input": _INPUT, "gain_db": Number(0.0, 80.0, 40.0)},
    "inverted microphone": {"input": _INPUT},
    "hum": {
        "hz": Number(40.0, 70.0, 50.0),
        "level_dbfs": Number(-140.0, 0.0, -40.0),
        "input": _ANY_INPUT,
    },
    "ground loop": {
        "hz": Number(40.0, 70.0, 50.0),
        "level_dbfs": Number(-140.0, 0.0, -40.0),
        "lift_cures_db": Number(0.0, 140.0, 30.0),
        "input": _ANY_INPUT,
    },
    "whine": {
        "family_hz": OneOf((1000, 8000), 1000),
        "level_dbfs": Number(-140.0, 0.0, -60.0),
        "input": _ANY_INPUT,
    },
    "noise": {"level_dbfs": Number(-140.0, 0.0, -50.0), "input": _ANY_INPUT},
    "level": {"gain_db": Number(-80.0, 40.0), "input": _ANY_INPUT},
    "send trim": {"gain_db": Number(-80.0, 40.0)},
    "crosstalk": {"level_db": Number(-140.0, 0.0, -40.0), "input": _ANY_INPUT},
    "flat tops": {"ceiling_dbfs": Number(-60.0, -0.1, -6.0), "input": _ANY_INPUT},
    "monitor leak": {
        "level_db": Number(-140.0, 0.0, -20.0),
        "input": _ANY_INPUT,
        "turned_db": Number(-140.0, 40.0, 0.0),
    },
    "feedback": {"gain_db": Number(-80.0, -0.1, -6.0), "input": _ANY_INPUT},
    "wrong clock": {"ppm": Number(-200_000.0, 200_000.0)},
}
"""Faults that stay once they have begun; from the stream's start when no moment is given.

Where `input` may be left out, all microphones are meant; any input may be named, wired or not. Of those
that say more than their name:

- A ``level`` without an input is the amp's, so that noise and hum stay where they are; ``send trim`` is
  the reamp box's knob, turned by so much.
- ``hum`` is the amp's own, or whatever no cable cures. A ``ground loop`` is there only while the reamp
  box's cable is in the amp, and less with the box's ground lift pressed.
- ``feedback`` and ``monitor leak`` mix one input into the send, the first microphone where none is named.
  The leak is there all along; its moment is the one at which the monitor knob is turned.
- ``flat tops`` is what a load box does to a microphone's sound below full scale: no fault, and never to
  be taken for one.
"""

SUDDEN: dict[str, Words] = {
    "lost frames": {"frames": _FRAMES, "flag": Switch(default=True)},
    "slip": {"frames": _EITHER_WAY, "flag": Switch(default=False)},
    "disappear": {},
}
"""Faults that happen at one moment, which must be given.

``lost frames`` are lost by both directions at once: what comes back lies where it did, but for one
round trip. A ``slip`` stays: later by so many frames when the outputs ran dry, earlier (less than 0)
when the inputs lost some while the outputs went on.
"""

_SECONDS = Number(0.0, 1e6, optional=True)
_STARTS = {"monitor leak": "turned_at_s"} | dict.fromkeys(SUDDEN, "at_s")
"""The word for a moment of the stream, where it is not ``from_s``."""
_WHEN: Words = {
    "after_sound_s": _SECONDS,
    "chain": Text(),
    "time": Number(1, 100_000, whole=True, optional=True),
}
"""``time``: only the first, second … time its chain is plugged in; each pass plugs its chain in once, be it
there already or not."""

_LOUD = ratio_from_db(-30.0) ** 2
_HOP_S = 0.05
_HOPS = 4
"""Playing is four hops of 50 ms in a row over −30 dBFS RMS: test clicks stand too far apart for that."""


class Sound:
    """Waits until playing begins at the send."""

    def __init__(self, *, rate: int) -> None:
        self._hop = round(_HOP_S * rate)
        self.forget(0)

    def forget(self, frame: int) -> None:
        """Start over at that frame."""
        self._origin = frame
        self._rest = np.zeros(0)
        self._row = 0

    def hear(self, send: Signal) -> tuple[int, int] | None:
        """Return the frames at which playing began and at which that was sure, once it is."""
        joined = np.concatenate((self._rest, send))
        hops = joined.size // self._hop
        self._rest = joined[hops * self._hop :]
        for block in joined[: hops * self._hop].reshape(hops, self._hop):
            self._origin += self._hop
            self._row = self._row + 1 if float(block @ block) > _LOUD * self._hop else 0
            if self._row == _HOPS:
                return self._origin - _HOPS * self._hop, self._origin
        return None


@dataclass
class Fault:
    """One fault and its moment."""

    kind: str
    words: dict[str, Any]
    chain: str | None
    after_frames: int
    sound: Sound | None
    """None when the moment counts from the stream's start."""
    begins: int | None
    """Frame of the stream, None while it is not known yet."""
    plugged: bool
    """Whether its chain is plugged in, or it has none."""
    time: int | None = None
    """Which time its chain must be plugged in; None is every time."""
    right_time: bool = True
    happened: bool = False

    @property
    def may_be(self) -> bool:
        """Whether its chain is plugged in, or it has none, and that for the right time."""
        return self.plugged and self.right_time

    def since(self, frame: int, frames: int) -> int:
        """Return where in a block from `frame` on it begins, `frames` when it does not."""
        if not self.may_be or self.begins is None:
            return frames
        return min(max(self.begins - frame, 0), frames)

    def wait_anew(self, frame: int) -> None:
        """Wait for playing from `frame` on, where it waits for any."""
        if self.sound is not None:
            self.begins = None
            self.sound.forget(frame)


class Faults:
    """The faults of a room."""

    def __init__(
        self, given: Sequence[Mapping[str, Any]], *, rate: int, inputs: int, chains: Sequence[str]
    ) -> None:
        """Read the free dictionaries; raise `UseError` for words that are not known or do not fit."""
        self._all = [
            _read(one, f"device.faults, fault {number}", rate, inputs, chains)
            for number, one in enumerate(given, start=1)
        ]

    def of(self, *kinds: str) -> list[Fault]:
        """Return the faults of these kinds, begun or not."""
        return [fault for fault in self._all if fault.kind in kinds]

    def hear(self, send: Signal, frame: int) -> None:
        """Let the faults that wait for playing listen to a block that leaves at `frame`."""
        for fault in self._all:
            if fault.sound is None or fault.begins is not None or not fault.may_be:
                continue
            heard = fault.sound.hear(send)
            if heard is not None:
                fault.begins = max(heard[0] + fault.after_frames, heard[1], frame)

    def plug(self, chain: str, frame: int) -> None:
        """Tell the faults which chain is plugged in from `frame` on.

        A fault of that chain which waits for playing waits for what is played through it.
        """
        for fault in self._all:
            if fault.chain is None:
                continue
            fault.plugged = fault.chain == chain
            if fault.plugged:
                fault.wait_anew(frame)

    def count(self, chain: str, times: int, frame: int) -> None:
        """Tell the faults how often a chain was plugged in by `frame`, this time included."""
        for fault in self._all:
            if fault.chain == chain and fault.time is not None:
                fault.right_time = fault.time == times
                fault.wait_anew(frame)

    def lasting(self, *kinds: str, frame: int, frames: int) -> Iterator[tuple[Fault, int]]:
        """Yield faults of these kinds that are on in a block, and from which of its frames on."""
        for fault in self._all:
            if fault.kind in kinds and (since := fault.since(frame, frames)) < frames:
                yield fault, since

    def sudden(self, frame: int) -> Iterator[Fault]:
        """Yield, once each, the faults whose moment has come by `frame`."""
        for fault in self._all:
            if fault.kind in SUDDEN and not fault.happened and not fault.since(frame, 1):
                fault.happened = True
                yield fault


def _read(
    given: Mapping[str, Any], where: str, rate: int, inputs: int, chains: Sequence[str]
) -> Fault:
    kind = read_kind(given, where=where, kinds=LASTING | SUDDEN)
    start = _STARTS.get(kind, "from_s")
    words: Words = {**(LASTING | SUDDEN)[kind], start: _SECONDS, **_WHEN}
    read = read_words(given, where=where, words=words)
    at, after, chain = read.pop(start), read.pop("after_sound_s"), read.pop("chain")
    time = read.pop("time")
    if time is not None and chain is None:
        raise UseError(f"{where}: 'time' counts how often its chain is plugged in; add 'chain'.")
    if at is not None and after is not None:
        raise UseError(f"{where}: {start!r} and 'after_sound_s' exclude each other; keep one.")
    if kind in SUDDEN and at is None and after is None:
        raise UseError(f"{where}: it needs a moment; add 'at_s' or 'after_sound_s'.")
    if read.get("turned_db") and at is None and after is None:
        raise UseError(f"{where}: the knob needs a moment; add 'turned_at_s' or 'after_sound_s'.")
    if kind == "slip" and not read["frames"]:
        raise UseError(
            f"{where}: a slip of 0 frames is none; write how many, less than 0 for lost ones."
        )
    if chain is not None and chain not in chains:
        raise UseError(f"{where}: no chain {chain!r} in device.chains; add it there.")
    for number in (read.get("input"), *(read.get("inputs") or ())):
        if number is not None and number > inputs:
            raise UseError(
                f"{where}: input {number} is beyond the device's {inputs}; write a lower one."
            )
    waits = after is not None or (kind == "monitor leak" and at is None)
    begins = None if waits else round((at or 0.0) * rate)
    sound = None if after is None else Sound(rate=rate)
    return Fault(
        kind,
        read,
        chain,
        round((after or 0.0) * rate),
        sound,
        begins,
        plugged=chain is None,
        time=time,
        right_time=time is None,
    )
