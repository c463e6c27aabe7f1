"""A long pass, by the program itself: memory flat, files nothing but audio, hashes right, no frame lost.

``--jack`` plays over a private JACK server in real time (10 minutes, 8 returns, 48 kHz), ``--simulated`` in
the simulated room as fast as it runs (60 minutes, 8 returns, 96 kHz: 8 GB under the temporary folder). Both
take ``--minutes``, ``--returns`` and ``--rate``. Resident memory of face, engine and worker is looked at
ten times a second from ten seconds of recording to the verdict. The simulated room has four microphones:
the further returns hear its noise, and the verdict says so.

Goals: while it rolls, face and engine grow by less than 5 MB, the worker by 400 bytes more for each second
of each return, of which it keeps some forty numbers; files hold their header and their frames; the hash in
``variant.json`` is that of the data chunk; no place where frames were lost.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import report
import soundfile
from jackroom import rig, spec
from playing import phrase
from processes import MB, descendants, rss_bytes, runs

from audio.vocab.wiring import Microphone, Return, SimulatedDevice, Wiring
from audio.vocab.wiring_text import wiring_text


@dataclass
class Held:
    """Resident memory of a process, look after look, bytes."""

    rolling: list[int] = field(default_factory=list)
    judging: list[int] = field(default_factory=list)


COMMAND = Path(sys.executable).with_name("secondpass")
PART = "long"
HEADER = 4096
FROM_S = 10.0
EVERY_S = 0.1
GROWS_MB = 5.0
NOTED_BYTES = 400.0
"""What the worker may keep of each second of each return: some forty numbers."""

MICROPHONES = 4
"""The most the simulated room takes; further returns hear its noise."""

_ONCE_S = 30.0
"""A long DI is a phrase of this length over and over."""


def main() -> None:
    """Play the pass and print the figures."""
    parser = report.options(__doc__)
    where = parser.add_mutually_exclusive_group(required=True)
    where.add_argument("--jack", action="store_true")
    where.add_argument("--simulated", action="store_true")
    parser.add_argument("--minutes", type=float)
    parser.add_argument("--returns", type=int, default=8)
    parser.add_argument("--rate", type=int)
    said = parser.parse_args()
    said.minutes = 0.5 if said.short else said.minutes or (10.0 if said.jack else 60.0)
    said.rate = said.rate or (48_000 if said.jack else 96_000)
    with TemporaryDirectory(prefix="secondpass-long-") as folder:
        _check_room(Path(folder), said)
        with _over_jack(said) if said.jack else _simulated(said) as text:
            session = _session(Path(folder), text, said)
            report.conditions(
                f"{'over JACK' if said.jack else 'simulated room at free pace'}, {said.minutes:g} minutes,"
                f" {said.returns} returns at {said.rate} Hz"
            )
            measure(session, said)


def _check_room(folder: Path, said: argparse.Namespace) -> None:
    needed = (said.returns + 2) * said.minutes * 60.0 * said.rate * 3
    free = shutil.disk_usage(folder).free
    if free < 1.2 * needed:
        sys.exit(f"{folder} has {free / 1e9:.1f} GB left, this needs {1.2 * needed / 1e9:.1f} GB")


# ---------------------------------------------------------------- the rooms


@contextmanager
def _over_jack(said: argparse.Namespace) -> Iterator[str]:
    paths = tuple(
        spec.Path(output=3, input=n, delay_frames=131.0 + 40 * n, gain=0.5, noise_rms=1e-4)
        for n in range(1, said.returns + 1)
    )
    with rig.jack_room(rate=said.rate, period=512, paths=paths, inputs=said.returns) as room:
        os.environ.update(room.env)
        yield room.wiring_text()


@contextmanager
def _simulated(said: argparse.Namespace) -> Iterator[str]:
    numbers = range(1, said.returns + 1)
    room = SimulatedDevice(
        pace="free",
        inputs=said.returns,
        outputs=4,
        microphones=tuple(
            Microphone(input=n, distance_cm=5.0 * n, cabinet="none") for n in numbers[:MICROPHONES]
        ),
    )
    yield wiring_text(
        Wiring(
            name="long",
            device=room,
            sample_rate=said.rate,
            send_output=3,
            returns=tuple(Return(name=f"mic {n}", input=n) for n in numbers),
            reference="mic 1",
        )
    )


def _session(folder: Path, text: str, said: argparse.Namespace) -> Path:
    di, wiring, session = folder / f"{PART}.wav", folder / "wiring.yaml", folder / "session"
    wiring.write_text(text)
    once = phrase(rate=said.rate, seconds=_ONCE_S, seed=1, peak_dbfs=-6.0)
    left = round(said.minutes * 60.0 * said.rate)
    with soundfile.SoundFile(di, "w", said.rate, 1, "PCM_24") as file:
        while left > 0:
            file.write(once[:left])
            left -= len(once)
    words = ["new", session, "--di", di, "--wiring", wiring]
    subprocess.run([COMMAND, *words], check=True, stdout=subprocess.DEVNULL)
    di.unlink()  # the session holds a copy
    return session


# ---------------------------------------------------------------- the pass


def measure(session: Path, said: argparse.Namespace) -> None:
    """Run the pass, look on, and print what there is to see."""
    begun = time.monotonic()
    words = ["pass", session, "--part", PART, "--chain", "bare path", "--json"]
    face = subprocess.Popen(
        [COMMAND, *words], stdout=subprocess.PIPE, stderr=(session / "said").open("wb")
    )
    held = look_on(face, session / "passes" / PART / "001", said)
    assert face.stdout is not None
    answer = face.stdout.read()
    if not answer:
        sys.exit(f"no pass: {(session / 'said').read_text()}")
    variant = json.loads(answer)
    took = time.monotonic() - begun
    report.figure(
        "the whole pass took", f"{took:.0f} s, {said.minutes * 60.0 / took:.1f} x real time"
    )
    say_memory(held, said)
    say_files(session, variant)


def look_on(
    face: subprocess.Popen[bytes], folder: Path, said: argparse.Namespace
) -> dict[str, Held]:
    """Return the resident memory of each process while the pass is recorded and judged."""
    held = {name: Held() for name in ("face", "engine", "worker")}
    enough = HEADER + FROM_S * said.rate * 3
    while face.poll() is None:
        takes = list(folder.glob(f"{PART}_*.wav"))
        if takes and takes[0].stat().st_size > enough:
            over = (folder / "roll.json").exists()
            for pid in descendants(face.pid):
                names = (n for n, module in _MODULES.items() if runs(pid, module))
                name = next(names, "face" if pid == face.pid else None)
                if name is not None and (size := rss_bytes(pid)):
                    (held[name].judging if over else held[name].rolling).append(size)
        time.sleep(EVERY_S)
    return held


_MODULES = {"engine": "audio.engine.process", "worker": "audio.work.process"}


def say_memory(held: dict[str, Held], said: argparse.Namespace) -> None:
    """Print what each process held first, last and at most while it rolled, and at most afterwards."""
    for name, sizes in held.items():
        first, last, peak = (
            size / MB for size in (sizes.rolling[0], sizes.rolling[-1], max(sizes.rolling))
        )
        goal = GROWS_MB
        if name == "worker":
            goal += NOTED_BYTES / MB * said.returns * said.minutes * 60.0
        report.figure(
            f"{name} while it rolls: first, last, peak",
            f"{first:.1f}, {last:.1f}, {peak:.1f} MB",
            f"grows under {goal:.1f} MB",
            peak - first < goal,
        )
        report.figure(f"{name} afterwards: peak", f"{max(sizes.judging, default=0) / MB:.1f} MB")


def say_files(session: Path, variant: dict[str, Any]) -> None:
    """Print what the pass left on disk."""
    folder = session / "passes" / PART / "001"
    paths = [session / one["path"] for one in variant["files"]]
    over = [
        p.stat().st_size - HEADER - 3 * f["frames"]
        for p, f in zip(paths, variant["files"], strict=True)
    ]
    report.figure(
        "largest file, most beside header and frames",
        f"{max(p.stat().st_size for p in paths) / 1e9:.2f} GB, {max(over)} bytes",
        "a pad byte", min(over) >= 0 and max(over) <= 1,
    )  # fmt: skip
    rest = [p for p in folder.rglob("*") if p.is_file() and p not in paths]
    sizes = ", ".join(f"{p.name} {p.stat().st_size / 1e3:.0f} kB" for p in sorted(rest))
    report.figure(
        "everything else in the folder", f"{sum(p.stat().st_size for p in rest) / MB:.2f} MB"
    )
    print(f"      {sizes}", flush=True)
    forms = {p.open("rb").read(4).decode() for p in paths}
    report.figure("form of the files", ", ".join(sorted(forms)))
    right = sum(
        _data_hash(p, f["frames"]) == f["audio_sha256"]
        for p, f in zip(paths, variant["files"], strict=True)
    )
    report.figure(
        "hashes that are those of the data chunk",
        f"{right} of {len(paths)}",
        "all",
        right == len(paths),
    )
    judged = (folder / "variant.json").stat().st_mtime - (folder / "roll.json").stat().st_mtime
    report.figure("last frame to verdict, closing click included", f"{judged:.1f} s")
    findings = ", ".join(one["code"] for one in variant["findings"]) or "no findings"
    report.figure(
        "places where frames were lost", str(len(variant["dropouts"])), "0", not variant["dropouts"]
    )
    report.figure("verdict", f"{variant['verdict']}: {findings}")


def _data_hash(path: Path, frames: int) -> str:
    found, left = hashlib.sha256(), 3 * frames
    with path.open("rb") as file:
        file.seek(HEADER)
        while left:
            piece = file.read(min(left, 1 << 22))
            if not piece:
                return "cut short"
            found.update(piece)
            left -= len(piece)
    return found.hexdigest()


if __name__ == "__main__":
    main()
