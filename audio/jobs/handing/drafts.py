"""The files that are handed over, as they lie in the session, each with the name it would like to have."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

from msgspec.structs import replace

from audio.files.wave import DATA_AT, WaveFormat, parse_header
from audio.plan.file_names import file_name, plain_name
from audio.session.disk import said_plainly
from audio.session.opened import Session
from audio.vocab.balance import heard_db
from audio.vocab.errors import UseError
from audio.vocab.handover import BLEND, HandoverAsked, Piece, Source
from audio.vocab.opinion import Opinion
from audio.vocab.results import AudioFacts
from audio.vocab.session_file import Backing, Original, Part, Revision, Song
from audio.vocab.variant import Variant, VariantFile
from audio.work.client import Worker

_INTEGERS: dict[str, Literal[16, 24]] = {"PCM_16": 16, "PCM_24": 24, "PCM_S8": 16, "PCM_U8": 16}
"""Encodings whose samples 24 bits hold, by libsndfile's names."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """One sound that is handed over."""

    song: Song
    part: Part
    variant: Variant
    opinion: Opinion


@dataclass(frozen=True, slots=True)
class Draft:
    """A file that has no place yet."""

    name: str
    """Without its ending; another file may like the same one."""
    suffix: str
    piece: Piece
    """Its path is empty."""


@dataclass(frozen=True, slots=True)
class Drafting:
    """Finds files; what cannot be read is said, and left out."""

    session: Session
    worker: Worker
    asked: HandoverAsked
    left: list[str] = field(default_factory=list)

    # ------------------------------------------------------------ sounds

    def of_sound(self, sound: Chosen) -> Iterator[Draft]:
        """Yield the files of a sound: a microphone each, and its blend where that was asked for."""
        read = [(one, fmt) for one in sound.variant.files if (fmt := self._format(one)) is not None]
        for one, fmt in read:
            piece = self._piece(sound, (one,), fmt)
            yield self._draft(sound, one.return_name, piece)
        if self.asked.blends and read and len(read) == len(sound.variant.files):
            yield from self._blend(sound, read[0][1])

    def _blend(self, sound: Chosen, fmt: WaveFormat) -> Iterator[Draft]:
        """Yield a sound's microphones in one file; none where that is one of them as it was recorded."""
        blend = sound.opinion.blend
        gains = {one.return_name: heard_db(blend, one.return_name) for one in sound.variant.files}
        heard = tuple(one for one in sound.variant.files if gains[one.return_name] is not None)
        if not heard or (len(heard) == 1 and gains[heard[0].return_name] == 0.0):
            return
        piece = self._piece(sound, heard, fmt)
        sources = tuple(
            replace(source, gain_db=gains[one.return_name] or 0.0)
            for source, one in zip(piece.sources, heard, strict=True)
        )
        piece = replace(piece, kind="blend", microphone="", copied=False, sources=sources)
        yield self._draft(sound, BLEND, piece)

    def _piece(self, sound: Chosen, files: Sequence[VariantFile], fmt: WaveFormat) -> Piece:
        variant = sound.variant
        return Piece(
            path="",
            kind="microphone",
            song=sound.song.name,
            part=sound.part.name,
            number=variant.number,
            microphone=files[0].return_name,
            sources=tuple(
                Source(
                    file=one.path,
                    at_frame=variant.time_reference,
                    audio_sha256=one.audio_sha256,
                )
                for one in files
            ),
            copied=True,
            sample_rate=variant.sample_rate,
            depth=fmt.depth,
            time_reference=variant.time_reference,
            frames=max(one.frames for one in files),
        )

    def _draft(self, sound: Chosen, microphone: str, piece: Piece) -> Draft:
        chain = sound.opinion.chain or sound.variant.chain.name
        values = {
            "session": self.session.file.name,
            "song": sound.song.name,
            "part": sound.part.name,
            "number": f"{sound.variant.number:03d}",
            "chain": chain,
            "called": sound.opinion.called or chain,
            "microphone": microphone,
        }
        return Draft(file_name(self.asked.names, values), ".wav", piece)

    def _format(self, one: VariantFile) -> WaveFormat | None:
        path = self.session.path(one.path)
        try:
            with said_plainly(path, doing="read"), path.open("rb") as file:
                return parse_header(file.read(DATA_AT))[0]
        except UseError as error:
            self.left.append(self.session.inside(str(error)))
        except ValueError:
            text = "is no recording of this program any more; restore it from a copy"
            self.left.append(f"{one.path} {text}")
        return None

    # ------------------------------------------------------------ what was brought in

    def dis(self, sound: Chosen, numbers: Sequence[int]) -> Iterator[Draft]:
        """Yield the revisions of a part's DI that some sounds were made from."""
        for number in numbers:
            if number <= len(sound.part.revisions):
                name = self._of_part(sound, f"di-r{number}")
                for draft in self._brought(name, sound.part.revisions[number - 1]):
                    piece = replace(draft.piece, kind="di")
                    yield self._belonging(draft, piece, sound)

    def originals(self, sound: Chosen) -> Iterator[Draft]:
        """Yield the first recordings of a part's amp."""
        for one in sound.part.originals:
            name = self._of_part(sound, "original", one.name)
            for draft in self._brought(name, one):
                piece = replace(draft.piece, kind="original", microphone=one.name)
                yield self._belonging(draft, piece, sound)

    def backing(self, song: Song) -> Iterator[Draft]:
        """Yield a song's backing track, with all its channels."""
        if song.backing is not None:
            name = f"{plain_name(song.name)}/{plain_name(song.name, 'backing')}"
            for draft in self._brought(name, song.backing):
                piece = replace(draft.piece, kind="backing", song=song.name)
                yield Draft(draft.name, draft.suffix, piece)

    def _brought(self, name: str, one: Revision | Original | Backing) -> Iterator[Draft]:
        channel = None if isinstance(one, Backing) else one.channel - 1
        try:
            facts = self.worker.inspect(self.session.path(one.file), channel=channel or 0)
        except UseError as error:
            self.left.append(self.session.inside(str(error)))
            return
        piece = _brought_piece(facts, one, whole=channel is None or facts.channels == 1)
        suffix = f".{one.file.rpartition('.')[2].lower()}" if piece.copied else ".wav"
        yield Draft(name, suffix, piece)

    @staticmethod
    def _of_part(sound: Chosen, *words: str) -> str:
        return f"{plain_name(sound.song.name)}/{plain_name(sound.part.name, *words)}"

    @staticmethod
    def _belonging(draft: Draft, piece: Piece, sound: Chosen) -> Draft:
        piece = replace(piece, song=sound.song.name, part=sound.part.name)
        return Draft(draft.name, draft.suffix, piece)


def _brought_piece(facts: AudioFacts, one: Revision | Original | Backing, *, whole: bool) -> Piece:
    """Return a file that was brought in, as it is; of several channels one that is named stands alone."""
    depth: Literal[16, 24, 32] = _INTEGERS.get(facts.encoding, 32)
    if not whole and depth == 16:  # what is written anew has 24 bits, or floats
        depth = 24
    return Piece(
        path="",
        kind="backing",
        song="",
        sources=(
            Source(
                file=one.file,
                channel=0 if whole else facts.channel,
                at_frame=facts.time_reference,
                file_sha256=one.file_sha256,
            ),
        ),
        copied=whole,
        sample_rate=facts.sample_rate,
        depth=depth,
        channels=facts.channels if whole else 1,
        time_reference=facts.time_reference,
        frames=facts.frames,
    )
