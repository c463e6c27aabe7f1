"""A hand-over, from the first file to the last: stopped or killed at any moment, the next try goes on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import accumulate, takewhile
from pathlib import Path
from time import monotonic

from audio.files.platform import free_bytes
from audio.files.text import write_atomic
from audio.handover import places
from audio.handover.letter import letter
from audio.handover.listing import Listed, record, table
from audio.jobs.deck import StoppedError
from audio.jobs.handing.begun import Begun, begin
from audio.jobs.handing.deciding import NO_FLAC, decide
from audio.jobs.listening_page import make_page
from audio.jobs.originals import originals_told
from audio.jobs.recall import make_sheet
from audio.session import journal, records
from audio.session.disk import local_now, said_plainly
from audio.session.layout import pass_folder
from audio.session.opened import Session
from audio.session.opinions import opinions
from audio.vocab.errors import UseError
from audio.vocab.handover import (
    FileDone,
    HandedOver,
    HandoverAsked,
    HandoverNow,
    HandoverOrder,
    Piece,
)
from audio.vocab.opinion import Opinion
from audio.vocab.requests import CompressHanded, HandSounds, ProveHanded, SyncHanded
from audio.vocab.sheet import OriginalTold
from audio.vocab.variant import Variant
from audio.work.client import Worker

BATCH_BYTES = 128_000_000
"""Of the first files that are worked on beside each other; a stop is heard between two batches."""

BATCH_S = (0.5, 1.5)
"""One that takes less is followed by a larger one, one that takes more by a smaller one: disks differ."""

FLAC_SHARE = 0.7
"""Of the bytes of a WAV file; what a guitar through a microphone takes, nearly."""

PAGE_SHARE = 0.5
"""The same of the listening page: 16 bits, FLAC, as text; of one file a sound, mostly less."""


def hand_over(
    session: Session,
    worker: Worker,
    asked: HandoverAsked,
    *,
    out: Path | None,
    shown: Callable[[HandoverNow], None],
    stop: Callable[[], bool],
    clock: Callable[[], str] = local_now,
) -> HandedOver:
    """Hand over a session's keepers, or all of it, into a folder.

    Parameters
    ----------
    session
        Locked by the caller.
    worker
        Who copies, writes and measures.
    asked
        What is wanted.
    out
        The folder; None for the next one of the session's own. One in which the same was begun is gone on
        with; nothing else in it is ever touched.
    shown
        Hears how far it is, before each file.
    stop
        Whether somebody wants it to stop; what is whole stays, and the next try goes on.
    clock
        Gives the time, ISO 8601.

    Returns
    -------
    HandedOver
        What it holds, and what had to be left out.

    Raises
    ------
    UseError
        If there is nothing to hand over, the folder is taken, or there is no room for it.
    StoppedError
        If it was stopped.
    """

    def decided(name: str, token: str) -> HandoverOrder:
        order = decide(session, worker, asked, name=name, token=token, made_at=clock())
        _refuse_full(session, order, out)
        return order

    begun = begin(session, asked, out=out, decide=decided)
    try:
        handing = _Handing(session, worker, begun, shown, stop, _expected(begun.order))
        done = handing.all()
        journal.append(
            session.folder,
            "handed over",
            name=begun.order.name,
            token=begun.order.token,
            sounds=_by_part(begun.order),
            clock=clock,
        )
        begun.finish()
    finally:
        begun.lock.release()
    return done


@dataclass(slots=True)
class _Handing:
    session: Session
    worker: Worker
    begun: Begun
    shown: Callable[[HandoverNow], None]
    stop: Callable[[], bool]
    expected: dict[str, int]
    """Bytes of each sound file, nearly."""
    clock_s: Callable[[], float] = monotonic
    done: dict[str, FileDone] = field(default_factory=dict)
    left: list[str] = field(default_factory=list)

    def all(self) -> HandedOver:
        """Write everything; return what it is."""
        order = self.begun.order
        self.begun.clear()
        self.left += order.left_out
        self._sounds()
        if not self.done:
            raise UseError(f"nothing could be handed over: {self.left[-1]}")
        originals = self._sheet()
        self._page(originals)
        listed = self._listed(originals)
        self._papers(listed)
        paths = self._paths()
        self._show("the checksums")
        sums = [self._proven(path) for path in paths]
        self._sync(paths)
        text = "".join(f"{one.sha256}  {one.path}\n" for one in sums)
        self._write(places.CHECKSUMS, text)
        return HandedOver(
            name=order.name,
            folder=str(self.begun.folder),
            token=order.token,
            sounds=len(order.sounds),
            files=len(listed),
            size=sum(one.size for one in sums),
            resumed=self.begun.resumed,
            left_out=tuple(self.left),
        )

    # ------------------------------------------------------------ sound files

    def _sounds(self) -> None:
        before = self.begun.whole()
        pieces = {one.path: one for one in self.begun.order.pieces}
        missing = [one for one in pieces.values() if not self._stays(one.path, before)]
        size = BATCH_BYTES
        while missing:
            batch = _batch(missing, self.expected, size)
            missing = missing[len(batch) :]
            self._show(batch[0].path)
            began = self.clock_s()
            told = self.worker.hand_sounds(
                HandSounds(
                    session=str(self.session.folder),
                    folder=str(self.begun.folder),
                    pieces=batch,
                    made_at=self.begun.order.made_at,
                )
            )
            for one in told.done:
                self._note(one)
            self.left += map(self.session.inside, told.refused)
            size = _next_size(size, self.clock_s() - began)
        for path in [one for one in self.done if pieces[one].flac]:
            self._compressed(pieces[path], before)

    def _compressed(self, piece: Piece, before: dict[str, FileDone]) -> None:
        if self.done[piece.path].depth == 32:
            self.left.append(f"{piece.path} is louder than full scale and {NO_FLAC}")
        elif not self._stays(piece.flac, before):
            self._show(piece.flac)
            asked = CompressHanded(
                folder=str(self.begun.folder),
                path=piece.path,
                to=piece.flac,
                comment=f"begins at frame {piece.time_reference} of the recorder's timeline",
            )
            self._note(self.worker.hand(asked))

    def _note(self, done: FileDone) -> None:
        self.done[done.path] = done
        self.begun.note(done)

    def _stays(self, path: str, before: dict[str, FileDone]) -> bool:
        """Return whether an earlier try left a file whole; it is read through before it counts."""
        done = before.get(path)
        if done is None or not (self.begun.folder / path).is_file():
            return False
        self._show(path)
        found = self._asked(path)
        if (found.sha256, found.size) != (done.sha256, done.size):
            return False
        self.done[path] = done
        return True

    def _listed(self, originals: Sequence[OriginalTold]) -> list[Listed]:
        """Return what is to be said of the sound files that are there."""
        later = {(one.part, one.name): one.offset_ms for one in originals}
        variants = dict(_variants(self.session, self.begun.order))
        said = {(one.part, one.number): one for one in opinions(self.session)}
        listed = []
        for piece in self.begun.order.pieces:
            variant = variants.get((piece.part, piece.number)) if piece.number is not None else None
            opinion = None
            if variant is not None:
                key = (variant.part, variant.number)
                opinion = said.get(key, Opinion(part=variant.part, number=variant.number))
                opinion = opinion.held_to([one.return_name for one in variant.files])
            offset = later.get((piece.part, piece.microphone)) if piece.kind == "original" else None
            listed += [
                Listed(
                    piece=piece,
                    done=self.done[path],
                    variant=variant,
                    opinion=opinion,
                    offset_ms=offset,
                )
                for path in (piece.path, piece.flac)
                if path in self.done
            ]
        return listed

    # ------------------------------------------------------------ papers

    def _sheet(self) -> tuple[OriginalTold, ...]:
        """Write the recall sheet where it is wanted and not there; return where the originals lie."""
        order, to = self.begun.order, places.sheet(self.begun.folder)
        if not order.asked.sheet or to.exists():
            return self._originals()
        made = make_sheet(
            self.session,
            self.worker,
            order.sounds,
            to=to,
            name=order.name,
            say=lambda text: self._show(f"recall sheet: {text}"),
            stop=self.stop,
        )
        self.left += made.left_out
        return made.originals

    def _page(self, originals: Sequence[OriginalTold]) -> None:
        """Make the listening page where it is wanted; what an earlier try left of it is gone on with."""
        order = self.begun.order
        if order.asked.page:
            self.left += make_page(
                self.session,
                self.worker,
                order.sounds,
                to=places.page(self.begun.folder),
                name=order.name,
                token=order.token,
                offsets={(one.part, one.name): one.text for one in originals if one.reason is None},
                say=lambda text: self._show(f"listening page: {text}"),
                stop=self.stop,
            )

    def _originals(self) -> tuple[OriginalTold, ...]:
        asked = self.begun.order.asked
        if not (asked.page or "originals" in asked.also):
            return ()
        told: list[OriginalTold] = []
        for part, numbers in _by_part(self.begun.order).items():
            self._show(f"where the originals of {part} lie")
            told += originals_told(self.session, self.worker, part, numbers)
        return tuple(told)

    def _papers(self, listed: Sequence[Listed]) -> None:
        order = self.begun.order
        self._show("the list")
        there = {one.piece.song for one in listed}
        songs = [one for one in self.session.file.songs if one.name in there]
        self._write(places.TABLE, table(listed))
        self._write(places.RECORD, record(order, songs, listed))
        self._write(places.LETTER, letter(order, listed, left_out=self.left))

    def _write(self, name: str, content: str | bytes) -> None:
        path = self.begun.folder / name
        with said_plainly(path, doing="written"):
            write_atomic(path, content)

    # ------------------------------------------------------------ what is there

    def _paths(self) -> list[str]:
        """Return all files of the hand-over but its checksums, by name."""
        folder = self.begun.folder
        with said_plainly(folder, doing="read"):
            found = [one.relative_to(folder) for one in folder.rglob("*") if one.is_file()]
        kept = (one for one in found if one.parts[0] not in (places.UNFINISHED, places.CHECKSUMS))
        return sorted(one.as_posix() for one in kept)

    def _proven(self, path: str) -> FileDone:
        return self.done.get(path) or self._asked(path)

    def _asked(self, path: str) -> FileDone:
        return self.worker.hand(ProveHanded(folder=str(self.begun.folder), path=path))

    def _sync(self, paths: Sequence[str]) -> None:
        self.worker.sync_handed(SyncHanded(folder=str(self.begun.folder), paths=tuple(paths)))

    def _show(self, doing: str) -> None:
        """Say what comes next, unless somebody wants it to stop."""
        if self.stop():
            raise StoppedError
        whole = [one for one in self.done if one in self.expected]
        self.shown(
            HandoverNow(
                doing=doing,
                files=len(whole),
                of_files=len(self.expected),
                size=sum(self.expected[one] for one in whole),
                of_size=sum(self.expected.values()),
            )
        )


def _variants(session: Session, order: HandoverOrder) -> Iterator[tuple[tuple[str, int], Variant]]:
    for part, number in order.sounds:
        yield (part, number), records.read_variant(pass_folder(session.folder, part, number))


def _by_part(order: HandoverOrder) -> dict[str, list[int]]:
    parts: dict[str, list[int]] = {}
    for part, number in order.sounds:
        parts.setdefault(part, []).append(number)
    return parts


def _batch(pieces: Sequence[Piece], sizes: Mapping[str, int], most: int) -> tuple[Piece, ...]:
    """Return the first pieces, at least one, that hold so many bytes together at most."""
    held = accumulate(sizes[one.path] for one in pieces)
    count = sum(1 for _ in takewhile(lambda size: size <= most, held))
    return tuple(pieces[: max(count, 1)])


def _next_size(size: int, took_s: float) -> int:
    """Return how large the next batch may be."""
    quick, slow = BATCH_S
    return size * 2 if took_s < quick else max(size // 2, 1) if took_s > slow else size


def _expected(order: HandoverOrder) -> dict[str, int]:
    """Return how large each sound file will be, nearly."""
    sizes = {}
    for piece in order.pieces:
        size = piece.frames * piece.channels * piece.depth // 8
        sizes[piece.path] = size
        if piece.flac:
            sizes[piece.flac] = round(FLAC_SHARE * size)
    return sizes


def _refuse_full(session: Session, order: HandoverOrder, out: Path | None) -> None:
    needed = sum(_expected(order).values())
    if order.asked.page:
        needed += round(PAGE_SHARE * sum(one.frames * one.depth // 8 for one in order.pieces))
    free = free_bytes(out or session.folder)
    if needed > free:
        raise UseError(
            f"the hand-over takes {needed / 1e6:.0f} MB, and {free / 1e6:.0f} MB are free there; make room,"
            " or name a folder on another disk (--out)"
        )
