"""Phrases of General MIDI guitars, rendered by fluidsynth with planted deviations from the grid.

fluidsynth begins notes at multiples of 64 frames and counts whole milliseconds; so notes are written at
multiples of 4 ms, which at 48 kHz are 192 frames, three blocks exactly. What is planted is a multiple of
4 ms, too. The rendered sound is then cut at a frame drawn from the seed, so that nothing the finder does by
blocks can fall in step. What stays unknown is where within each instrument's recordings the string is
struck: that is the program's offset, and it is not the same for all of its keys.
"""

from __future__ import annotations

import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

import mido
import numpy as np
import soundfile
from needs import SOUNDFONT
from numpy.typing import NDArray

PROGRAMS = {
    24: "nylon",
    25: "steel",
    26: "jazz",
    27: "clean",
    28: "muted",
    29: "overdriven",
    30: "distorted",
    31: "harmonics",
}
"""Numbers of MIDI count from 0."""
RATE = 48_000
_STEP_MS = 4


@dataclass(frozen=True, kw_only=True)
class Rendered:
    """A phrase and where its notes were ordered to begin."""

    samples: NDArray[np.float32]
    hits_s: list[float]


def rendered(program: int, *, seed: int, ringing: bool, bars: int = 6) -> Rendered:
    """Return a phrase on one program: single notes, chords and rests, 10 ms (one sigma) off the grid.

    Each note is let go half a step before the next; or it rings until the next is struck.
    """
    draw = np.random.default_rng([seed, program])
    notes = _notes(draw, bars, ringing=ringing)
    with tempfile.TemporaryDirectory() as folder:
        midi, wave = Path(folder) / "phrase.mid", Path(folder) / "phrase.wav"
        _file(program, notes).save(midi)
        _render(midi, wave)
        sound = soundfile.read(wave, dtype="float32", always_2d=True)[0].mean(axis=1)
    cut = int(draw.integers(3000))
    samples = sound[cut:] * np.float32(0.7 / np.max(np.abs(sound)))
    samples += draw.normal(0, 1e-4, samples.size).astype(np.float32)
    starts = sorted({at for at, *_ in notes})
    return Rendered(samples=samples, hits_s=[at / 1e3 - cut / RATE for at in starts])


def _notes(
    draw: np.random.Generator, bars: int, *, ringing: bool
) -> list[tuple[int, int, int, int]]:
    """Return start, end (ms), pitch and velocity of each note."""
    eighth_ms = 30_000 / draw.uniform(90, 160)
    notes = []
    steps = [n for n in range(8 * bars) if draw.random() < 0.8]
    for step, after in zip(steps, [*steps[1:], 8 * bars], strict=True):
        at = _on_step(400 + step * eighth_ms + draw.normal(0, 10))
        end = _on_step(400 + (after - (0.0 if ringing else 0.5)) * eighth_ms)
        velocity = int(draw.integers(50, 120))
        root = int(draw.integers(40, 65))
        shape = (0, 7, 12) if draw.random() < 0.25 else (0,)
        notes += [(at, max(end, at + 60), root + up, velocity) for up in shape]
    return notes


def _on_step(ms: float) -> int:
    return _STEP_MS * round(ms / _STEP_MS)


def _file(program: int, notes: list[tuple[int, int, int, int]]) -> mido.MidiFile:
    """Return a file of which a tick is a millisecond: 500 a beat, half a second a beat."""
    events = [(at, mido.Message("note_on", note=p, velocity=v)) for at, _, p, v in notes]
    events += [(end, mido.Message("note_off", note=p, velocity=0)) for _, end, p, _ in notes]
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=500_000)])
    track.append(mido.Message("program_change", program=program))
    now = 0
    for at, message in sorted(events, key=lambda one: (one[0], one[1].type == "note_on")):
        track.append(message.copy(time=at - now))
        now = at
    track.append(mido.MetaMessage("end_of_track", time=500))
    return mido.MidiFile(type=0, ticks_per_beat=500, tracks=[track])


def _render(midi: Path, wave: Path) -> None:
    told = ["-ni", "-q", "-R", "0", "-C", "0", "-g", "0.5", "-r", str(RATE), "-O", "float"]
    subprocess.run(
        ["fluidsynth", *told, "-T", "wav", "-F", wave, SOUNDFONT, midi],
        check=True,
        capture_output=True,
        timeout=120,
    )
