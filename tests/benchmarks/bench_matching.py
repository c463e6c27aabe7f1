"""How long it takes until sixteen sounds of four microphones are matched, and until a moved fader is.

The worker reads four files of noise of ten minutes, under as many names as there are microphones: each name
is read and computed anew. A stretch of twenty seconds is asked for first, then the whole as listening does
it, in pieces, then single faders, then a stretch elsewhere; memory is the worker's at its highest.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from time import perf_counter

import numpy as np
import report
import soundfile
from processes import MB, descendants, peak_rss_bytes

from audio.jobs.listening import PIECE_S
from audio.vocab.layers import Layer
from audio.vocab.requests import MatchSounds
from audio.work.client import Worker

RATE = 48_000
SEED = 27_000
SOUNDS, MICROPHONES = 16, 4
STRETCH_S = 20.0
GOAL_STRETCH_S, GOAL_FADER_MS, GOAL_MB = 5.0, 50.0, 200.0
FADERS = 40


def main() -> None:
    """Print the figures."""
    said = report.options(__doc__).parse_args()
    minutes = 1.0 if said.short else 10.0
    report.conditions(
        f"{SOUNDS} sounds, {MICROPHONES} microphones, {minutes:g} minutes, seed {SEED}"
    )
    with tempfile.TemporaryDirectory(prefix="bench-matching-") as scratch, Worker() as worker:
        sounds = written(Path(scratch), frames=round(minutes * 60 * RATE))
        measure(worker, sounds, frames=round(minutes * 60 * RATE))


def written(folder: Path, *, frames: int) -> tuple[tuple[Layer, ...], ...]:
    """Write one file for each microphone, and give it a name for each sound."""
    draw = np.random.default_rng(SEED)
    sounds: list[list[Layer]] = [[] for _ in range(SOUNDS)]
    for microphone in range(MICROPHONES):
        first = folder / f"{microphone}.wav"
        with soundfile.SoundFile(first, "w", RATE, 1, "PCM_24") as file:
            for at in range(0, frames, 60 * RATE):
                file.write(0.1 * draw.standard_normal(min(60 * RATE, frames - at)))
        for number, sound in enumerate(sounds):
            path = folder / f"{number}-{microphone}.wav"
            os.link(first, path)
            sound.append(Layer(name=f"mic {microphone}", path=str(path), gain_db=-float(number)))
    return tuple(tuple(one) for one in sounds)


def measure(worker: Worker, sounds: tuple[tuple[Layer, ...], ...], *, frames: int) -> None:
    """Time each question."""
    stretch, piece = round(STRETCH_S * RATE), round(PIECE_S * RATE)
    worker.match(asked(sounds[:1], 0, RATE))  # it has loaded what it needs by then
    took = timed(worker, asked(sounds, 0, stretch))
    met = took <= GOAL_STRETCH_S
    report.figure(f"{STRETCH_S:g} s of all, s", f"{took:.2f}", f"{GOAL_STRETCH_S:g}", met)
    began, longest = perf_counter(), 0.0
    for sound in sounds:
        for start in range(0, frames, piece):
            longest = max(
                longest, timed(worker, asked((sound,), start, min(piece, frames - start)))
            )
    report.figure("the whole of all in pieces, s", f"{perf_counter() - began:.1f}")
    report.figure("longest piece, s", f"{longest:.2f}", "1", longest <= 1.0)
    for name, start, length in (("20 s", 0, stretch), ("whole", 0, frames)):
        times = [timed(worker, asked(faded(sounds, n), start, length)) for n in range(FADERS)]
        worst = 1000.0 * max(times)
        goal = f"{GOAL_FADER_MS:g}" if name == "20 s" else ""
        report.figure(
            f"a moved fader, {name}, worst ms",
            f"{worst:.0f}",
            goal,
            worst <= GOAL_FADER_MS if goal else None,
        )
    elsewhere = timed(worker, asked(sounds, frames // 2, stretch))
    report.figure("another stretch, read before, s", f"{elsewhere:.2f}", "1", elsewhere <= 1.0)
    peak = max(peak_rss_bytes(pid) for pid in descendants(os.getpid())) / MB
    report.figure("memory of the worker, MB", f"{peak:.0f}", f"{GOAL_MB:g}", peak <= GOAL_MB)


def asked(sounds: tuple[tuple[Layer, ...], ...], start: int, frames: int) -> MatchSounds:
    """Return a question about a stretch."""
    return MatchSounds(sounds=sounds, from_frame=start, frames=frames, sample_rate=RATE)


def faded(sounds: tuple[tuple[Layer, ...], ...], count: int) -> tuple[tuple[Layer, ...], ...]:
    """Return the sounds with one fader of the first turned down."""
    first = (Layer(name="mic 0", path=sounds[0][0].path, gain_db=-0.5 * count), *sounds[0][1:])
    return (first, *sounds[1:])


def timed(worker: Worker, question: MatchSounds) -> float:
    """Return the seconds until it is answered."""
    began = perf_counter()
    worker.match(question)
    return perf_counter() - began


if __name__ == "__main__":
    main()
