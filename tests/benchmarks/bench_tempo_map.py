"""Sixty minutes with 400 changes of tempo and as many of metre as fit: where does each bar line lie?

Maps are drawn by chance: 400 tempi between 60 and 180 quarter notes a minute at ticks, every twentieth bar
another metre. mido writes each as a Standard MIDI File of two tracks, the program reads it back and lays it
on frames, and every beat of the hour is compared with a sum of fractions written afresh here: over all
tempi, the microseconds that each holds before the beat, added up, rounded nowhere. Goal: the map read
is the one that was written, each beat within half a frame, the last one too, at 44.1, 48 and 96 kHz. Maps
of one metre are read as labels of every bar, too, in seconds of six decimals. Beside it, for comparison:
what a sum of rounded beats is off at the end, and how long lookups take, as the screen makes them.

Nothing was tuned on these maps; ``--seed`` draws others.
"""

from __future__ import annotations

import io
from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from random import Random
from time import perf_counter

import mido
import report

from audio.files.tempo import tempo_of
from audio.grid.bars import BarGrid, bar_grid
from audio.vocab.session_file import Song
from audio.vocab.tempo import TempoMap

SEED = 400_060
MAPS, SHORT_MAPS = 10, 2
MINUTES, CHANGES, TICKS = 60, 400, 960
RATES = (44_100, 48_000, 96_000)
METRES = ((4, 4), (3, 4), (6, 8), (7, 8), (2, 2), (5, 4), (12, 8))
EVERY_BARS = 20
LOOKUPS = 20_000


@dataclass(frozen=True)
class Truth:
    """A map as it was drawn, and where every beat of it lies."""

    tempos: tuple[tuple[int, int], ...]
    """Tick and microseconds a quarter note."""
    metres: tuple[tuple[int, tuple[int, int]], ...]
    beats: tuple[int, ...]
    """Tick of every beat."""
    bars: tuple[int, ...]
    """Which of the beats begin bars."""

    def microseconds(self) -> list[Fraction]:
        """Return where every beat lies, by a straight sum."""
        ticks = [tick for tick, _ in self.tempos]
        before, sums = Fraction(0), []
        for (tick, us), after in zip(self.tempos, [*ticks[1:], None], strict=True):
            sums.append(before)
            before += 0 if after is None else Fraction((after - tick) * us, TICKS)
        found = []
        for beat in self.beats:
            at = bisect_right(ticks, beat) - 1
            found.append(sums[at] + Fraction((beat - ticks[at]) * self.tempos[at][1], TICKS))
        return found


def main() -> None:
    """Print the table."""
    parser = report.options(__doc__)
    parser.add_argument("--seed", type=int, default=SEED)
    said = parser.parse_args()
    maps = SHORT_MAPS if said.short else MAPS
    report.conditions(f"seed {said.seed}, {maps} maps of {MINUTES} min, {CHANGES} tempi each")
    drawn = [_drawn(Random(f"{said.seed} {number}")) for number in range(maps)]  # noqa: S311
    read = [tempo_of(_written(one), path=Path("drawn.mid"), metre=None) for one in drawn]
    same = sum(_is_same(one, found) for one, found in zip(drawn, read, strict=True))
    report.figure("MIDI files read back equal", f"{same} of {maps}", f"{maps}", same == maps)
    for rate in RATES:
        _frames(drawn, read, rate)
    _labels([_drawn(Random(f"{said.seed} {k} one"), every=10**9) for k in range(maps)])  # noqa: S311
    _quick(read)


def _frames(drawn: list[Truth], read: list[TempoMap], rate: int) -> None:
    worst, last, naive, misnamed, beats = Fraction(0), Fraction(0), 0.0, 0, 0
    for truth, tempo in zip(drawn, read, strict=True):
        grid, exact = _grid(tempo, rate), [us * rate / 10**6 for us in truth.microseconds()]
        errors = [abs(grid.frame_of_beat(beat) - at) for beat, at in enumerate(exact)]
        worst, last = max(worst, *errors), max(last, errors[-1])
        starts = set(truth.bars)
        misnamed += sum(
            (grid.named(beat)[1] == 1) != (beat in starts) for beat in range(len(exact))
        )
        misnamed += sum(
            grid.frame(k + 1) != round(exact[beat]) for k, beat in enumerate(truth.bars)
        )
        summed = sum(round(after - one) for one, after in pairwise(exact))
        naive = max(naive, abs(float(summed - exact[-1])))
        beats += len(exact)
    name = f"{rate / 1000:g} kHz:"
    report.figure(f"{name} the worst beat off by", _off(worst), "0.5 frame", worst <= 0.5)
    report.figure(
        f"{name} the last beat of the hour off by", _off(last), "under 0.5 frame", last <= 0.5
    )
    report.figure(
        f"{name} bar lines misplaced or misnamed", f"{misnamed} of {beats} beats", "0", not misnamed
    )
    report.figure(f"{name} a sum of rounded beats is off by", f"{naive:.0f} frames")


