"""What is refused before anything is added to a session: one sentence each, with the way out."""

from __future__ import annotations

from pathlib import Path

from audio.session.model import TRIM_DB, song_problem
from audio.vocab.characters import shown
from audio.vocab.errors import UseError
from audio.vocab.names import LONGEST_NAME_BYTES, name_problem, shortened, slug, twin_key
from audio.vocab.results import AudioFacts
from audio.vocab.session_file import SessionFile, Song


def song_index(folder: Path, file: SessionFile, name: str | None) -> int:
    """Return which song is meant; None means the only one. `UseError` naming the songs there are."""
    names = [song.name for song in file.songs]
    if name is None and len(names) == 1:
        return 0
    if name in names:
        return names.index(name)
    which = "name one of several" if name is None else f"there is no song {shown(name)!r}"
    raise UseError(f"{folder}: {which}; its songs are: {', '.join(names) or 'none yet'}")


def refuse_song(folder: Path, file: SessionFile, song: Song) -> None:
    """Raise `UseError` if a new song cannot be, or one of that name, however cased, is there."""
    if problem := song_problem(song):
        raise UseError(problem)
    for there in file.songs:
        if twin_key(there.name) == twin_key(song.name):
            raise UseError(
                f"{folder}: there is a song {there.name!r} already; give the new one another name, or "
                "add the part to that one with `secondpass add --song`"
            )


def refuse_metre(song: Song, metre: str | None) -> None:
    """Raise `UseError` if a metre that is given with a tempo file is none, or not the song's."""
    if metre is None:
        return
    if problem := song_problem(Song(name=song.name, metre=metre)):
        raise UseError(problem)
    if song.metre not in (None, metre):
        raise UseError(
            f"song {song.name!r} is in {song.metre}, not in {metre}; leave --metre out, or correct it in"
            " session.yaml"
        )


def refuse_part_name(folder: Path, file: SessionFile, name: str) -> None:
    """Raise `UseError` if a new part cannot be called that, or some disk takes it for another."""
    refuse_bad_name(name)
    for song in file.songs:
        for part in song.parts:
            if twin_key(part.name) == twin_key(name):
                raise UseError(
                    f"{folder}: part {part.name!r} exists already, and {name!r} would share its "
                    "files; name the new part otherwise, or add the file as a new revision"
                )


def refuse_bad_name(name: str) -> None:
    """Raise `UseError` if a name cannot be a piece of a file name."""
    if problem := name_problem(name):
        raise UseError(problem)


def refuse_trim(trim_db: float) -> None:
    """Raise `UseError` if a trim is out of range."""
    low, high = TRIM_DB
    if not low <= trim_db <= high:
        raise UseError(
            f"a trim of {trim_db:g} dB is out of range; give one from {low} to {high} dB"
        )


def refuse_channel(source: Path, facts: AudioFacts, channel: int) -> None:
    """Raise `UseError` if a file does not have a channel, counted from 1."""
    if not 1 <= channel <= facts.channels:
        has = "one channel" if facts.channels == 1 else f"{facts.channels} channels"
        raise UseError(f"{source} has {has}, counted from 1; channel {channel} is none of them")


def file_stem(name: str) -> str:
    """Return a name, which may be any text, as a file name without its ending."""
    piece = shortened(slug(name), longest_bytes=LONGEST_NAME_BYTES - 2)
    return piece if name_problem(piece) is None else f"{piece}-1"  # Windows keeps it for a device
