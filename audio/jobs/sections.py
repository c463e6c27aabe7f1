"""What a section covers: bars and seconds in frames of a DI, with what is played before and after it."""

from __future__ import annotations

from fractions import Fraction

from audio.grid.bars import BarGrid, bar_grid
from audio.vocab.errors import UseError
from audio.vocab.section import Covers, Section
from audio.vocab.session_file import Song
from audio.vocab.tempo import SongTempo
from audio.vocab.units import clock_time

LEAD_IN_S = 2.0
"""DI that is played ahead of a section: compressors stand after some hundred milliseconds, most echoes and
springs have built up in two seconds (common practice, no source); the joint lies in its last part."""

LEAD_OUT_S = 1.0
"""DI that is played behind a section: enough to choose a joint in."""

ANY_RATE = 48_000
"""Where only it matters that bars lie somewhere."""

SHORTEST_S = 0.1
"""A section shorter than a note is a slip of the finger."""


def covered(
    section: Section,
    song: Song,
    *,
    tempo: SongTempo,
    time_reference: int,
    frames: int,
    rate: int,
) -> Covers:
    """Return what a pass over a section plays.

    Parameters
    ----------
    section
        Bars of the song, or seconds from the DI's first frame.
    song
        Of which it is a section.
    tempo
        Of that song: says where bars lie.
    time_reference
        The DI's time stamp.
    frames
        Of the DI.
    rate
        Frames a second.

    Returns
    -------
    Covers
        With a lead-in of `LEAD_IN_S` and a lead-out of `LEAD_OUT_S`, or what the DI has. Bars that begin
        before the DI, or end after it, are cut to it.

    Raises
    ------
    UseError
        If the song has no tempo, or nobody can read its tempo file, or the section does not lie in the DI.
    """
    if section.from_bar is not None:
        grid = _grid(section, song, tempo, time_reference=time_reference, rate=rate)
        first, last = _of_bars(section, grid, frames=frames)
    else:
        first, last = _of_seconds(section, frames=frames, rate=rate)
    if last - first < SHORTEST_S * rate:
        raise UseError(f"{section} is too short: less than {SHORTEST_S:g} s of it lie in the DI")
    begin = max(0, first - round(LEAD_IN_S * rate))
    end = min(frames, last + round(LEAD_OUT_S * rate))
    return Covers(
        text=str(section),
        from_frame=begin,
        frames=end - begin,
        section_from_frame=first,
        section_to_frame=last,
    )


def bars_problem(section: Section, song: Song, tempo: SongTempo) -> str:
    """Return why nobody knows where bars of a song lie, in one sentence; empty where it is known.

    Whether they lie in a DI only `covered` tells.
    """
    if section.from_bar is None:
        return ""
    try:
        _grid(section, song, tempo, time_reference=0, rate=ANY_RATE)
    except UseError as error:
        return str(error)
    return ""


def _grid(
    section: Section, song: Song, tempo: SongTempo, *, time_reference: int, rate: int
) -> BarGrid:
    if tempo.problem:
        raise UseError(f"{section}: {tempo.problem}; until then ask for seconds, such as 12.5-18 s")
    grid = bar_grid(song, tempo=tempo.map, time_reference=time_reference, rate=rate)
    if grid is None:
        raise UseError(
            f"{section}: {song.name} has no tempo, so nobody knows where its bars lie; write bpm: and"
            " metre: beside its name in session.yaml, or ask for seconds, such as 12.5-18 s"
        )
    return grid


def _of_bars(section: Section, grid: BarGrid, *, frames: int) -> tuple[int, int]:
    first_bar, last_bar = section.from_bar or 1, section.to_bar or 1
    first, last = grid.frame(first_bar), grid.frame(last_bar + 1)
    there = (max(1, grid.bar_at(0)), grid.bar_at(frames - 1))
    if grid.frame(last_bar) >= frames or last <= 0:
        if there[1] < 1:
            raise UseError(
                f"{section}: bar 1 begins behind the DI's end; correct song_start_s in session.yaml, or"
                " ask for seconds"
            )
        raise UseError(
            f"{section}: the DI holds bars {there[0]} to {there[1]}; ask for some of them"
        )
    return max(first, 0), min(last, frames)


def _of_seconds(section: Section, *, frames: int, rate: int) -> tuple[int, int]:
    # As they are written: 0.1 is a tenth, whatever a float makes of it.
    first, last = (
        round(Fraction(str(value or 0.0)) * rate) for value in (section.from_s, section.to_s)
    )
    if last > frames:
        length = f"{frames / rate:.2f} s ({clock_time(frames / rate)})"
        raise UseError(f"{section}: the DI is {length} long; ask for a stretch of that")
    return first, last