def _off(frames: Fraction) -> str:
    return f"{float(frames):.4f} frame"


def _labels(drawn: list[Truth]) -> None:
    """Label every bar, to a microsecond, and compare each line with what its label says."""
    worst, count = Fraction(0), 0
    for truth in drawn:
        exact, (beats, note) = truth.microseconds(), truth.metres[0][1]
        told = [round(exact[beat]) for beat in truth.bars]
        lines = (
            f"{us // 10**6}.{us % 10**6:06d}\t{us // 10**6 + 1}\t{bar}\n"
            for bar, us in enumerate(told, start=1)
        )
        data = "".join(lines).encode()
        tempo = tempo_of(data, path=Path("drawn.txt"), metre=f"{beats}/{note}")
        grid = _grid(tempo, RATES[-1])
        for bar, us in enumerate(told, start=1):
            worst = max(worst, abs(grid.frame(bar) - Fraction(us * RATES[-1], 10**6)))
        count += len(told)
    name = f"96 kHz: {count} labelled bar lines off by at most"
    report.figure(name, _off(worst), "0.5 frame", worst <= 0.5)


def _quick(read: list[TempoMap]) -> None:
    random = Random(1)  # noqa: S311
    began = perf_counter()
    grid = _grid(read[0], 48_000)
    built = perf_counter() - began
    frames = [random.randrange(MINUTES * 60 * 48_000) for _ in range(LOOKUPS)]
    began = perf_counter()
    for frame in frames:
        grid.beat_at(frame)
    each = (perf_counter() - began) / LOOKUPS
    report.figure("a map laid on frames in", f"{1000 * built:.1f} ms")
    report.figure("a frame's beat is found in", f"{1e6 * each:.1f} µs", "under 50 µs", each < 50e-6)


# ------------------------------------------------------------------ drawing and writing


def _drawn(random: Random, *, every: int = EVERY_BARS) -> Truth:
    """Return a map whose tempi fill the minutes, with every beat and bar of them."""
    us = [random.randint(333_333, 1_000_000) for _ in range(CHANGES)]
    each = MINUTES * 60 * 10**6 / CHANGES
    tempos, tick = [], 0
    for one in us:
        tempos.append((tick, one))
        tick += round(random.uniform(0.5, 1.5) * each / one * TICKS)
    metres, beats, bars, at = [], [], [], 0
    while at < tick:
        if len(bars) % every == 0:
            choices = [one for one in METRES if not metres or one != metres[-1][1]]
            metres.append((at, random.choice(choices)))
        bars.append(len(beats))
        count, note = metres[-1][1]
        beats += [at + k * TICKS * 4 // note for k in range(count)]
        at += count * TICKS * 4 // note
    return Truth(tuple(tempos), tuple(metres), tuple(beats), tuple(bars))


def _written(truth: Truth) -> bytes:
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS)
    fast = [(at, mido.MetaMessage("set_tempo", tempo=us)) for at, us in truth.tempos]
    bars = [
        (at, mido.MetaMessage("time_signature", numerator=beats, denominator=note))
        for at, (beats, note) in truth.metres
    ]
    for told in (fast, bars):
        track, now = file.add_track(), 0
        for at, message in told:
            track.append(message.copy(time=at - now))
            now = at
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def _is_same(truth: Truth, read: TempoMap) -> bool:
    tempos = [(int(one.at * TICKS), int(one.quarter_s * 10**6)) for one in read.tempos]
    metres = [(int(one.at * TICKS), (one.metre.beats, one.metre.note)) for one in read.metres]
    return tempos == list(truth.tempos) and metres == list(truth.metres)


def _grid(tempo: TempoMap, rate: int) -> BarGrid:
    grid = bar_grid(
        Song(name="drawn", tempo_file="drawn"), tempo=tempo, time_reference=0, rate=rate
    )
    if grid is None:
        raise RuntimeError("a map without a grid")
    return grid


if __name__ == "__main__":
    main()
