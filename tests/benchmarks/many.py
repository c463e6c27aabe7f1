"""A session of thousands of variants: one pass really played, the others told after it.

Every pass folder has the files a pass leaves: order, the engine's record, recordings (headers without
sound, which nothing here listens to), clicks, lock and variant; the journal has their lines. Parts,
numbers, chains, times, levels, verdicts and findings differ from pass to pass and follow from the seed.
Of every variant something was said eight times: ratings, words, photos, other names, corrected chains, some
discarded; so the journal has ten lines for each.
"""

from __future__ import annotations

import json
import os
import queue
import random
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import msgspec
import soundfile
from material import write_long_di
from session import simulated_wiring

from audio.jobs import news
from audio.jobs.orders import OpenStream, RunPass
from audio.jobs.rolls import following
from audio.jobs.runner import Runner
from audio.jobs.sessions import new_session
from audio.session import layout, records
from audio.session.opened import Session
from audio.vocab.findings import Finding, Verdict
from audio.vocab.variant import Variant
from audio.vocab.wiring_text import wiring_text
from audio.work.client import Worker

SECONDS = 4.0
FIRST = datetime.fromisoformat("2026-11-02T10:00:00+01:00")
LONGEST_S = 120.0

SAID_EACH = 8
"""Lines of the journal in which something is said of a variant, besides those of its pass."""

FINDINGS: tuple[tuple[Verdict, str, str], ...] = (
    ("good", "The chain adds 1.4 ms, which was removed.", ""),
    ("look", "mic 2 is 3.4 dB quieter than earlier passes.", "Compare the preamp with the last pass."),
    ("look", "mic 3 clipped in 2 places.", "Listen to those places; turn its preamp down."),
    ("redo", "mic 1 silent from 0:02: cable, fuse or standby.", "Check the speaker cable first."),
)  # fmt: skip


@dataclass(frozen=True)
class Shape:
    """How many there are of what."""

    parts: int
    chains: int
    each: int
    """Variants of one part through one chain."""

    @property
    def variants(self) -> int:
        """All of them."""
        return self.parts * self.chains * self.each

    @classmethod
    def of(cls, variants: int, *, parts: int) -> Shape:
        """Return about so many variants, through 25 chains."""
        return cls(parts=parts, chains=25, each=max(round(variants / (parts * 25)), 1))


def chain_name(number: int) -> str:
    """Return what the chain of a number, from 0, is called."""
    return f"chain {number + 1:02d}, drive into room"


def part_name(number: int) -> str:
    """Return what the part of a number, from 0, is called."""
    return f"part-{number + 1:02d}"


def played_session(folder: Path, shape: Shape) -> Session:
    """Make a session of so many parts, and play one pass of the first through the first chain."""
    dis = tuple(folder / f"{part_name(n)}.wav" for n in range(shape.parts))
    write_long_di(dis[0], seconds=SECONDS)
    for one in dis[1:]:
        shutil.copy(dis[0], one)
    wiring = folder / "wiring.yaml"
    wiring.write_text(wiring_text(simulated_wiring(paced=False)))
    with Worker() as worker:
        session, _ = new_session(
            folder / "session",
            dis=dis,
            channel=1,
            wiring_path=wiring,
            song=None,
            bpm=None,
            metre=None,
            worker=worker,
        )
    play(session.folder, part=part_name(0), chain=chain_name(0))
    return session


def play(folder: Path, *, part: str, chain: str) -> Variant:
    """Play one pass as the screen does, and return what it left."""
    told: queue.SimpleQueue[Any] = queue.SimpleQueue()
    runner = Runner(folder, program="secondpass open")
    try:
        runner.start(told.put)
        runner.ask(OpenStream())
        runner.ask(RunPass(part=part, chain=chain))
        while not isinstance(one := told.get(timeout=LONGEST_S), news.PassDone):
            assert not isinstance(one, news.Trouble), one
        return one.variant
    finally:
        runner.close()


def measured_first(session: Session) -> bytes:
    """Return what the worker measures of the pass that was played, as JSON."""
    order = records.read_order(layout.pass_folder(session.folder, part_name(0), 1))
    with Worker() as worker:
        worker.follow(following(session, order))
        return msgspec.json.encode(worker.finish(order.number))


def fill(session: Session, shape: Shape, *, seed: int) -> None:
    """Add all passes that the session's shape lacks, in the order an evening would have made them."""
    draw = random.Random(seed)  # noqa: S311 - no secrets
    talk = random.Random(seed + 1)  # noqa: S311 - the same
    first = layout.pass_folder(session.folder, part_name(0), 1)
    model = _Model.of(first)
    _empty_recordings(first)
    with layout.journal(session.folder).open("a") as journal:
        for at, (part, number, chain) in enumerate(_passes(shape, draw)):
            if (part, number) != (part_name(0), 1):
                made_at = (FIRST + timedelta(minutes=3 * at)).isoformat(timespec="seconds")
                same = {"part": part, "number": number, "made_at": made_at}
                variant = _write(session.folder, model, draw, chain, same)
                journal.writelines(_noted(variant))
                journal.writelines(_said(variant, talk))


