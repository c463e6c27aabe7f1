"""Write the demo's DIs: ``python -m demo.make_dis FOLDER``.

Three parts of an invented song, four bars of 4/4 at 96 beats a minute, 48 kHz, 24-bit. The files in
this folder were made by this program.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random

import numpy as np
import soundfile
from numpy.typing import NDArray

from demo.strings import Signal, Touch, pluck

RATE = 48_000
BPM = 96
BARS = 4
FIRST_BEAT_S = 0.25
"""Where bar 1 begins in every file."""
RING_S = 1.0
"""How long the last note may ring after the last bar."""
FADE_S = 0.02
DAMP_S = 0.006
"""Time in which a string is stopped."""
NOISE = 10.0 ** (-106.0 / 20.0)
"""Largest noise of pickup and DI box, linear."""

OPEN_STRINGS = (40, 45, 50, 55, 59, 64)
"""MIDI notes of the open strings, lowest first: E A D G B E."""


@dataclass(frozen=True, kw_only=True)
class Note:
    """One note of a part."""

    beat: float
    """Quarter notes from bar 1."""
    string: int
    """0 is the lowest."""
    fret: int
    beats: float
    """How long it is held."""
    touch: Touch
    late_s: float = 0.0
    """How far the hand was behind the beat; negative ahead."""


Part = tuple[Note, ...]

ROOTS = ((0, 0), (0, 3), (1, 0), (1, 3))
"""(string, fret) of each bar's power chord: E, G, A, C."""

_ACCENTS = (0, 3, 6)
"""Eighths of a bar on which the chord is let ring; the palm mutes the others."""


def rhythm(*, feel_s: tuple[float, ...]) -> Part:
    """Return the rhythm part: eighths on a power chord, accents open, the rest muted.

    Parameters
    ----------
    feel_s
        Seconds each eighth of a bar lies behind the beat.

    Returns
    -------
    Part
        Four bars, the last accent held.
    """
    return tuple(
        note
        for bar, (string, fret) in enumerate(ROOTS)
        for eighth in range(8)
        for note in _power_chord(
            bar * 4 + eighth / 2, string, fret, accent=eighth in _ACCENTS, late_s=feel_s[eighth]
        )
    )


def _power_chord(
    beat: float, string: int, fret: int, *, accent: bool, late_s: float
) -> Iterator[Note]:
    strum_s = 0.006
    touch = Touch(loud=1.0 if accent else 0.62, muted=not accent, pick=0.11)
    for k, up in enumerate((0, 2, 2) if accent else (0, 2)):
        yield Note(
            beat=beat,
            string=string + k,
            fret=fret + up,
            beats=1.4 if accent else 0.45,
            touch=touch,
            late_s=late_s + k * strum_s,
        )


_HOOK = (
    # beat in its two bars, string, fret, beats
    (0.0, 4, 8, 1.0),
    (0.75, 5, 7, 0.7),
    (1.5, 4, 8, 0.7),
    (2.0, 3, 9, 1.5),
    (3.5, 3, 7, 0.5),
    (4.0, 4, 5, 1.2),
    (5.0, 4, 8, 0.5),
    (5.5, 5, 7, 1.0),
    (6.5, 4, 10, 1.5),
)


def hook() -> Part:
    """Return the hook: a single line over two bars, twice, over ringing low strings."""
    notes = [
        Note(beat=start + b, string=s, fret=f, beats=n, touch=Touch(loud=0.85, pick=0.2))
        for start in (0.0, 8.0)
        for b, s, f, n in _HOOK
    ]
    low = [
        Note(beat=4.0 * bar, string=s, fret=f, beats=3.9, touch=Touch(loud=0.5, pick=0.25))
        for bar, (s, f) in enumerate(ROOTS)
    ]
    return tuple(notes + low)


DRAG_S = (0.0, 0.006, -0.004, 0.011, 0.014, 0.003, 0.012, 0.009)
"""How the right-hand double sits: mostly late, as a tired take does."""

PARTS: dict[str, tuple[Part, float, int]] = {
    "rhythm-left": (rhythm(feel_s=(0.0,) * 8), -9.5, 11),
    "rhythm-right": (rhythm(feel_s=DRAG_S), -10.5, 23),
    "hook": (hook(), -12.0, 37),
}
"""By part: its notes, its peak in dBFS, its seed."""


def make_di(notes: Iterable[Note], *, peak_dbfs: float, seed: int) -> NDArray[np.int32]:
    """Return a DI as 24-bit codes.

    Parameters
    ----------
    notes
        What is played.
    peak_dbfs
        Level of its largest sample.
    seed
        Of all that is random in it.

    Returns
    -------
    NDArray
        Shape (frames,), −2**23 to 2**23 − 1; begins and ends at zero.
    """
    seconds = FIRST_BEAT_S + BARS * 4 * 60.0 / BPM + RING_S
    out = np.zeros(round(seconds * RATE))
    by_string: dict[int, list[Note]] = {}
    for note in sorted(notes, key=_start_s):
        by_string.setdefault(note.string, []).append(note)
    for string, played in sorted(by_string.items()):
        _play_string(out, string, played, seed=seed)
    loudest = float(np.abs(out).max())
    out *= 10.0 ** (peak_dbfs / 20.0) / loudest
    out += _noise(len(out), seed=seed)
    _fade_ends(out)
    return np.round(out * 2.0**23).astype(np.int32)


def _start_s(note: Note) -> float:
    return FIRST_BEAT_S + note.beat * 60.0 / BPM + note.late_s


def _play_string(out: Signal, string: int, played: list[Note], *, seed: int) -> None:
    """Add the notes of one string; each is stopped by its own end or by the next one."""
    starts = [round(_start_s(n) * RATE) for n in played]
    for k, (note, start) in enumerate(zip(played, starts, strict=True)):
        held = round(note.beats * 60.0 / BPM * RATE)
        if k + 1 == len(played):
            held = max(held, len(out) - start)
        until = min([start + held, len(out), *starts[k + 1 : k + 2]])
        one = pluck(
            OPEN_STRINGS[string] + note.fret,
            frames=until - start,
            rate=RATE,
            touch=note.touch,
            seed=seed * 10_000 + string * 1000 + k,
        )
        damp = min(len(one), round(DAMP_S * RATE))
        one[len(one) - damp :] *= 1.0 - np.arange(1, damp + 1) / damp
        out[start:until] += one


def _noise(frames: int, *, seed: int) -> Signal:
    dice = Random(seed + 1)  # noqa: S311 - its sequence is the same everywhere
    return np.array([NOISE * (2.0 * dice.random() - 1.0) for _ in range(frames)])


def _fade_ends(out: Signal) -> None:
    fade = round(FADE_S * RATE)
    ramp = np.arange(fade) / fade
    out[:fade] *= ramp
    out[len(out) - fade :] *= ramp[::-1]


def main(folder: Path) -> None:
    """Write every part of `PARTS` into `folder`, named after the part."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, (notes, peak_dbfs, seed) in PARTS.items():
        codes = make_di(notes, peak_dbfs=peak_dbfs, seed=seed)
        soundfile.write(folder / f"{name}.flac", codes << 8, RATE, subtype="PCM_24")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Write the demo's DIs.")
    parser.add_argument("folder", type=Path, help="where to; files of the same names are replaced")
    main(parser.parse_args().folder)
