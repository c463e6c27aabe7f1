"""The recall sheet: one page from which a stranger sets the sounds up again, and can prove it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from audio.files.text import write_atomic
from audio.grid.bars import BarGrid, bar_grid
from audio.handover.sheet import sheet_page
from audio.jobs import recalled
from audio.jobs.deck import StoppedError
from audio.jobs.originals import originals_told
from audio.jobs.tempos import song_tempo
from audio.session.disk import local_now, said_plainly
from audio.session.layout import pass_folder
from audio.session.opened import Session
from audio.session.opinions import opinions
from audio.session.records import read_variant
from audio.session.setups import setups
from audio.session.sounds import sounds as kept_sounds
from audio.vocab.errors import SecondpassError, UseError
from audio.vocab.layers import Layer
from audio.vocab.opinion import Opinion
from audio.vocab.requests import TellSound
from audio.vocab.session_file import Part, Song
from audio.vocab.setup import SetupRecord
from audio.vocab.sheet import (
    OriginalTold,
    ReferencePhrase,
    Sheet,
    SheetMade,
    SheetPart,
    SheetSound,
    SoundTold,
)
from audio.vocab.sounds import Sound
from audio.vocab.units import shortest
from audio.vocab.variant import Variant
from audio.work.client import Worker


def make_sheet(
    session: Session,
    worker: Worker,
    sounds: Sequence[tuple[str, int]],
    *,
    to: Path,
    name: str,
    say: Callable[[str], None],
    stop: Callable[[], bool],
) -> SheetMade:
    """Write the recall sheet of some sounds.

    Parameters
    ----------
    session
        Where everything lies.
    worker
        Measures and draws.
    sounds
        Part and number of each, in order; the parts stand in the order of their first sounds.
    to
        The file, replaced in one step; its folder must exist.
    name
        The hand-over's.
    say
        Told what is being done, a line each.
    stop
        Asked between two steps.

    Returns
    -------
    SheetMade
        What is not on it, and where the originals lie.

    Raises
    ------
    StoppedError
        If `stop` said so; nothing is written then.
    UseError
        If there is no such part, the journal cannot be read, or the disk refuses the file.
    """
    desk = _Desk(session, worker, say, stop)
    parts = tuple(desk.part(part, numbers) for part, numbers in _by_part(sounds).items())
    sheet = Sheet(
        session=session.file.name,
        name=name,
        made_at=local_now(),
        parts=parts,
        left_out=tuple(desk.left_out),
    )
    with said_plainly(to, doing="written"):
        write_atomic(to, sheet_page(sheet))
    told = tuple(one for part in parts for one in part.originals)
    return SheetMade(left_out=sheet.left_out, originals=told)


def _by_part(sounds: Sequence[tuple[str, int]]) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for part, number in dict.fromkeys(sounds):
        found.setdefault(part, []).append(number)
    return found


@dataclass(frozen=True, slots=True)
class _Of:
    """The part a sound belongs to."""

    song: Song
    part: Part
    originals: tuple[OriginalTold, ...]


class _Desk:
    """Gathers the sheet, part by part; what cannot be had is left out with a sentence."""

    def __init__(
        self,
        session: Session,
        worker: Worker,
        say: Callable[[str], None],
        stop: Callable[[], bool],
    ) -> None:
        self._session, self._worker, self._say, self._stop = session, worker, say, stop
        self._said = {(one.part, one.number): one for one in opinions(session)}
        records, kept = setups(session), kept_sounds(session)
        self._records: tuple[SetupRecord, ...] = records.found
        self._kept: tuple[Sound, ...] = kept.found
        self.left_out = [session.inside(one.reason) for one in (*records.broken, *kept.broken)]

    def part(self, name: str, numbers: Sequence[int]) -> SheetPart:
        song, part = self._session.part(name)
        there = [one for one in map(self._variant(part), numbers) if one is not None]
        self._step(f"{part.name}: where its originals lie" if part.originals else "")
        told = originals_told(self._session, self._worker, part.name, [one.number for one in there])
        of = _Of(song, part, told)
        return SheetPart(
            song=song.name,
            tempo=_tempo_words(song),
            part=part.name,
            originals=told,
            sounds=tuple(self._sound(of, one) for one in there),
        )

    def _variant(self, part: Part) -> Callable[[int], Variant | None]:
        def read(number: int) -> Variant | None:
            try:
                return read_variant(pass_folder(self._session.folder, part.name, number))
            except UseError as error:
                why = self._session.inside(str(error))
                self.left_out.append(f"{part.name} {number:03d} is not on the sheet: {why}")
                return None

        return read

    def _step(self, words: str) -> None:
        if self._stop():
            raise StoppedError
        if words:
            self._say(words)

    def _sound(self, of: _Of, variant: Variant) -> SheetSound:
        what = f"{of.part.name} {variant.number:03d}"
        self._step(f"{what}: measured and drawn for the sheet")
        opinion = self._said.get(
            (of.part.name, variant.number), Opinion(part=of.part.name, number=variant.number)
        )
        name, chain, loose = recalled.chain_of(variant, opinion)
        used, unset = recalled.setup_of(variant, self._records)
        phrase, told, untold = self._told(of, variant, name)
        if untold:
            self.left_out.append(f"{what} has neither figures nor pictures: {untold}")
        photos = recalled.photos_of(
            self._session,
            self._worker,
            variant,
            (*(chain.photos if chain else ()), *opinion.photos),
        )
        self.left_out += [f"{what}, photo: {one.problem}" for one in photos if one.problem]
        return SheetSound(
            variant=variant,
            opinion=opinion.held_to([one.return_name for one in variant.files]),
            chain=chain,
            chain_name=name,
            loose_settings=loose,
            wiring=recalled.wiring_of(variant),
            recorded=of.part.recorded,
            bpm=None if of.song.tempo_file else of.song.bpm,
            setup=used,
            unset=unset,
            phrase=phrase,
            told=told,
            untold=untold,
            photos=photos,
            newest_revision=len(of.part.revisions),
        )

    def _told(
        self, of: _Of, variant: Variant, chain: str
    ) -> tuple[ReferencePhrase | None, SoundTold | None, str]:
        """Return the phrase of a sound, what it is over it, and why that cannot be told."""
        try:
            grid = self._grid(of.song, variant)
            phrase = recalled.phrase_of(
                self._session,
                self._worker,
                variant,
                chain=chain,
                kept=self._kept,
                records=self._records,
                grid=grid,
            )
            return phrase, self._worker.tell_sound(self._asked(of, variant, phrase, grid)), ""
        except SecondpassError as error:
            return None, None, self._session.inside(str(error))

    def _grid(self, song: Song, variant: Variant) -> BarGrid | None:
        path = str(self._session.path(variant.di.path))
        head = self._worker.heads([path])[path]
        if head.problem:
            raise UseError(head.problem)
        return bar_grid(
            song,
            tempo=song_tempo(self._session, song).map,
            time_reference=head.time_reference,
            rate=head.sample_rate,
        )

    def _asked(
        self, of: _Of, variant: Variant, phrase: ReferencePhrase, grid: BarGrid | None
    ) -> TellSound:
        at, rate = recalled.file_at(variant), variant.sample_rate
        longest = max((one.frames for one in variant.files), default=0)
        return TellSound(
            di=Layer(
                name="DI",
                path=str(self._session.path(variant.di.path)),
                channel=variant.di.channel - 1,
            ),
            files=tuple(
                Layer(name=one.return_name, path=str(self._session.path(one.path)), at_frame=at)
                for one in variant.files
            ),
            originals=self._originals(of, variant),
            from_frame=phrase.from_frame,
            frames=phrase.frames,
            bars=recalled.bar_marks(grid, frames=at + longest, rate=rate),
        )

    def _originals(self, of: _Of, variant: Variant) -> tuple[Layer, ...]:
        """Return the originals of a sound made from the newest DI; by that it is told where they lie."""
        if variant.revision != len(of.part.revisions):
            return ()
        known = {one.name: one.at_frame for one in of.originals}
        return tuple(
            Layer(
                name=one.name,
                path=str(self._session.path(one.file)),
                channel=one.channel - 1,
                at_frame=at,
            )
            for one in of.part.originals
            if (at := known.get(one.name)) is not None
        )


def _tempo_words(song: Song) -> str:
    if song.tempo_file:
        return f"tempo from {song.tempo_file}"
    metre = [song.metre] if song.metre else []
    return ", ".join([*([f"{shortest(song.bpm)} bpm"] if song.bpm else []), *metre])
