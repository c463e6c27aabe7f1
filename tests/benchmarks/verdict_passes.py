"""Whole passes through a room, clean ones and such with something planted, and what was said of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import msgspec
import numpy as np
import soundfile
from session import NotingDeck
from verdict_kinds import KINDS, LEAST_CLIPPED_RUNS, SHORT_TAIL_S, Peaks, Planted
from verdict_rooms import CHAINS, Draw, Pedals, Studio, draw_for, pedals, write_riff

from audio.jobs.passes import run_pass
from audio.jobs.placing import Known
from audio.jobs.sessions import new_session
from audio.jobs.talk import Silent
from audio.session import layout
from audio.session.opened import Session
from audio.vocab.errors import SecondpassError
from audio.vocab.findings import Finding
from audio.vocab.variant import Variant
from audio.work.client import Worker

CLEAN = "clean"
TOO_SMALL = "under its size"


@dataclass(frozen=True)
class Take:
    """One pass and what was said of it."""

    room: int
    kind: str
    """`CLEAN`, a key of `KINDS`, or one of them with the room's proof."""
    chain: str
    part: str
    verdict: str
    findings: tuple[Finding, ...]
    seconds: float | None
    """From the last frame to ``variant.json``, the closing click taken off."""
    words: str
    """What was planted."""
    peaks: Peaks


class Evening:
    """A session in a room: a deck without faults first, then one with them."""

    def __init__(self, room: Studio, session: Session) -> None:
        self.room = room
        self.session = session

    def takes(self, clean: Sequence[str], faults: Sequence[Planted]) -> Iterator[Take]:
        """Play the clean chains and the good takes of what is planted, then what is planted."""
        siblings = [one for one in faults if KINDS[one.kind].sibling]
        chains = {name: pedals(draw_for(self.room.number, name), name) for name in clean}
        peaks: dict[str, Peaks] = {}
        with self._deck(
            chains | {p.chain: p.pedals for p in siblings}, _flat_tops(self.room)
        ) as deck:
            for number, chain in enumerate(clean):
                part = self.room.riffs[number % len(self.room.riffs)].name
                yield self._take(deck, CLEAN, chain, part)
            for one in siblings:
                take = self._take(deck, CLEAN, one.chain, self._part(one))
                peaks[one.chain] = take.peaks
                yield take
        if faults:
            yield from self._faulty(faults, peaks)

    def _faulty(self, faults: Sequence[Planted], peaks: dict[str, Peaks]) -> Iterator[Take]:
        words = {p.chain: p.faults(self.room, peaks.get(p.chain, {})) for p in faults}
        chains = {p.chain: p.pedals for p in faults}
        with self._deck(chains, sum(words.values(), ()), tail_s=SHORT_TAIL_S) as deck:
            for one in faults:
                kind = f"{one.kind}, {self.room.proof}" if one.with_proof else one.kind
                told = f"{words[one.chain]} through {one.pedals}"
                yield self._take(deck, kind, one.chain, self._part(one), told)

    def _part(self, one: Planted) -> str:
        """Return the part a fault is planted on; one with a trim of its own is added."""
        if one.trim_db is None:
            return self.room.riffs[0].name
        name = one.chain.replace(" ", "-")
        riff = self.session.part(self.room.riffs[0].name)[1].revisions[-1]
        source = self.session.path(riff.file)
        with Worker() as worker:
            facts = worker.inspect(source)
        self.session = self.session.add_part(
            source=source, facts=facts, name=name, trim_db=one.trim_db
        )
        return name

    @contextmanager
    def _deck(
        self,
        chains: dict[str, Pedals],
        faults: tuple[dict[str, Any], ...],
        *,
        tail_s: float | None = None,
    ) -> Iterator[NotingDeck]:
        wiring = self.room.wiring
        wiring = msgspec.structs.replace(
            wiring,
            device=msgspec.structs.replace(self.room.device, chains=chains, faults=faults),
            tail_s=tail_s or wiring.tail_s,
        )
        self._known = Known()  # of this stream
        with NotingDeck(wiring, Silent()) as deck:
            yield deck

    def _take(self, deck: NotingDeck, kind: str, chain: str, part: str, words: str = "") -> Take:
        deck.rolls.clear()
        try:
            done = run_pass(deck, self.session, part_name=part, chain=chain, known=self._known)
        except SecondpassError as error:
            said = Finding(code="did-not-start", weight="redo", text=str(error))
            return Take(self.room.number, kind, chain, part, "redo", (said,), None, words, {})
        variant = done.variant
        return Take(
            room=self.room.number,
            kind=f"{kind}, {TOO_SMALL}" if self._is_too_small(kind, variant) else kind,
            chain=chain,
            part=part,
            verdict=variant.verdict,
            findings=variant.findings,
            seconds=finish_s(deck, self.session, variant),
            words=words,
            peaks={file.input: file.peak_dbfs for file in variant.files},
        )

    def _is_too_small(self, kind: str, variant: Variant) -> bool:
        """Return whether what was to clip did not clip enough, counted in the files."""
        if kind != "clipped":
            return False
        return (
            max(clipped_runs(self.session.path(f.path)) for f in variant.files) < LEAST_CLIPPED_RUNS
        )


@contextmanager
def evening(room: Studio) -> Iterator[Evening]:
    """Yield a new session with the room's riffs; it goes away afterwards."""
    with TemporaryDirectory(prefix="secondpass-verdict-") as folder:
        with Worker() as worker:
            session, _ = new_session(
                Path(folder) / "session",
                dis=tuple(write_riff(Path(folder), riff) for riff in room.riffs),
                channel=1,
                wiring_path=None,
                song=None,
                bpm=None,
                metre=None,
                worker=worker,
            )
        yield Evening(room, session)


def clean_chains(room: Studio, count: int) -> tuple[str, ...]:
    """Return kinds of chains, others in the next room, so that all of them have their turn."""
    names = list(CHAINS)
    return tuple(names[(room.number * count + n) % len(names)] for n in range(count))


def finish_s(deck: NotingDeck, session: Session, variant: Variant) -> float:
    """Return the seconds from a pass's last frame to its ``variant.json``, the closing click taken off."""
    at = next(n for n, roll in enumerate(deck.rolls) if roll.kept)
    after = sum(roll.ended - roll.began for roll in deck.rolls[at + 1 :])
    folder = layout.pass_folder(session.folder, variant.part, variant.number)
    return layout.variant_json(folder).stat().st_mtime - deck.rolls[at].ended - after


def clipped_runs(path: Path) -> int:
    """Return how many runs of three or more samples of a 24-bit file lie at full scale."""
    codes, _ = soundfile.read(path, dtype="int32")
    top = (codes >> 8 == 2**23 - 1) | (codes >> 8 == -(2**23))
    edges = np.flatnonzero(np.diff(np.concatenate(([0], top.view(np.int8), [0]))))
    return int(np.count_nonzero(edges[1::2] - edges[::2] >= 3))


def _flat_tops(room: Studio) -> tuple[dict[str, Any], ...]:
    """Return flat tops below full scale in every third room: what a load box does, and no fault."""
    draw: Draw = draw_for(room.number, "flat tops")
    number, ceiling = int(draw.choice(room.inputs)), round(float(draw.uniform(-30, -12)), 2)
    if draw.random() > 1 / 3:
        return ()
    return ({"kind": "flat tops", "input": number, "ceiling_dbfs": ceiling},)
