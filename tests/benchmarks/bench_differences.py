"""Two sounds of one part: what is told of planted differences, what is told of none, how long it takes.

Rooms, pedals and cabinets follow from seeds nobody tuned on (31 000 on); each plant is put into the second
of two takes of one room. Told is what stands in the words an engineer reads. Levels, corners and gains are
compared with what was planted; words about what was not planted are counted. Time and memory are those of
a process of its own that computes on one thread, as the worker does; the fastest of three counts, for
whatever else the machine does only adds.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import msgspec
import numpy as np
import pyloudnorm
import report
import soundfile
from difference_plants import REVERB_UNDER_DB, Pair, Plant, pair
from likeness_rooms import RATE, Floats

from audio.measure.differences import differences
from audio.measure.heard_sound import RunningDi, RunningSound
from audio.measure.rings import FALL_DB
from audio.verdict.difference_thresholds import LONGER_S
from audio.verdict.differences import NOTHING, words
from audio.vocab.children import environment
from audio.vocab.differences import Differences
from audio.vocab.layers import Layer
from audio.vocab.requests import Differ

FIRST_SEED = 31_000
LONG_S = 300.0
GOAL_S = 3.0
GOAL_MB = 300.0

MEASURE = """
import pathlib, sys, time
import msgspec
from audio.vocab.requests import Differ
from audio.work.differing import differ
def resident(what):
    told = pathlib.Path("/proc/self/status").read_text().split(what + ":")[1]
    return int(told.split()[0]) / 1000
asked = msgspec.json.decode(sys.stdin.buffer.read(), type=Differ)
differ(msgspec.structs.replace(asked, frames=48_000))  # what is imported late is imported now
pathlib.Path("/proc/self/clear_refs").write_text("5")  # the largest resident set so far is forgotten
before, spent = resident("VmRSS"), []
for _ in range(3):
    began = time.perf_counter()
    differ(asked)
    spent.append(time.perf_counter() - began)
