"""Chains: pedals in order, made from the free words of a wiring, and changed without a click."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

import numpy as np

from audio.device.simulated.filters import Delay, Signal
from audio.device.simulated.pedals.drive import Buffer, Drive, ToneControl, Volume, Wah
from audio.device.simulated.pedals.dynamics import Compressor, Gate
from audio.device.simulated.pedals.modulation import Chorus, Tremolo, Vibrato
from audio.device.simulated.pedals.pedal import Pedal
from audio.device.simulated.pedals.time import Digital, Echo, Reverb
from audio.device.simulated.words import Number, Words, read_kind, read_words

FADE_S = 0.01
"""Length of the fade from one chain to the next."""

_SHARE = partial(Number, 0.0, 1.0)

KINDS: dict[str, Words] = {
    "drive": {
        "drive_db": Number(0.0, 60.0, 24.0),
        "tone_hz": Number(500.0, 20000.0, 4000.0),
        "level_db": Number(-60.0, 40.0, 0.0),
        "asymmetry": _SHARE(0.1),
    },
    "gate": {
        "threshold_db": Number(-100.0, 0.0, -50.0),
        "attack_ms": Number(0.0, 100.0, 1.0),
        "hold_ms": Number(0.0, 1000.0, 20.0),
        "release_ms": Number(1.0, 5000.0, 80.0),
    },
    "compressor": {
        "threshold_db": Number(-80.0, 0.0, -30.0),
        "ratio": Number(1.0, 100.0, 4.0),
        "attack_ms": Number(0.0, 500.0, 5.0),
        "release_ms": Number(1.0, 5000.0, 150.0),
        "makeup_db": Number(-20.0, 40.0, 6.0),
    },
    "tremolo": {"hz": Number(0.05, 30.0, 5.0), "depth": _SHARE(0.6)},
    "chorus": {
        "hz": Number(0.05, 20.0, 0.8),
        "delay_ms": Number(0.5, 50.0, 12.0),
        "depth_ms": Number(0.0, 20.0, 3.0),
        "mix": _SHARE(0.5),
    },
    "vibrato": {
        "hz": Number(0.05, 20.0, 5.0),
        "delay_ms": Number(0.5, 50.0, 3.0),
        "depth_ms": Number(0.0, 20.0, 0.6),
    },
    "echo": {
        "ms": Number(1.0, 5000.0, 450.0),
        "feedback": Number(0.0, 0.98, 0.4),
        "mix": _SHARE(0.5),
    },
    "reverb": {"decay_s": Number(0.1, 20.0, 2.0), "mix": _SHARE(0.4)},
    "digital": {"ms": Number(0.0, 100.0, 1.4)},
    "inverting buffer": {},
    "volume": {"open": _SHARE(0.0)},
    "tuner": {},
    "wah": {"hz": Number(200.0, 4000.0, 900.0), "q": Number(0.5, 20.0, 4.0)},
    "tone": {
        "hz": Number(20.0, 18_000.0, 3000.0),
        "db": Number(-24.0, 24.0, 0.0),
        "q": Number(0.1, 20.0, 1.0),
    },
}
"""The words of each kind."""

_MAKERS: dict[str, Callable[..., Pedal]] = {
    "drive": Drive,
    "tone": ToneControl,
    "gate": Gate,
    "compressor": Compressor,
    "tremolo": Tremolo,
    "chorus": Chorus,
    "vibrato": Vibrato,
    "echo": Echo,
    "reverb": Reverb,
    "digital": Digital,
    "wah": Wah,
}

_RATELESS: dict[str, Callable[..., Pedal]] = {
    "inverting buffer": Buffer,
    "volume": Volume,
    "tuner": partial(Volume, open=0.0),
}


def make_pedal(given: Mapping[str, Any], *, rate: int, where: str) -> Pedal:
    """Return the pedal a free dictionary describes, as if just switched on.

    Its words are ``kind`` and those of `KINDS`; `where`, the place in the wiring file, opens the
    sentence of the `UseError` for a word that is unknown, missing or does not fit.
    """
    kind = read_kind(given, where=where, kinds=KINDS)
    words = read_words(given, where=where, words=KINDS[kind])
    if kind in _RATELESS:
        return _RATELESS[kind](**words)
    return _MAKERS[kind](rate=rate, **words)


class Chain:
    """Pedals in order, made equally late whatever stands among them."""

    def __init__(
        self,
        name: str,
        given: Sequence[Mapping[str, Any]],
        *,
        rate: int,
        latency: int | None = None,
    ) -> None:
        """Make the pedals; raise `UseError` for words that are not known.

        `latency` is what the chain shall be late by; its own when left out.
        """
        self.name = name
        self.pedals = tuple(
            make_pedal(one, rate=rate, where=f"device.chains, {name!r}, pedal {number}")
            for number, one in enumerate(given, start=1)
        )
        own = sum(pedal.latency for pedal in self.pedals)
        self.latency = own if latency is None else latency
        self._wait = Delay(self.latency - own)

    @property
    def delay_frames(self) -> float:
        """Frames by which the chain makes the first arrival later."""
        return sum(pedal.delay_frames for pedal in self.pedals)

    @property
    def inverts(self) -> bool | None:
        """Whether the polarity is turned; None where that cannot be known."""
        turns = [pedal.inverts for pedal in self.pedals]
        return None if None in turns else turns.count(True) % 2 == 1

    def process(self, signal: Signal) -> Signal:
        """Return what comes out for `signal`, shape (frames,), late by `latency`."""
        out = self._wait.process(signal)
        for pedal in self.pedals:
            out = pedal.process(out)
        return out


class Board:
    """The chain that is plugged in, and the one that is on its way."""

    def __init__(self, chains: Mapping[str, Sequence[Mapping[str, Any]]], *, rate: int) -> None:
        self._chains = dict(chains)
        self._rate = rate
        self._tried = {name: Chain(name, given, rate=rate) for name, given in self._chains.items()}
        self.latency = max((chain.latency for chain in self._tried.values()), default=0)
        self._wanted = ""
        self.plugged = self._make("")
        self._leaving: Chain | None = None
        self._fade = max(1, round(FADE_S * rate))
        self._faded = 0

    @property
    def asked(self) -> Chain:
        """A chain like the one that was asked for last, to ask what it does."""
        return self._tried.get(self._wanted) or self._make(self._wanted)

    def plug(self, chain: str) -> None:
        """Ask for a chain; a name that is not listed has no pedal in it."""
        self._wanted = chain

    def change(self) -> bool:
        """Begin to change over if another chain is wanted; return whether it has just been done.

        A change in progress is finished first.
        """
        if self._leaving is not None or self._wanted == self.plugged.name:
            return False
        self._leaving, self._faded = self.plugged, 0
        self.plugged = self._make(self._wanted)
        return True

    def process(self, signal: Signal) -> Signal:
        """Return what comes out for `signal`, shape (frames,)."""
        out = self.plugged.process(signal)
        if self._leaving is None:
            return out
        at = np.arange(self._faded + 1, self._faded + 1 + signal.size)
        share = np.minimum(at / self._fade, 1.0)
        mixed = share * out + (1.0 - share) * self._leaving.process(signal)
        self._faded += signal.size
        if self._faded >= self._fade:
            self._leaving = None
        return np.asarray(mixed, dtype=np.float64)

    def _make(self, name: str) -> Chain:
        return Chain(name, self._chains.get(name, ()), rate=self._rate, latency=self.latency)
