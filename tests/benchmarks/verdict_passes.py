"""Whole passes through a room, clean ones and such with something planted, and what was said of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

import msgspec
import numpy as np
import soundfile
from session import NotingDeck
from verdict_kinds import (
    KINDS,
    LEAST_CLIPPED_RUNS,
    LOOSE_MS,
    NOTHING_BEFORE,
    SHORT_TAIL_S,
    Before,
    Faults,
    Planted,
)
from verdict_rooms import CHAINS, Draw, Pedals, Studio, draw_for, pedals, write_riff

from audio.device.simulated.room import Room
from audio.jobs.passes import run_pass
from audio.jobs.placing import Known
from audio.jobs.sessions import new_session
from audio.jobs.talk import Silent
from audio.session import layout
from audio.session.opened import Session
from audio.vocab.errors import SecondpassError
from audio.vocab.findings import Finding
from audio.vocab.variant import Variant
from audio.vocab.wiring import Click
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
    base: str
    """Which kind of chain it is."""
    part: str
    verdict: str
    findings: tuple[Finding, ...]
    words: str
    """What was planted."""
    seconds: float | None = None
    """From the last frame to ``variant.json``, the closing click taken off."""
    variant: Variant | None = None


class Asked(NamedTuple):
    """A pass to be played."""

    kind: str
    chain: str
    base: str
    part: str
    words: str = ""


class Evening:
    """A session in a room: a deck without faults first, then one with them."""

    def __init__(self, room: Studio, session: Session) -> None:
        self.room = room
        self.session = session
        self._known = Known()

    def takes(self, clean: Sequence[str], faults: Sequence[Planted]) -> Iterator[Take]:
        """Play the clean chains and the good takes of what is planted, then what is planted."""
        siblings = [one for one in faults if KINDS[one.kind].sibling]
        chains = {name: pedals(draw_for(self.room.number, name), name) for name in clean}
        parts = [riff.name for riff in self.room.riffs]
        asked = [Asked(CLEAN, c, c, parts[n % len(parts)]) for n, c in enumerate(chains)]
        asked += [Asked(CLEAN, p.chain, p.base, p.riff.name) for p in siblings]
        # The same once more, later in the evening: nothing has changed then.
        asked += asked[: len(clean) - len(chains)]
        before: dict[str, Before] = {}
        chains |= {p.chain: p.pedals for p in siblings}
        with self._deck(chains, _flat_tops(self.room), tail_s=self.room.wiring.tail_s) as deck:
            for one in asked:
                take = self._take(deck, one)
                before[one.chain] = _before(take)
                yield take
        planted = [
            (one, one.faults(self.room, before.get(one.chain, NOTHING_BEFORE))) for one in faults
        ]
        for wired in ("as usual", "short tail"):
            yield from self._faulty([p for p in planted if KINDS[p[0].kind].wired == wired])
        for one, words in planted:
            if KINDS[one.kind].wired == "quiet click":
                yield from self._faulty([(one, words)], click_dbfs=before[one.chain].click_dbfs)

    def _faulty(
        self, planted: Sequence[tuple[Planted, Faults]], *, click_dbfs: float | None = None
    ) -> Iterator[Take]:
        if not planted:
            return
        chains = {one.chain: one.pedals for one, _ in planted}
        words = sum((faults for _, faults in planted), ())
        short = KINDS[planted[0][0].kind].wired == "short tail"
        tail_s = SHORT_TAIL_S if short else self.room.wiring.tail_s
        with self._deck(chains, words, tail_s=tail_s, click_dbfs=click_dbfs) as deck:
            for one, faults in planted:
                kind = f"{one.kind}, {self.room.proof}" if one.with_proof else one.kind
                told = f"{faults} through {one.pedals}"
                yield self._take(deck, Asked(kind, one.chain, one.base, self._part(one), told))

    def _part(self, one: Planted) -> str:
        """Return the part a fault is planted on; one with a trim of its own is added."""
        if one.trim_db is None:
            return one.riff.name
        name = one.chain.replace(" ", "-")
        source = self.session.path(self.session.part(one.riff.name)[1].revisions[-1].file)
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
        faults: Faults,
        *,
        tail_s: float,
        click_dbfs: float | None = None,
    ) -> Iterator[NotingDeck]:
        wiring = self.room.wiring
        click = wiring.click if click_dbfs is None else Click(click_dbfs, click_dbfs)
        self._wiring = msgspec.structs.replace(
            wiring,
            device=msgspec.structs.replace(self.room.device, chains=chains, faults=faults),
            tail_s=tail_s,
            click=click,
        )
        self._known = Known()  # of this stream
        with NotingDeck(self._wiring, Silent()) as deck:
            yield deck

    def _take(self, deck: NotingDeck, one: Asked) -> Take:
        deck.rolls.clear()
        try:
            done = run_pass(
                deck, self.session, part_name=one.part, chain=one.chain, known=self._known
            )
        except SecondpassError as error:
            said = Finding(code="did-not-start", weight="redo", text=str(error))
            return Take(self.room.number, *one[:4], "redo", (said,), one.words)
        variant = done.variant
        kind = f"{one.kind}, {TOO_SMALL}" if self._is_too_small(one, variant) else one.kind
        return Take(
            self.room.number,
            kind,
            *one[1:4],
            variant.verdict,
            variant.findings,
            one.words,
            seconds=finish_s(deck, self.session, variant),
            variant=variant,
        )

    def _is_too_small(self, one: Asked, variant: Variant) -> bool:
        """Return whether what was to clip did not, or what was to be misplaced lies right and says so."""
        if one.kind == "clipped":
            runs = [clipped_runs(self.session.path(file.path)) for file in variant.files]
            return max(runs) < LEAST_CLIPPED_RUNS
        if one.kind != "placement uncertain" or variant.delay_frames is None:
            return False
        room = Room(self._wiring)
        room.plug(one.chain)
        off = abs(variant.delay_frames - room.truth(self.room.inputs[0]).delay_frames)
        loose = LOOSE_MS * self._wiring.sample_rate / 1000.0
        return max(off, variant.plus_minus_frames or 0.0) <= loose


def _before(take: Take) -> Before:
    variant = take.variant
    if variant is None:
        return NOTHING_BEFORE
    readings = zip(variant.files, variant.opening_click, strict=True)
    return Before(
        peaks={file.input: file.peak_dbfs for file in variant.files},
        clicks={file.input: reading.peak_dbfs for file, reading in readings},
        click_dbfs=variant.setup["click_dbfs"],
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
    """Return kinds of chains, the first one twice, others in the next room: all of them have their turn."""
    names, new = list(CHAINS), max(1, count - 1)
    once = [names[(room.number * new + n) % len(names)] for n in range(new)]
    return tuple((once + once)[:count])


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