print([min(spent), resident("VmHWM") - before])
"""


def main() -> None:
    """Print the figures."""
    parser = report.options(__doc__)
    parser.add_argument("--first-seed", type=int, default=FIRST_SEED)
    parser.add_argument("--rooms", type=int, default=40)
    said = parser.parse_args()
    count = 4 if said.short else said.rooms
    report.conditions(f"{count} rooms for each plant, from seed {said.first_seed}")
    seeds = range(said.first_seed, said.first_seed + count)
    for plant in ("nothing", "slow tremolo"):
        _silent(plant, seeds)
    _level(seeds)
    _filters("shelf", seeds)
    _filters("bell", seeds)
    _share("echo", seeds, "told as such, to 3 ms", _is_the_echo, 0.9)
    _share("tail", seeds, "told as a longer tail where it is one", _tail_is_fair, 0.95)
    _share("noise", seeds, "told as noisier or as hum's", _is_noisier, 0.9)
    _share("noise", seeds, "nothing of tone, echo or tail told", _is_of_noise_alone, 0.95)
    _share("drive", seeds, "never told as noise, echo or tail", _is_no_other, 0.95)
    _time(10.0 if said.short else LONG_S)


def compared(one: Pair) -> Differences:
    """Return what is measured of a pair, in pieces as the worker reads."""
    di, a, b = RunningDi(rate=RATE), RunningSound(rate=RATE), RunningSound(rate=RATE)
    for at in range(0, one.di.size, 4 * RATE):
        part = slice(at, at + 4 * RATE)
        di.feed(one.di[part])
        a.feed(one.a[part])
        b.feed(one.b[part])
    return differences(di, a, b, rate=RATE, from_frame=0, frames=one.di.size)


def _silent(plant: Plant, seeds: range) -> None:
    false = [line for seed in seeds if (line := words(compared(pair(seed, plant)))) != (NOTHING,)]
    report.figure(
        f"{plant}: pairs of which something is told",
        f"{len(false)} of {len(seeds)}",
        "none",
        not false,
    )
    for line in false:
        report.figure(f"    {'; '.join(line)}", "")


def _level(seeds: range) -> None:
    pairs = [pair(seed, "level") for seed in seeds]
    found = [compared(one) for one in pairs]
    meter = pyloudnorm.Meter(RATE)  # two takes through a tremolo differ by themselves
    truth = [meter.integrated_loudness(one.b) - meter.integrated_loudness(one.a) for one in pairs]
    off = [
        abs((told.loudness.db if told.loudness else np.inf) - db)
        for db, told in zip(truth, found, strict=True)
    ]
    report.figure("level: worst, by pyloudnorm", f"{max(off):.3f} dB", "0.1 dB", max(off) <= 0.1)
    alone = sum(len(words(told)) == 1 for told in found)
    report.figure("level: told alone", f"{alone} of {len(off)}", "all", alone == len(off))


def _filters(plant: Plant, seeds: range) -> None:
    gains, octaves, single = [], [], 0
    for seed in seeds:
        one = pair(seed, plant)
        shapes = compared(one).shapes
        kinds = ("around",) if plant == "bell" else ("above", "below")
        fits = [shape for shape in shapes if shape.kind in kinds]
        single += len(shapes) == len(fits) == 1
        if not fits:
            gains.append(abs(one.db))
            continue
        shape = fits[0]
        up = -shape.apart.db if shape.kind == "below" else shape.apart.db
        planted = -one.db if one.low else one.db
        gains.append(abs(up - planted))
        octaves.append(abs(np.log2((shape.hz or one.hz) / one.hz)))
    nearly = float(np.quantile(gains, 0.9))
    report.figure(f"{plant}: told as the one shape it is", f"{single} of {len(seeds)}")
    report.figure(f"{plant}: gain, 9 in 10 within", f"{nearly:.2f} dB", "0.5 dB", nearly <= 0.5)
    place = float(np.quantile(octaves, 0.9))
    report.figure(f"{plant}: place, 9 in 10 within", f"{place:.2f} octaves", "0.33", place <= 1 / 3)


def _share(
    plant: Plant, seeds: range, what: str, holds: Callable[[Pair, Differences], bool], goal: float
) -> None:
    pairs = (pair(seed, plant) for seed in seeds)
    share = float(np.mean([holds(one, compared(one)) for one in pairs]))
    report.figure(f"{plant}: {what}", f"{share:.0%}", f"{goal:.0%} or more", share >= goal)


def _is_the_echo(one: Pair, told: Differences) -> bool:
    echo = told.b.echo
    return echo is not None and abs(echo.repeat_ms - one.ms) <= 3.0


def _tail_is_fair(one: Pair, told: Differences) -> bool:
    """Return whether a longer tail is told; nothing of it where none can be told, or none was gained.

    A reverb so far under what it repeats, 60 dB down after so long, is 30 dB down after `falls_s`; a sound
    that rings as long by itself gains nothing by it.
    """
    said = " ".join(words(told))
    falls_s = (FALL_DB - REVERB_UNDER_DB) / 60.0 * one.ms / 1000.0
    own_s = told.a.rings.falls_s
    is_gained = own_s is not None and falls_s > own_s + LONGER_S
    is_measured = told.rings_longer_s is not None and told.a.echo is None
    return "shorter tail" not in said and ("longer tail" in said or not (is_measured and is_gained))


def _is_noisier(_: Pair, told: Differences) -> bool:
    said = " ".join(words(told))
    return "nois" in said or "hum" in said or told.a.noise_dbfs is None


def _is_of_noise_alone(_: Pair, told: Differences) -> bool:
    return all("nois" in line or "hum" in line or line == NOTHING for line in words(told))


def _is_no_other(_: Pair, told: Differences) -> bool:
    said = " ".join(words(told))
    return not any(word in said for word in ("echo", "tail"))


def _time(seconds: float) -> None:
    """Print how long two mixes of two microphones take, from files."""
    one = pair(1, "shelf")
    frames = round(seconds * RATE)
    with tempfile.TemporaryDirectory() as folder:
        sounds = {"di": one.di, "a1": one.a, "a2": one.a, "b1": one.b, "b2": one.b}
        layers = {
            name: _written(Path(folder), name, sound, frames) for name, sound in sounds.items()
        }
        asked = Differ(
            di=layers["di"], a=(layers["a1"], layers["a2"]), b=(layers["b1"], layers["b2"])
        )
        told = subprocess.run(
            [sys.executable, "-c", MEASURE],
            env=environment(),
            input=msgspec.json.encode(asked),
            check=True,
            capture_output=True,
        ).stdout
    took, more = json.loads(told)
    report.figure(
        f"{seconds:g} s, two microphones each",
        f"{took:.2f} s",
        f"under {GOAL_S:g} s",
        took < GOAL_S,
    )
    report.figure(
        "    memory beyond imports, at most", f"{more:.0f} MB", f"{GOAL_MB:g} MB", more < GOAL_MB
    )


def _written(folder: Path, name: str, sound: Floats, frames: int) -> Layer:
    path = folder / f"{name}.wav"
    with soundfile.SoundFile(path, "w", RATE, 1, "PCM_24") as file:
        left = frames
        while left > 0:
            file.write(sound[:left])
            left -= sound.size
    return Layer(name=name, path=str(path), channel=0, at_frame=0)


if __name__ == "__main__":
    main()
