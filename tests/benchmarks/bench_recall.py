"""A recall sheet of twelve keepers of five minutes: how long it takes, and how large it is.

Three parts of one song, four keepers each, two microphones, an original a part; 24 bits at 48 kHz, on the
disk's cache. DIs are notes of noise every third of a second; a recording is its DI, bent. Makes the sheet
as the program does, with a worker of its own. Needs 1.5 GB of disk for a moment.
"""

from __future__ import annotations

import hashlib
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import report
import soundfile

sys.path.insert(0, str(Path(__file__).parents[1]))

from msgspec.structs import replace
from unit.session_cases import facts_of, noon, variant
from unit.sheet_cases import microphone

from audio.jobs.recall import make_sheet
from audio.session import passes, records
from audio.session.folder import create
from audio.session.opened import Session
from audio.session.opinions import say
from audio.vocab.variant import ChainAsSet, DiUsed
from audio.work.client import Worker

RATE, PARTS, KEEPERS, MINUTES = 48_000, 3, 4, 5
GOAL_S, GOAL_MB = 60.0, 4.0
CHAIN = {"pedals": [{"name": "drive", "knobs": {"gain": "2:30"}}]}


def main() -> None:
    """Make the session, then the sheet, and print figure beside goal."""
    parser = report.options(__doc__)
    minutes = 0.5 if parser.parse_args().short else MINUTES
    count = PARTS * KEEPERS
    report.conditions(f"{count} keepers of 2 microphones, {minutes:g} minutes at {RATE} Hz")
    with tempfile.TemporaryDirectory() as folder:
        session = _session(Path(folder), frames=round(60 * minutes * RATE))
        sounds = [(f"part-{p}", k + 1) for p in range(PARTS) for k in range(KEEPERS)]
        to, began = Path(folder) / "recall.html", time.perf_counter()
        with Worker() as worker:
            made = make_sheet(
                session,
                worker,
                sounds,
                to=to,
                name="bench-001",
                say=lambda words: print(f"{time.perf_counter() - began:5.1f} s  {words}"),
                stop=lambda: False,
            )
        took, size = time.perf_counter() - began, to.stat().st_size / 1e6
    if made.left_out:
        raise SystemExit(f"left out: {made.left_out}")
    report.figure("the whole sheet", f"{took:.1f} s", f"under {GOAL_S:g} s", took < GOAL_S)
    report.figure("the page", f"{size:.2f} MB", f"under {GOAL_MB:g} MB", size < GOAL_MB)


def _session(folder: Path, *, frames: int) -> Session:
    session = create(folder / "evening", name="evening", song="tide", bpm=120.0, metre="4/4")
    for part in range(PARTS):
        name, di = f"part-{part}", _notes(part, frames)
        source = _written(folder / f"{name}.wav", di)
        session = session.add_part(source=source, facts=facts_of(source), name=name, clock=noon)
        bent = np.tanh(8.0 * di) / 3.0
        original = _written(folder / "original.wav", np.roll(bent, 130))
        session = session.add_original(
            name, source=original, facts=facts_of(original), name="close", clock=noon
        )
        for _ in range(KEEPERS):
            _keep(session, name, bent)
    return session


def _keep(session: Session, part: str, bent: np.ndarray) -> None:
    claim = passes.claim(session, part, clock=noon)
    files = []
    for number, name in enumerate(("close", "room"), start=2):
        path = _written(claim.folder / f"{name}.wav", bent / number)
        relative = path.relative_to(session.folder).as_posix()
        sha256 = hashlib.sha256(name.encode()).hexdigest()
        files.append(microphone(name, number, path=relative, frames=bent.size, audio_sha256=sha256))
    file = session.part(part)[1].revisions[0].file
    di = DiUsed(path=file, channel=1, file_sha256="", frames=bent.size, peak_dbfs=-6.0)
    known = variant(claim.number, part=part)
    chain = ChainAsSet(name="crunch", content=CHAIN)
    made = replace(known, files=tuple(files), di=di, chain=chain, time_reference=0)
    made = replace(made, opening_click=known.opening_click * 2)
    records.write_variant(claim.folder, made)
    say(session, part, claim.number, keeper=True, clock=noon)


def _notes(seed: int, frames: int) -> np.ndarray:
    rng, note = np.random.default_rng(seed), RATE // 3
    decay = np.exp(-8.0 * np.arange(note) / RATE)
    whole = 0.1 * rng.standard_normal(-(-frames // note) * note).reshape(-1, note) * decay
    return whole.ravel()[:frames]


def _written(path: Path, sound: np.ndarray) -> Path:
    soundfile.write(path, np.clip(sound, -1.0, 1.0), RATE, subtype="PCM_24")
    return path


if __name__ == "__main__":
    main()
