"""The cue of a pass: backing track and count-in for the listen outputs, on the frames of the DI.

Both are further sources of the pass's one roll, so they stand by the frame against the DI.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from audio.grid.bars import bar_grid
from audio.grid.count_in import CountIn, count_in
from audio.jobs.cue_sources import PlannedCue, Stretch, backing_place
from audio.jobs.placing import Known
from audio.jobs.tempos import song_tempo
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.results import AudioFacts
from audio.vocab.session_file import Backing, Song
from audio.vocab.tempo import SongTempo
from audio.vocab.units import shortest
from audio.vocab.wiring import Cue, Wiring
from audio.work.client import Worker

LEAD_IN_S = 0.25
"""Silence before whatever plays first."""

MOST_CHANNELS = 16
"""Of a backing track: each is a source of its own."""


def plan_cue(
    worker: Worker,
    session: Session,
    song: Song,
    *,
    wiring: Wiring,
    stretch: Stretch,
    known: Known,
) -> PlannedCue:
    """Look at everything the cue needs, before a number is claimed.

    Parameters
    ----------
    worker
        Reads the backing track through, once in a stream while its file stays as it is.
    session
        Where it lies.
    song
        Its backing track, tempo and metre.
    wiring
        What is heard, and where.
    stretch
        What is played of the DI.
    known
        Remembers what was read.

    Returns
    -------
    PlannedCue
        Without a count-in where the song has no tempo or its file cannot be used, without a backing
        track where it has none.

    Raises
    ------
    UseError
        If the backing track is not the file that was added, not at the wiring's rate, or has more
        channels than anybody hears.
    """
    silence, cue = round(LEAD_IN_S * wiring.sample_rate), wiring.cue
    if cue is None or not wiring.listen_outputs:
        return PlannedCue(lead_in_frames=silence, stretch=stretch)
    backing = _backing(worker, session, song, wiring, known)
    tempo = song_tempo(session, song)
    counted = _counted(song, tempo, cue, stretch, rate=wiring.sample_rate)
    before = max(0, stretch.from_frame - counted.frames[0]) if counted else 0
    planned = PlannedCue(
        lead_in_frames=silence + before, stretch=stretch, backing=backing, counted=counted
    )
    if backing_place(planned) is None:
        planned = replace(planned, backing=None)
    return replace(planned, said=tuple(_said(planned, song, tempo, wiring, cue, read=backing)))


def _backing(
    worker: Worker, session: Session, song: Song, wiring: Wiring, known: Known
) -> AudioFacts | None:
    if wiring.cue is None or wiring.cue.backing_db is None or song.backing is None:
        return None
    facts = _read(worker, session.path(song.backing.file), song.backing, known)
    where = f"the cue's backing track {song.backing.file}"
    if facts.file_sha256 != song.backing.file_sha256:
        raise UseError(
            f"{where} is not the file that was added any more; put that one back, or take backing_db"
            " out of the wiring's cue"
        )
    if facts.sample_rate != wiring.sample_rate:
        raise UseError(
            f"{where} is recorded at {facts.sample_rate} Hz and the wiring runs at"
            f" {wiring.sample_rate} Hz; export it at that rate, or take backing_db out of the wiring's cue"
        )
    if facts.channels > MOST_CHANNELS:
        raise UseError(
            f"{where} has {facts.channels} channels, at most {MOST_CHANNELS} are mixed; export it in"
            " stereo, or take backing_db out of the wiring's cue"
        )
    return facts


def _read(worker: Worker, path: Path, backing: Backing, known: Known) -> AudioFacts:
    """Read a backing track through, unless that was done since its file last changed."""
    try:
        there = path.stat()
        key = (str(path), there.st_size, there.st_mtime_ns)
        if key not in known.backings:
            known.backings[key] = worker.inspect(path)
    except (OSError, UseError) as error:
        reason = error.strerror if isinstance(error, OSError) else error
        raise UseError(
            f"the cue's backing track {backing.file} cannot be read: {reason}; put it back, or take"
            " backing_db out of the wiring's cue"
        ) from error
    return known.backings[key]


def _counted(
    song: Song, tempo: SongTempo, cue: Cue, stretch: Stretch, *, rate: int
) -> CountIn | None:
    grid = bar_grid(song, tempo=tempo.map, time_reference=stretch.time_reference, rate=rate)
    if grid is None or not cue.count_in_bars:
        return None
    return count_in(grid, bars=cue.count_in_bars, music_frame=stretch.music_frame)


# ---------------------------------------------------------------- words


def listened(outputs: tuple[int, ...]) -> str:
    """Return outputs in words: ``output 1``, ``outputs 1 and 2``."""
    *rest, last = [str(number) for number in outputs]
    return f"outputs {', '.join(rest)} and {last}" if rest else f"output {last}"


def _said(
    planned: PlannedCue,
    song: Song,
    tempo: SongTempo,
    wiring: Wiring,
    cue: Cue,
    *,
    read: AudioFacts | None,
) -> list[str]:
    heard = []
    if planned.backing is not None and cue.backing_db is not None:
        heard.append(f"the backing track at {shortest(cue.backing_db)} dB")
    if planned.counted is not None:
        bars = "1 bar" if cue.count_in_bars == 1 else f"{cue.count_in_bars} bars"
        heard.append(f"{bars} counted in to bar {planned.counted.bar}")
    lines = []
    if heard:
        where = listened(wiring.listen_outputs)
        lines.append("keep headphones and monitors low at first: a cue plays")
        lines.append(f"cue on {where}: {', '.join(heard)}")
    return lines + _missing(planned, song, tempo, wiring, cue, read=read)


def _missing(
    planned: PlannedCue,
    song: Song,
    tempo: SongTempo,
    wiring: Wiring,
    cue: Cue,
    *,
    read: AudioFacts | None,
) -> list[str]:
    lines = []
    if cue.backing_db is not None and song.backing is None:
        lines.append(f"{song.name} has no backing track, so none is heard")
    elif read is not None and planned.backing is None:
        lines.append("by its time stamp the backing track lies elsewhere, nothing of it is heard")
    elif read is not None and read.channels > max(2, len(wiring.listen_outputs)):
        where = listened(wiring.listen_outputs)
        lines.append(f"{read.channels} channels of the backing track are folded onto {where}")
    if cue.count_in_bars and planned.counted is None:
        lines.append(f"{song.name} is not counted in: {tempo.problem or 'it has no tempo'}")
    return lines
