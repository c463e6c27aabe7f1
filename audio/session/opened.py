"""An open session: its parts, its wiring, and adding to it.

Whoever adds holds the session's lock (`audio.session.lock`). Sound files are copied in before
``session.yaml`` names them: a crash in between leaves a file nobody names, never a name without its file.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

from audio.files.text import write_atomic
from audio.session import extend, journal, layout
from audio.session.copying import copy_in
from audio.session.disk import local_now, said_plainly
from audio.session.model import (
    TRIM_DB,
    Original,
    Part,
    Revision,
    SessionFile,
    Song,
    parse_session,
)
from audio.vocab.errors import UseError
from audio.vocab.names import name_problem, twin_key
from audio.vocab.results import AudioFacts
from audio.vocab.strict_yaml import read_text
from audio.vocab.wiring import Wiring
from audio.vocab.wiring_file import read_wiring

_SUFFIXES = {"WAV": ".wav", "RF64": ".wav", "AIFF": ".aiff", "FLAC": ".flac"}


@dataclass(frozen=True, slots=True)
class Session:
    """A session as it stood when it was opened; what adds to it returns the new one."""

    folder: Path
    """Absolute."""
    file: SessionFile

    def path(self, relative: str) -> Path:
        """Return where a file of the session lies, from its path relative to the folder."""
        return self.folder.joinpath(*PurePosixPath(relative).parts)

    def wiring(self) -> Wiring:
        """Return the session's wiring; `UseError` if there is none or it is wrong."""
        if self.file.wiring is None:
            raise UseError(
                f"{self.folder}: the session has no wiring; give one with `pass --wiring FILE`, or "
                "make the session with `new --wiring FILE`"
            )
        return read_wiring(self.path(self.file.wiring))

    def part(self, name: str) -> tuple[Song, Part]:
        """Return a part and its song; `UseError` naming the parts there are if it is none of them."""
        parts = [(song, part) for song in self.file.songs for part in song.parts]
        wanted = unicodedata.normalize("NFC", name)
        for song, part in parts:
            if part.name == wanted:
                return song, part
        names = ", ".join(part.name for _, part in parts)
        way_out = f"its parts are: {names}" if parts else "add one with `secondpass add`"
        raise UseError(f"{self.folder}: there is no part {name!r}; {way_out}")

    def add_part(
        self,
        *,
        source: Path,
        facts: AudioFacts,
        channel: int = 1,
        name: str | None = None,
        song: str | None = None,
        trim_db: float = 0.0,
        clock: Callable[[], str] = local_now,
    ) -> Session:
        """Copy a DI in and note it as the first revision of a new part.

        `UseError`, with ``session.yaml`` unchanged, if the name or channel cannot be, or the disk refuses.

        Parameters
        ----------
        source
            The DI.
        facts
            What it is; its checksum must hold for the copy.
        channel
            Channel of the file that is the DI, from 1.
        name
            The part's name; the file's name without its ending when left out.
        song
            The song's name; may be left out where there is only one.
        trim_db
            Gain of the DI on its way out, −60 to 24.
        clock
            Gives the time for the journal.

        Returns
        -------
        Session
            The session with the part in it.
        """
        named = unicodedata.normalize("NFC", source.stem if name is None else name)
        self._refuse_name(named)
        at = self._song_index(song)
        _refuse_trim(trim_db)
        _refuse_channel(source, facts, channel)
        file = self._copied(source, facts, layout.DI, f"{named}.r1")
        revision = Revision(file=file, channel=channel, file_sha256=facts.file_sha256)
        part = Part(name=named, trim_db=trim_db, revisions=(revision,))
        session = self._extended(lambda text, where: extend.with_part(text, at, part, where=where))
        journal.append(self.folder, "part added", part=named, file=file, clock=clock)
        return session

    def add_revision(
        self,
        part: str,
        *,
        source: Path,
        facts: AudioFacts,
        channel: int = 1,
        clock: Callable[[], str] = local_now,
    ) -> Session:
        """Copy a corrected edit in and note it as the newest revision of a part.

        `UseError` also if the channel cannot be or the disk refuses; ``session.yaml`` is unchanged then.

        Parameters
        ----------
        part
            The part's name.
        source
            The DI.
        facts
            What it is; its checksum must hold for the copy.
        channel
            Channel of the file that is the DI, from 1.
        clock
            Gives the time for the journal.

        Returns
        -------
        Session
            The session with the revision in it.

        Raises
        ------
        UseError
            If the file is the newest revision already.
        """
        name, there = self.part(part)[1].name, self.part(part)[1].revisions
        _refuse_channel(source, facts, channel)
        if facts.file_sha256 == there[-1].file_sha256 and channel == there[-1].channel:
            raise UseError(
                f"{source} is the edit that part {name!r} has already; save the new one first"
            )
        file = self._copied(source, facts, layout.DI, f"{name}.r{len(there) + 1}")
        one = Revision(file=file, channel=channel, file_sha256=facts.file_sha256)
        session = self._extended(
            lambda text, where: extend.with_revision(text, name, one, where=where)
        )
        journal.append(self.folder, "revision added", part=name, file=file, clock=clock)
        return session

    def add_original(
        self,
        part: str,
        *,
        source: Path,
        facts: AudioFacts,
        name: str,
        channel: int = 1,
        clock: Callable[[], str] = local_now,
    ) -> Session:
        """Copy a recording of the first amp in and note it with a part.

        `UseError` also if the channel cannot be or the disk refuses; ``session.yaml`` is unchanged then.

        Parameters
        ----------
        part
            The part's name.
        source
            The recording.
        facts
            What it is; its checksum must hold for the copy.
        name
            Which microphone or mix it is, such as ``close``.
        channel
            Channel of the file, from 1.
        clock
            Gives the time for the journal.

        Returns
        -------
        Session
            The session with the original in it.

        Raises
        ------
        UseError
            If the part has an original of that name, or one that some disk takes for it.
        """
        of, named = self.part(part)[1], unicodedata.normalize("NFC", name)
        _refuse_bad_name(named)
        if twin_key(named) in {twin_key(one.name) for one in of.originals}:
            raise UseError(
                f"part {of.name!r} has an original {named!r} already; choose another name"
            )
        _refuse_channel(source, facts, channel)
        file = self._copied(source, facts, layout.ORIGINALS, f"{of.name}.{named}")
        one = Original(name=named, file=file, channel=channel, file_sha256=facts.file_sha256)
        session = self._extended(
            lambda text, where: extend.with_original(text, of.name, one, where=where)
        )
        journal.append(self.folder, "original added", part=of.name, file=file, clock=clock)
        return session

    def _song_index(self, name: str | None) -> int:
        names = [song.name for song in self.file.songs]
        if name is None and len(names) == 1:
            return 0
        if name in names:
            return names.index(name)
        which = "name one of several" if name is None else f"there is no song {name!r}"
        raise UseError(f"{self.folder}: {which}; its songs are: {', '.join(names) or 'none yet'}")

    def _refuse_name(self, name: str) -> None:
        _refuse_bad_name(name)
        for song in self.file.songs:
            for part in song.parts:
                if twin_key(part.name) == twin_key(name):
                    raise UseError(
                        f"{self.folder}: part {part.name!r} exists already, and {name!r} would share its "
                        "files; name the new part otherwise, or add the file as a new revision"
                    )

    def _copied(self, source: Path, facts: AudioFacts, room: str, stem: str) -> str:
        """Copy `source` in; return its path relative to the session's folder."""
        copy = copy_in(
            source,
            self.folder / room,
            stem=stem,
            suffix=_SUFFIXES.get(facts.container, ".wav"),
            sha256=facts.file_sha256,
        )
        return f"{room}/{copy.name}"

    def _extended(self, change: Callable[[str, str], str]) -> Session:
        """Extend ``session.yaml`` as it is on disk now, which the engineer may just have edited."""
        path = layout.session_yaml(self.folder)
        text = change(read_text(path), str(path))
        with said_plainly(path, doing="written"):
            write_atomic(path, text)
        return replace(self, file=parse_session(text, where=str(path)))


def _refuse_bad_name(name: str) -> None:
    if problem := name_problem(name):
        raise UseError(problem)


def _refuse_trim(trim_db: float) -> None:
    low, high = TRIM_DB
    if not low <= trim_db <= high:
        raise UseError(
            f"a trim of {trim_db:g} dB is out of range; give one from {low} to {high} dB"
        )


def _refuse_channel(source: Path, facts: AudioFacts, channel: int) -> None:
    if not 1 <= channel <= facts.channels:
        has = "one channel" if facts.channels == 1 else f"{facts.channels} channels"
        raise UseError(f"{source} has {has}, counted from 1; channel {channel} is none of them")
