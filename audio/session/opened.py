"""An open session: its songs and parts, its wiring, and adding to it.

Whoever adds holds the session's lock (`audio.session.lock`). Files are written before ``session.yaml``
names them: a crash in between leaves a file nobody names, never a name without its file.
"""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

import msgspec

from audio.files.tempo import TempoFile
from audio.files.text import write_atomic, write_new
from audio.session import extend, journal, layout
from audio.session.checks import (
    file_stem,
    refuse_bad_name,
    refuse_channel,
    refuse_metre,
    refuse_part_name,
    refuse_song,
    refuse_trim,
    song_index,
)
from audio.session.copying import copy_in, names_in_turn
from audio.session.disk import local_now, said_plainly
from audio.session.model import parse_session
from audio.vocab.characters import shown
from audio.vocab.errors import UseError
from audio.vocab.names import twin_key
from audio.vocab.results import AudioFacts
from audio.vocab.session_file import Backing, Original, Part, Recorded, Revision, SessionFile, Song
from audio.vocab.strict_yaml import read_text
from audio.vocab.wiring import Wiring
from audio.vocab.wiring_file import parse_wiring, read_wiring
from audio.vocab.wiring_text import wiring_text

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

    def inside(self, text: str) -> str:
        """Return a message for somebody elsewhere: its paths begin at the session's folder."""
        return text.replace(f"{self.folder}{os.sep}", "")

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
        raise UseError(f"{self.folder}: there is no part {shown(name)!r}; {way_out}")

    def song(self, name: str | None = None) -> Song:
        """Return a song; its name may be left out where there is only one, else `UseError`."""
        return self.file.songs[song_index(self.folder, self.file, name)]

    def add_song(
        self,
        name: str,
        *,
        bpm: float | None = None,
        metre: str | None = None,
        song_start_s: float | None = None,
        clock: Callable[[], str] = local_now,
    ) -> Session:
        """Note a song that has no part yet; `UseError` if a value cannot be or the song is there.

        Parameters
        ----------
        name
            The song's name.
        bpm
            Quarter notes a minute, 20 to 400.
        metre
            Such as ``4/4``.
        song_start_s
            Where bar 1 lies on the recorder's timeline, seconds, 0 to 86 400.
        clock
            Gives the time for the journal.

        Returns
        -------
        Session
            The session with the song in it.
        """
        song = Song(name=name, bpm=bpm, metre=metre, song_start_s=song_start_s)
        refuse_song(self.folder, self.file, song)
        session = self._extended(lambda text, where: extend.with_song(text, song, where=where))
        journal.append(self.folder, "song added", song=name, clock=clock)
        return session

    def add_backing(
        self,
        song: str | None,
        *,
        source: Path,
        facts: AudioFacts,
        clock: Callable[[], str] = local_now,
    ) -> Session:
        """Copy a backing track in and note it with a song.

        `UseError` also if the disk refuses; ``session.yaml`` is unchanged then.

        Parameters
        ----------
        song
            The song's name; None where there is only one.
        source
            The backing track, of any number of channels.
        facts
            What it is; its checksum must hold for the copy.
        clock
            Gives the time for the journal.

        Returns
        -------
        Session
            The session with the backing track in it.

        Raises
        ------
        UseError
            If the song has a backing track.
        """
        at = song_index(self.folder, self.file, song)
        of = self.file.songs[at]
        extend.refuse_second_backing(of, where=str(layout.session_yaml(self.folder)))
        file = self._copied(source, facts, layout.BACKING, file_stem(of.name))
        one = Backing(file=file, file_sha256=facts.file_sha256)
        session = self._extended(
            lambda text, where: extend.with_backing(text, at, one, where=where)
        )
        journal.append(self.folder, "backing added", song=of.name, file=file, clock=clock)
        return session

    def add_tempo(
        self,
        song: str | None,
        tempo: TempoFile,
        *,
        metre: str | None = None,
        clock: Callable[[], str] = local_now,
    ) -> Session:
        """Copy a tempo file in and note it with a song; it rules from then on, whatever ``bpm`` is.

        `UseError` also if the disk refuses; ``session.yaml`` is unchanged then.

        Parameters
        ----------
        song
            The song's name; None where there is only one.
        tempo
            The file; its checksum must hold for the copy.
        metre
            Noted with it, such as ``3/4``; None leaves the song's as it is.
        clock
            Gives the time for the journal.

        Returns
        -------
        Session
            The session with the tempo file in it.

        Raises
        ------
        UseError
            If the song has a tempo file, or another metre.
        """
        at = song_index(self.folder, self.file, song)
        of = self.file.songs[at]
        refuse_metre(of, metre)
        extend.refuse_second_tempo(of, where=str(layout.session_yaml(self.folder)))
        file = self._tempo_copied(tempo, of.name)
        new = metre if of.metre is None else None
        session = self._extended(
            lambda text, where: extend.with_tempo(text, at, file, metre=new, where=where)
        )
        journal.append(self.folder, "tempo added", song=of.name, file=file, clock=clock)
        return session

    def choose_wiring(
        self, wiring: Wiring, *, name: str, clock: Callable[[], str] = local_now
    ) -> Session:
        """Write a wiring as a new file of the session, and make it the one the passes use.

        No file is ever replaced: where the name is taken, the next free one is used.

        Parameters
        ----------
        wiring
            The wiring.
        name
            What the file is named after; becomes small letters, digits and dashes.
        clock
            Gives the time for the journal.

        Returns
        -------
        Session
            The session with that wiring.

        Raises
        ------
        UseError
            If the wiring contradicts itself or the disk refuses (nothing is chosen then), or if
            ``session.yaml`` is written in a way that cannot be changed safely: the new file is there
            then, and the sentence says which line names it.
        """
        text = wiring_text(wiring)
        parse_wiring(text, where=f"the wiring {name!r}")
        file = self._written(layout.WIRINGS, file_stem(name), text)
        session = self._extended(lambda old, where: extend.with_wiring(old, file, where=where))
        journal.append(self.folder, "wiring chosen", file=file, clock=clock)
        return session

    def add_part(
        self,
        *,
        source: Path,
        facts: AudioFacts,
        channel: int = 1,
        name: str | None = None,
        song: str | Song | None = None,
        tempo: TempoFile | None = None,
        trim_db: float = 0.0,
        recorded: Recorded | None = None,
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
            The song's name; may be left out where there is only one. A `Song` without parts that is not
            there yet is added with the part, both or neither.
        tempo
            A new song's tempo file.
        trim_db
            Gain of the DI on its way out, −60 to 24.
        recorded
            How it was recorded, where somebody knows.
        clock
            Gives the time for the journal.

        Returns
        -------
        Session
            The session with the part in it.
        """
        named = unicodedata.normalize("NFC", source.stem if name is None else name)
        refuse_part_name(self.folder, self.file, named)
        put_in = self._putting_a_part(song, tempo)
        refuse_trim(trim_db)
        refuse_channel(source, facts, channel)
        file = self._copied(source, facts, layout.DI, f"{named}.r1")
        revision = Revision(file=file, channel=channel, file_sha256=facts.file_sha256)
        part = Part(name=named, trim_db=trim_db, revisions=(revision,), recorded=recorded)
        session = self._extended(lambda text, where: put_in(text, part, where))
        if isinstance(song, Song):
            journal.append(self.folder, "song added", song=song.name, clock=clock)
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
        refuse_channel(source, facts, channel)
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
        refuse_bad_name(named)
        if twin_key(named) in {twin_key(one.name) for one in of.originals}:
            raise UseError(
                f"part {of.name!r} has an original {named!r} already; choose another name"
            )
        refuse_channel(source, facts, channel)
        file = self._copied(source, facts, layout.ORIGINALS, f"{of.name}.{named}")
        one = Original(name=named, file=file, channel=channel, file_sha256=facts.file_sha256)
        session = self._extended(
            lambda text, where: extend.with_original(text, of.name, one, where=where)
        )
        journal.append(self.folder, "original added", part=of.name, file=file, clock=clock)
        return session

    def set_trim(
        self, part: str, trim_db: float, *, clock: Callable[[], str] = local_now
    ) -> Session:
        """Change the trim of a part; nothing else of ``session.yaml`` changes.

        Parameters
        ----------
        part
            The part's name.
        trim_db
            Gain of its DI on its way out, −60 to 24.
        clock
            Gives the time for the journal.

        Returns
        -------
        Session
            The session with that trim.

        Raises
        ------
        UseError
            If there is no such part, the trim is out of range, the disk refuses, or the file is written
            in a way that cannot be changed safely; ``session.yaml`` is unchanged then.
        """
        name = self.part(part)[1].name
        refuse_trim(trim_db)
        session = self._extended(
            lambda text, where: extend.with_trim(text, name, trim_db, where=where)
        )
        journal.append(self.folder, "trim set", part=name, trim_db=trim_db, clock=clock)
        return session

    def _putting_a_part(
        self, song: str | Song | None, tempo: TempoFile | None
    ) -> Callable[[str, Part, str], str]:
        """Return what puts a part into a text of ``session.yaml``; `UseError` if the song cannot be."""
        if isinstance(song, Song):
            refuse_song(self.folder, self.file, song)
            return lambda text, part, where: extend.with_song(
                text, self._whole(song, part, tempo), where=where
            )
        at = song_index(self.folder, self.file, song)
        return lambda text, part, where: extend.with_part(text, at, part, where=where)

    def _whole(self, song: Song, part: Part, tempo: TempoFile | None) -> Song:
        """Return a new song with its part and its tempo file, which is copied in."""
        file = None if tempo is None else self._tempo_copied(tempo, song.name)
        return msgspec.structs.replace(song, parts=(part,), tempo_file=file)

    def _tempo_copied(self, tempo: TempoFile, song: str) -> str:
        folder, stem = self.folder / layout.TEMPO, file_stem(song)
        copy = copy_in(tempo.path, folder, stem=stem, suffix=tempo.suffix, sha256=tempo.sha256)
        return f"{layout.TEMPO}/{copy.name}"

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

    def _written(self, room: str, stem: str, text: str) -> str:
        """Write a text under a name that is free; return its path relative to the session's folder."""
        folder = self.folder / room
        with said_plainly(folder, doing="written"):
            folder.mkdir(exist_ok=True)
            for path in names_in_turn(folder, stem, ".yaml"):
                with suppress(FileExistsError):
                    write_new(path, text)
                    break
        return f"{room}/{path.name}"

    def _extended(self, change: Callable[[str, str], str]) -> Session:
        """Extend ``session.yaml`` as it is on disk now, which the engineer may just have edited."""
        path = layout.session_yaml(self.folder)
        text = change(read_text(path), str(path))
        with said_plainly(path, doing="written"):
            write_atomic(path, text)
        return replace(self, file=parse_session(text, where=str(path)))
