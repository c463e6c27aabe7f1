"""The demo's DIs: what `demo.score` has written, on plucked strings, 48 kHz, 24-bit."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

import numpy as np
from numpy.typing import NDArray

from demo.score import LAST_FERRY, ROPE_OF_LAMPS, Note, Part, Song, answer, arpeggio, hook, rhythm
from demo.strings import Signal, pluck

RATE = 48_000
FADE_S = 0.02
DAMP_S = 0.02
"""Time in which a string is stopped; fingers and palm are soft."""
LET_GO_S = 0.0012
"""Time in which a pick lets a string go."""
NOISE = 10.0 ** (-106.0 / 20.0)
"""Largest noise of pickup and DI box, linear."""

OPEN_STRINGS = (40, 45, 50, 55, 59, 64)
"""MIDI notes of the open strings, lowest first: E A D G B E."""

DRAG_S = (0.0, 0.006, -0.004, 0.011, 0.014, 0.003, 0.012, 0.009)
"""How the right-hand double sits: mostly late, as a tired take does."""


@dataclass(frozen=True, kw_only=True)
class Take:
    """One DI."""

    song: Song
    notes: Part
    peak_dbfs: float
    """Level of its largest sample."""
    seed: int
    """Of all that is random in it."""


TAKES = {
    "rhythm-left": Take(song=LAST_FERRY, notes=rhythm(feel_s=(0.0,) * 8), peak_dbfs=-9.5, seed=11),
    "rhythm-right": Take(song=LAST_FERRY, notes=rhythm(feel_s=DRAG_S), peak_dbfs=-10.5, seed=23),
    "hook": Take(song=LAST_FERRY, notes=hook(), peak_dbfs=-12.0, seed=37),
    "arpeggio": Take(song=ROPE_OF_LAMPS, notes=arpeggio(), peak_dbfs=-11.0, seed=53),
    "answer": Take(song=ROPE_OF_LAMPS, notes=answer(), peak_dbfs=-12.5, seed=71),
}
"""By part."""


def make_di(take: Take) -> NDArray[np.int32]:
    """Return a DI as 24-bit codes.

    Parameters
    ----------
    take
        What is played.

    Returns
    -------
    NDArray
        Shape (frames,), −2**23 to 2**23 − 1; begins and ends at zero.
    """
    out = np.zeros(round(take.song.seconds * RATE))
    by_string: dict[int, list[Note]] = {}
    for note in sorted(take.notes, key=lambda note: _start_s(take.song, note)):
        by_string.setdefault(note.string, []).append(note)
    for string, played in sorted(by_string.items()):
        _play_string(out, string, played, take=take)
    loudest = float(np.abs(out).max())
    out *= 10.0 ** (take.peak_dbfs / 20.0) / loudest
    out += _noise(len(out), seed=take.seed)
    _fade_ends(out)
    return np.round(out * 2.0**23).astype(np.int32)


def _start_s(song: Song, note: Note) -> float:
    return song.at_s(note.beat) + note.late_s


def _play_string(out: Signal, string: int, played: list[Note], *, take: Take) -> None:
    """Add the notes of one string; each is stopped by its own end or by the next one."""
    starts = [round(_start_s(take.song, n) * RATE) for n in played]
    for k, (note, start) in enumerate(zip(played, starts, strict=True)):
        held = round(note.beats * 60.0 / take.song.bpm * RATE)
        if k + 1 == len(played):
            held = max(held, len(out) - start)
        until = min([start + held, len(out), *starts[k + 1 : k + 2]])
        one = pluck(
            OPEN_STRINGS[string] + note.fret,
            frames=until - start,
            rate=RATE,
            touch=note.touch,
            seed=take.seed * 10_000 + string * 1000 + k,
        )
        damp = min(len(one), round(DAMP_S * RATE))
        one[len(one) - damp :] *= _eased(damp)[::-1]
        let_go = min(len(one), round(LET_GO_S * RATE))
        one[:let_go] *= _eased(let_go)
        out[start:until] += one


def _eased(frames: int) -> Signal:
    """Return a rise from nothing to 1 without a kink at either end: 3x² − 2x³."""
    x = np.arange(frames) / frames
    return x * x * (3.0 - 2.0 * x)


def _noise(frames: int, *, seed: int) -> Signal:
    dice = Random(seed + 1)  # noqa: S311 - its sequence is the same everywhere
    return np.array([NOISE * (2.0 * dice.random() - 1.0) for _ in range(frames)])


def _fade_ends(out: Signal) -> None:
    fade = round(FADE_S * RATE)
    ramp = np.arange(fade) / fade
    out[:fade] *= ramp
    out[len(out) - fade :] *= ramp[::-1]