def _passes(shape: Shape, draw: random.Random) -> Iterator[tuple[str, int, str]]:
    for part in map(part_name, range(shape.parts)):
        chains = [chain_name(n) for n in range(shape.chains) for _ in range(shape.each)]
        first, rest = chains[0], chains[1:]
        draw.shuffle(rest)
        for number, chain in enumerate([first, *rest], start=1):
            yield part, number, chain


@dataclass(frozen=True)
class _Model:
    """What the pass that was played left."""

    folder: Path
    order: dict[str, Any]
    roll: bytes
    variant: Variant
    names: tuple[str, ...]
    """Of its files that are not JSON."""

    @classmethod
    def of(cls, folder: Path) -> _Model:
        """Read them."""
        return cls(
            folder=folder,
            order=json.loads(layout.order_json(folder).read_bytes()),
            roll=layout.roll_json(folder).read_bytes(),
            variant=records.read_variant(folder),
            names=tuple(sorted(p.name for p in folder.iterdir() if p.suffix != ".json")),
        )


def _empty_recordings(folder: Path) -> None:
    """Leave the headers of a pass's recordings and take the sound: thousands share one file each."""
    for path in folder.glob("*.wav"):
        with soundfile.SoundFile(path) as file:
            channels, rate = file.channels, file.samplerate
        path.unlink()
        soundfile.SoundFile(path, "w", rate, channels, "PCM_24").close()


def _write(
    where: Path, model: _Model, draw: random.Random, chain: str, same: dict[str, Any]
) -> Variant:
    """Write the folder of one pass; return its variant."""
    part, number = same["part"], same["number"]
    folder = layout.pass_folder(where, part, number)
    folder.mkdir(parents=True, exist_ok=True)
    old, new = f"{model.variant.part}_001_", f"{part}_{number:03d}_"
    for name in model.names:
        os.link(model.folder / name, folder / name.replace(old, new))
    paths = [
        (folder.relative_to(where) / Path(path).name.replace(old, new)).as_posix()
        for path in model.order["paths"]
    ]
    chained = {"name": chain, "content": {}}
    order = model.order | same | {"chain": chained, "paths": paths}
    layout.order_json(folder).write_text(json.dumps(order, indent=2) + "\n")
    layout.roll_json(folder).write_bytes(model.roll.replace(b"/001/", b"/%03d/" % number))
    variant = _variant(model.variant, draw, paths, **same, chain=chained)
    layout.variant_json(folder).write_bytes(
        msgspec.json.format(msgspec.json.encode(variant), indent=2) + b"\n"
    )
    return variant


def _noted(variant: Variant) -> Iterator[str]:
    """Yield the lines of a pass in the journal."""
    for event, more in (("claimed", {}), ("judged", {"verdict": variant.verdict})):
        line = {"at": variant.made_at, "event": event}
        yield json.dumps(line | {"part": variant.part, "number": variant.number} | more) + "\n"


def _said(variant: Variant, draw: random.Random) -> Iterator[str]:
    """Yield lines in which something is said of a variant."""
    for at in range(SAID_EACH):
        said: dict[str, Any] = draw.choice((
            {"rating": draw.randint(1, 5)},
            {"rating": draw.randint(1, 5), "words": f"too much of it at {at}, fits the chorus"},
            {"words": "warm, a bit slow; the room microphone could stand nearer"},
            {"photo": f"IMG_{draw.randint(0, 9999):04d}.jpg"},
            {"called": f"the one of take {at}"},
            {"chain": chain_name(draw.randrange(25)), "chain_content": {"pedals": [{"name": "fuzz"}]}},
            {"discarded": draw.random() < 0.3},
        ))  # fmt: skip
        line = {"at": variant.made_at, "event": "said", "part": variant.part}
        yield json.dumps(line | {"number": variant.number} | said) + "\n"


def _variant(
    model: Variant, draw: random.Random, paths: list[str], *, chain: dict[str, Any], **same: Any
) -> Variant:
    kind = draw.choice((None, None, *FINDINGS))
    said = () if kind is None else (_finding(*kind, at_s=draw.choice((None, 1.25, 3.5))),)
    louder = draw.gauss(0.0, 0.4)
    files = tuple(
        msgspec.structs.replace(
            file,
            path=path,
            audio_sha256=draw.randbytes(32).hex(),
            peak_dbfs=file.peak_dbfs + louder,
            loudness_lufs=None if file.loudness_lufs is None else file.loudness_lufs + louder,
        )
        for file, path in zip(model.files, paths, strict=True)
    )
    return msgspec.structs.replace(
        model,
        chain=msgspec.structs.replace(model.chain, **chain),
        verdict="good" if kind is None else kind[0],
        findings=said,
        state="stopped" if draw.random() < 0.03 else "kept",
        files=files,
        **same,
    )


def _finding(weight: Verdict, text: str, advice: str, *, at_s: float | None) -> Finding:
    return Finding(code="told-after-it", weight=weight, text=text, advice=advice, at_s=at_s)
