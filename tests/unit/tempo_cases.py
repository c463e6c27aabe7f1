"""Tempo maps made up for tests, Standard MIDI Files from bytes, and the referee that sums them afresh."""

from __future__ import annotations

import struct
from fractions import Fraction

from hypothesis import strategies as st

from audio.vocab.tempo import Metre, MetreChange, TempoChange, TempoMap, tempo_map

RATES = (44_100, 48_000, 96_000)


def variable(number: int) -> bytes:
    """Return a number as a Standard MIDI File has it: seven bits a byte, the highest first (SMF 1.0)."""
    found = [number & 0x7F]
    while number := number >> 7:
        found.append(0x80 | number & 0x7F)
    return bytes(reversed(found))


def event(delta: int, *bytes_: int) -> bytes:
    return variable(delta) + bytes(bytes_)


def tempo_event(delta: int, microseconds: int) -> bytes:
    return event(delta, 0xFF, 0x51, 3, *microseconds.to_bytes(3, "big"))


def metre_event(delta: int, beats: int, power: int) -> bytes:
    return event(delta, 0xFF, 0x58, 4, beats, power, 24, 8)


END = event(0, 0xFF, 0x2F, 0)


def midi(*tracks: bytes, kind: int = 1, division: int = 480, count: int | None = None) -> bytes:
    """Return a Standard MIDI File 1.0: header chunk ``MThd``, then ``MTrk`` chunks (from memory)."""
    head = struct.pack(">HHh", kind, len(tracks) if count is None else count, division)
    chunks = [b"MThd" + struct.pack(">L", len(head)) + head]
    chunks += [b"MTrk" + struct.pack(">L", len(one)) + one for one in tracks]
    return b"".join(chunks)


def place(tempo: TempoMap, quarters: Fraction, rate: int) -> Fraction:
    """Return frames from bar 1 to a place: the sum over all tempi, each over the part that it holds for."""
    ends = [one.at for one in tempo.tempos[1:]] + [None]
    total = Fraction(0)
    for i, (one, end) in enumerate(zip(tempo.tempos, ends, strict=True)):
        begin = one.at if i else min(quarters, Fraction(0))
        upto = quarters if end is None else min(quarters, end)
        if upto > begin:
            total += (upto - begin) * one.quarter_s * rate
    if quarters < 0:
        total = quarters * tempo.tempos[0].quarter_s * rate
    return total


metres = st.builds(Metre, st.integers(1, 12), st.sampled_from((2, 4, 8, 16)))
lengths = st.integers(150_000, 3_000_000).map(lambda us: Fraction(us, 10**6))


@st.composite
def maps(draw: st.DrawFn) -> TempoMap:
    """Return maps whose tempo changes anywhere, whose metre often off its bar lines and beats."""
    ticks = st.integers(0, 40_000).map(lambda tick: Fraction(tick, 480))
    tempos = draw(st.lists(st.builds(TempoChange, ticks, lengths), min_size=1, max_size=8))
    first = MetreChange(Fraction(0), draw(metres))
    more = draw(st.lists(st.builds(MetreChange, ticks, metres), max_size=5))
    start = draw(st.none() | st.integers(-(10**7), 10**7).map(lambda ms: Fraction(ms, 1000)))
    return tempo_map(tempos, [first, *more], start_s=start)
