"""Where the bars of a session's songs lie: the one place that reads their tempo files.

A song has a tempo by its ``bpm``, or by its ``tempo_file``, which rules where both are given.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from audio.files.tempo import TempoFile, look_at_tempo, read_tempo
from audio.grid.bars import BarGrid, bar_grid
from audio.session.disk import said_plainly
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.session_file import Song
from audio.vocab.tempo import SongTempo, TempoRead, metre_of, steady


def song_tempo(session: Session, song: Song) -> SongTempo:
    """Return the tempo of a song; what is wrong with its file is said, not raised.

    A file that is still the one that was read is not read again.
    """
    if song.tempo_file is None:
        return plain_tempo(song)
    path = session.path(song.tempo_file)
    return _read(str(path), _stamp(path), song.metre)


def tempos_of(session: Session) -> tuple[TempoRead, ...]:
    """Return what the tempo files of a session say, a value for each file and metre."""
    wanted = {
        (song.tempo_file, song.metre): song
        for song in session.file.songs
        if song.tempo_file is not None
    }
    return tuple(
        TempoRead(file, metre, song_tempo(session, song)) for (file, metre), song in wanted.items()
    )


def told_tempo(song: Song, told: tuple[TempoRead, ...]) -> SongTempo:
    """Return the tempo of a song from what was read of the session's files: none is touched."""
    if song.tempo_file is None:
        return plain_tempo(song)
    unread = SongTempo(problem=f"{song.tempo_file} was not read; open the session again")
    found = (one.tempo for one in told if (one.file, one.metre) == (song.tempo_file, song.metre))
    return next(found, unread)


def plain_tempo(song: Song) -> SongTempo:
    """Return the tempo that stands in ``session.yaml`` itself; no map where there is none."""
    return SongTempo() if song.bpm is None else SongTempo(map=steady(song.bpm, song.metre))


def part_bpm(
    song: Song, tempo: SongTempo, *, time_reference: int, frame: int = 0, rate: int
) -> float | None:
    """Return the one tempo by which echoes of a part are told: that of the first bar that begins in it.

    Parameters
    ----------
    song
        Of the part.
    tempo
        Of the song.
    time_reference
        The DI's time stamp.
    frame
        Where what is played of the DI begins.
    rate
        Frames a second.

    Returns
    -------
    float | None
        Quarter notes a minute: the song's own number where it has no tempo file; None without a tempo.
    """
    if song.tempo_file is None:
        return song.bpm
    grid = bar_grid(song, tempo=tempo.map, time_reference=time_reference, rate=rate)
    return None if grid is None else first_bar_bpm(grid, frame)


def first_bar_bpm(grid: BarGrid, frame: int) -> float:
    """Return the tempo of the first bar that begins at a frame or behind it, quarter notes a minute."""
    bar = grid.bar_at(frame)
    bar += grid.frame(bar) < frame
    return grid.bpm_at(grid.exact(grid.first_beat_of(bar)))


def brought_tempo(path: Path, *, metre: str | None, song_metre: str | None = None) -> TempoFile:
    """Return a tempo file that somebody adds, read and understood.

    Parameters
    ----------
    path
        The file.
    metre
        As it was given with it; None where it was not.
    song_metre
        As the song has it already; used where the file tells none.

    Returns
    -------
    TempoFile
        What it is.

    Raises
    ------
    UseError
        If it cannot be read or used, or begins in another metre than was given.
    """
    with said_plainly(path, doing="read"):
        found = look_at_tempo(path, metre=metre or song_metre)
    begins = found.map.metres[0].metre
    if metre is not None and begins != metre_of(metre):
        raise UseError(
            f"{path} begins in {begins}, not in {metre}; leave the metre out, the file has its own"
        )
    return found


def _stamp(path: Path) -> tuple[int, int, int]:
    """Return when a file was written, its size and number on the disk; zeros where it cannot be seen."""
    try:
        seen = path.stat()
    except OSError:  # reading it says what is wrong
        return (0, 0, 0)
    return (seen.st_mtime_ns, seen.st_size, seen.st_ino)


@lru_cache(maxsize=256)
def _read(path: str, stamp: tuple[int, int, int], metre: str | None) -> SongTempo:  # noqa: ARG001 - the stamp tells files apart
    try:
        with said_plainly(Path(path), doing="read"):
            return SongTempo(map=read_tempo(Path(path), metre=metre))
    except UseError as error:
        return SongTempo(problem=str(error))
