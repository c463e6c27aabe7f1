"""Phrases of General MIDI guitars, rendered by fluidsynth with planted deviations from the grid.

fluidsynth begins notes at multiples of 64 frames and counts whole milliseconds; so notes are written at
multiples of 4 ms, which at 48 kHz are 192 frames, three blocks exactly. What is planted is a multiple of
4 ms, too. The rendered sound is then cut at a frame drawn from the seed, so that nothing the finder does by
blocks can fall in step. What stays unknown is where within each instrument's recordings the string is
struck: many begin with a hand that comes to rest, and in the clean guitar the lowest keys are struck 28 ms
after their note begins, others after 8. So each key and chord has a constant offset of its own, and it is
read where each is `alone`.
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
LOWEST, HIGHEST = 40, 64
"""Roots of notes and chords."""
Key = tuple[int, bool]
"""A root, and whether a chord stands on it."""
_CHORD = (0, 7, 12)
_STEP_MS = 4
_ALONE_MS, _ALONE_HELD_MS = 1200, 600
_ALONE_VELOCITIES = (55, 85, 115)


@dataclass(frozen=True, kw_only=True)
class Rendered:
    """A phrase, where its notes were ordered to begin, and what they are."""

    samples: NDArray[np.float32]
    hits_s: list[float]
    keys: list[Key]


def rendered(program: int, *, seed: int, ringing: bool, bars: int = 6) -> Rendered:
    """Return a phrase on one program: single notes, chords and rests, 10 ms (one sigma) off the grid.

    Each note is let go half a step before the next; or it rings until the next is struck.
    """
    draw = np.random.default_rng([seed, program])
    sound, hits = _played(program, _notes(draw, bars, ringing=ringing))
    cut = int(draw.integers(3000))
    return Rendered(
        samples=_as_recorded(sound, draw, cut=cut),
        hits_s=[at / 1e3 - cut / RATE for at, _ in hits],
        keys=[key for _, key in hits],
    )


def alone(program: int) -> Rendered:
    """Return each key and each chord by itself, out of silence, struck softly, usually and hard."""
    notes = []
    for chord in (False, True):
        for root in range(LOWEST, HIGHEST + 1):
            for velocity in _ALONE_VELOCITIES:
                at = 400 + _ALONE_MS * len(notes)
                notes.append((at, at + _ALONE_HELD_MS, (root, chord), velocity))
    sound, hits = _played(program, notes)
    return Rendered(
        samples=_as_recorded(sound, np.random.default_rng(program), cut=0),
        hits_s=[at / 1e3 for at, _ in hits],
        keys=[key for _, key in hits],
    )


def _as_recorded(
    sound: NDArray[np.float32], draw: np.random.Generator, *, cut: int
) -> NDArray[np.float32]:
    """Return the sound from a frame on, its peak at 0.7, over noise at -80 dBFS."""
    samples = sound[cut:] * np.float32(0.7 / np.max(np.abs(sound)))
    samples += draw.normal(0, 1e-4, samples.size).astype(np.float32)
    return samples


def _played(
    program: int, notes: list[tuple[int, int, Key, int]]
) -> tuple[NDArray[np.float32], list[tuple[int, Key]]]:
    """Return the sound of notes and chords, and where (ms) which begins."""
    with tempfile.TemporaryDirectory() as folder:
        midi, wave = Path(folder) / "phrase.mid", Path(folder) / "phrase.wav"
        _file(program, notes).save(midi)
        _render(midi, wave)
        sound = soundfile.read(wave, dtype="float32", always_2d=True)[0].mean(axis=1)
    return sound, sorted({at: key for at, _, key, _ in notes}.items())


def _notes(
    draw: np.random.Generator, bars: int, *, ringing: bool
) -> list[tuple[int, int, Key, int]]:
    """Return start, end (ms), what it is and velocity of each note or chord."""
    eighth_ms = 30_000 / draw.uniform(90, 160)
    notes = []
    steps = [n for n in range(8 * bars) if draw.random() < 0.8]
    for step, after in zip(steps, [*steps[1:], 8 * bars], strict=True):
        at = _on_step(400 + step * eighth_ms + draw.normal(0, 10))
        end = _on_step(400 + (after - (0.0 if ringing else 0.5)) * eighth_ms)
        velocity = int(draw.integers(50, 120))
        root = int(draw.integers(LOWEST, HIGHEST + 1))
        notes.append((at, max(end, at + 60), (root, bool(draw.random() < 0.25)), velocity))
    return notes


def _on_step(ms: float) -> int:
    return _STEP_MS * round(ms / _STEP_MS)


def _file(program: int, notes: list[tuple[int, int, Key, int]]) -> mido.MidiFile:
    """Return a file of which a tick is a millisecond: 500 a beat, half a second a beat."""
    events = []
    for at, end, (root, chord), velocity in notes:
        for pitch in [root + up for up in _CHORD] if chord else [root]:
            events.append((at, mido.Message("note_on", note=pitch, velocity=velocity)))
            events.append((end, mido.Message("note_off", note=pitch, velocity=0)))
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
