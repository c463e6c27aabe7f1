"""Fifty keepers handed over, against a plain copy of the same bytes.

Fifty variants of two microphones, two minutes each, 24 bits at 48 kHz, noise. Handed over are the files,
the list and the checksums, by the worker the program uses, until everything has reached the disk. The plain
copy takes the same files one after another (`shutil.copyfile`) and then waits for the disk in the same way;
it proves nothing and writes no checksum. Both in turn, three times each, in one run; the middle one counts.
How fast one core takes a SHA-256 stands beside it: a hand-over takes two of each byte, of the recording and
of the file.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from pathlib import Path
from statistics import median
from time import perf_counter

import numpy as np
import report
from handed import evening, keep, left

from audio.files import platform
from audio.files.wave import DATA_AT, WaveFormat, parse_header, sized
from audio.jobs.handing.handing import hand_over
from audio.session.opened import Session
from audio.vocab.handover import HandoverAsked
from audio.work.client import Worker

KEEPERS = 50
SECONDS = 120
GOAL_RATIO = 1.5
TURNS = 3


def main() -> None:
    """Hand over and copy in turn; print figure beside goal."""
    short = report.options(__doc__).parse_args().short
    keepers, seconds = (5, 10) if short else (KEEPERS, SECONDS)
    report.conditions(f"{keepers} keepers of two microphones, {seconds} s each")
    with tempfile.TemporaryDirectory() as folder, Worker() as worker:
        session, sources = _session(Path(folder), keepers, seconds)
        size = sum(one.stat().st_size for one in sources)
        handed, copied = [], []
        for turn in range(TURNS):
            os.sync()
            handed.append(_handed(session, worker, Path(folder, f"handed-{turn}")))
            os.sync()
            copied.append(_copied(sources, Path(folder, f"copied-{turn}")))
    mb = size / 1e6
    report.figure("bytes", f"{mb:.0f} MB")
    report.figure("one SHA-256", f"{_hash_speed():.0f} MB/s")
    report.figure("plain copy", f"{median(copied):.2f} s, {mb / median(copied):.0f} MB/s")
    report.figure("handed over", f"{median(handed):.2f} s, {mb / median(handed):.0f} MB/s")
    ratio = median(handed) / median(copied)
    report.figure("ratio", f"{ratio:.2f}", f"under {GOAL_RATIO:g}", ratio < GOAL_RATIO)


def _session(folder: Path, keepers: int, seconds: int) -> tuple[Session, list[Path]]:
    """Return a session with so many keepers, and their files; of all the same noise, begun elsewhere."""
    session = evening(folder)
    noise = np.random.default_rng(5).integers(0, 256, 48_000 * 3 * seconds, dtype=np.uint8)
    sources = []
    for number in range(keepers):
        keep(session, left(session, seed=number))
        for path in sorted(session.folder.glob(f"passes/*/{number + 1:03d}/*.wav")):
            _lengthen(path, np.roll(noise, 997 * len(sources)).tobytes(), session)
            sources.append(path)
    return session, sources


def _lengthen(path: Path, data: bytes, session: Session) -> None:
    """Give a recording other samples, and its variant what is true of them."""
    header = path.read_bytes()[:DATA_AT]
    fmt: WaveFormat = parse_header(header)[0]
    frames = len(data) // fmt.frame_bytes
    was = hashlib.sha256(
        path.read_bytes()[DATA_AT:][: _frames(header) * fmt.frame_bytes]
    ).hexdigest()
    path.write_bytes(sized(header, frames) + data)
    variant = path.parent / "variant.json"
    text = variant.read_text().replace(was, hashlib.sha256(data).hexdigest())
    variant.write_text(text.replace(f'"frames": {_frames(header)}', f'"frames": {frames}'))
    assert session.folder in path.parents


def _frames(header: bytes) -> int:
    return parse_header(header)[1]


def _handed(session: Session, worker: Worker, to: Path) -> float:
    began = perf_counter()
    done = hand_over(
        session,
        worker,
        HandoverAsked(sheet=False, page=False),
        out=to,
        shown=lambda _: None,
        stop=lambda: False,
    )
    spent = perf_counter() - began
    assert not done.left_out, done.left_out[0]
    shutil.rmtree(to)
    return spent


def _copied(sources: list[Path], to: Path) -> float:
    began = perf_counter()
    to.mkdir()
    targets = [to / one.name for one in sources]
    for one, target in zip(sources, targets, strict=True):
        shutil.copyfile(one, target)
    for target in targets:
        fd = os.open(target, os.O_RDWR)
        platform.sync_data(fd)
        os.close(fd)
    platform.sync_folder(to)
    spent = perf_counter() - began
    shutil.rmtree(to)
    return spent


def _hash_speed() -> float:
    data = bytes(1 << 26)
    began = perf_counter()
    hashlib.sha256(data).digest()
    return len(data) / 1e6 / (perf_counter() - began)


if __name__ == "__main__":
    main()
