"""A DI checked by itself, as the command line asks for it: a file, or parts of a session."""

from __future__ import annotations

from pathlib import Path

import msgspec

from audio.grid.bars import BarGrid, bar_grid
from audio.grid.doubles import compare_doubles
from audio.grid.timing import against_recording
from audio.jobs.check_report import FileChecked
from audio.jobs.readiness import beat_note, beside, check_part, judged, part_bars
from audio.jobs.sessions import opened
from audio.jobs.talk import Listener
from audio.jobs.tempos import brought_tempo
from audio.session import layout
from audio.session.model import song_problem
from audio.session.opened import Session
from audio.vocab.checked import Checked, HitsAsked, hits_problem
from audio.vocab.errors import UseError
from audio.vocab.looped import EditGain
from audio.vocab.readiness import DiMeasures, Hit
from audio.vocab.results import AudioFacts
from audio.vocab.session_file import Song
from audio.vocab.tempo import LONGEST_S, TempoMap, steady
from audio.vocab.wiring_file import read_wiring
from audio.work.client import Worker


class Other(msgspec.Struct, frozen=True, kw_only=True):
    """Another recording beside the DI."""

    path: Path
    channel: int = 1
    """From 1."""


class CheckAsked(msgspec.Struct, frozen=True, kw_only=True):
    """What is to be checked, and what it is held against."""

    di: Path
    """A sound file, or a session's folder."""
    part: str | None = None
    """Of a session; all of them where left out."""
    channel: int | None = None
    """Of a file, from 1; the first where left out."""
    bpm: float | None = None
    metre: str | None = None
    tempo: Path | None = None
    first_beat_s: float | None = None
    """Where bar 1 begins, seconds from the DI's first frame."""
    hits: HitsAsked = HitsAsked()
    raw: Other | None = None
    drums: Other | None = None
    double: Other | None = None
    wiring: Path | None = None


def check(asked: CheckAsked, *, listener: Listener) -> tuple[FileChecked, ...]:
    """Check a DI, or the parts of a session.

    Parameters
    ----------
    asked
        Which, and how.
    listener
        Hears what was mended on opening a session.

    Returns
    -------
    tuple of FileChecked
        One for each DI, in the session's order.

    Raises
    ------
    UseError
        If a file cannot be read, there is no such part, or what was asked for does not go together.
    """
    if problem := hits_problem(asked.hits):
        raise UseError(problem)
    is_session = layout.session_yaml(asked.di).exists()
    if problem := _problem(asked, is_session=is_session):
        raise UseError(problem)
    with Worker() as worker:
        if not is_session:
            return (_of_file(asked, worker),)
        with opened(
            asked.di, program="secondpass check", worker=worker, listener=listener
        ) as session:
            return _of_session(asked, session, worker)


def _problem(asked: CheckAsked, *, is_session: bool) -> str:
    """Return what does not go together, or cannot be, with the way out; empty if all of it does."""
    if not is_session:
        return _file_problem(asked)
    given = {
        "--channel": asked.channel,
        "--bpm": asked.bpm,
        "--tempo": asked.tempo,
        "--metre": asked.metre,
        "--first-beat": asked.first_beat_s,
        "--wiring": asked.wiring,
    }
    named = next((flag for flag, value in given.items() if value is not None), None)
    if named is not None:
        return f"{asked.di}: {named} belongs to a file; a session has its own, leave it out"
    others = (asked.raw, asked.drums, asked.double)
    if asked.part is None and any(one is not None for one in others):
        return f"{asked.di}: --raw, --drums and --double are held against one part; name it with --part"
    return ""


def _file_problem(asked: CheckAsked) -> str:
    if asked.part is not None:
        return f"{asked.di}: --part belongs to a session, and this is none; leave it out"
    first = asked.first_beat_s
    if first is not None and not abs(first) <= LONGEST_S:  # also what is no number
        return f"--first-beat {first:g} lies beyond any DI; write seconds from its first frame"
    if first is not None and asked.bpm is None and asked.tempo is None:
        return "--first-beat needs a tempo; give --bpm or --tempo"
    return song_problem(Song(name="a song", bpm=asked.bpm, metre=asked.metre)) or ""


def _of_file(asked: CheckAsked, worker: Worker) -> FileChecked:
    tempo = _tempo(asked)
    measures = worker.check_di(asked.di, channel=(asked.channel or 1) - 1)
    bars = _bars(asked, tempo, measures.facts)
    checked = judged(
        measures,
        bars=bars,
        wiring=read_wiring(asked.wiring) if asked.wiring else None,
        asked=asked.hits,
        edit=_edit(asked, asked.di, measures.facts.channel, worker),
        note=beat_note(tempo),
    )
    return _beside(asked, asked.di.name, checked, bars, worker)


def _of_session(asked: CheckAsked, session: Session, worker: Worker) -> tuple[FileChecked, ...]:
    names = [part.name for song in session.file.songs for part in song.parts]
    if asked.part is not None:
        names = [session.part(asked.part)[1].name]
    return tuple(_of_part(asked, session, name, worker) for name in names)


def _of_part(asked: CheckAsked, session: Session, name: str, worker: Worker) -> FileChecked:
    song, part = session.part(name)
    revision = part.revisions[-1]
    edit = _edit(asked, session.path(revision.file), revision.channel - 1, worker)
    checked = check_part(session, name, worker, asked=asked.hits, edit=edit)
    return _beside(asked, name, checked, part_bars(session, song, checked.measures), worker)


def _tempo(asked: CheckAsked) -> TempoMap | None:
    if asked.tempo is not None:
        return brought_tempo(asked.tempo, metre=asked.metre).map
    return None if asked.bpm is None else steady(asked.bpm, asked.metre)


def _bars(asked: CheckAsked, tempo: TempoMap | None, facts: AudioFacts) -> BarGrid | None:
    """Return where bars lie in a file: bar 1 at its first frame, or where it was said to begin.

    Labels tell places on the recorder's timeline, where the file's time stamp says it lies.
    """
    song = Song(name="", tempo_file="", song_start_s=asked.first_beat_s)
    on_timeline = tempo is not None and tempo.start_s is not None
    if on_timeline and asked.first_beat_s is not None:
        raise UseError(f"{asked.tempo} says itself where bar 1 lies; leave --first-beat out")
    reference = facts.time_reference if on_timeline else 0
    return bar_grid(song, tempo=tempo, time_reference=reference, rate=facts.sample_rate)


def _edit(asked: CheckAsked, path: Path, channel: int, worker: Worker) -> EditGain | None:
    raw = asked.raw
    if raw is None:
        return None
    return worker.compare_edit(raw.path, path, raw_channel=raw.channel - 1, channel=channel)


def _beside(
    asked: CheckAsked, name: str, checked: Checked, bars: BarGrid | None, worker: Worker
) -> FileChecked:
    mine = checked.measures
    drums = double = None
    if asked.drums is not None:
        theirs = _hits_beside(asked.drums, mine, worker)
        drums = against_recording(mine.hits, theirs, rate=mine.facts.sample_rate, bars=bars)
    if asked.double is not None:
        theirs = _hits_beside(asked.double, mine, worker)
        double = compare_doubles(theirs, mine.hits, rate=mine.facts.sample_rate, bars=bars)
    return FileChecked(name=name, checked=checked, drums=drums, double=double)


def _hits_beside(other: Other, mine: DiMeasures, worker: Worker) -> list[Hit]:
    """Return the hits of another recording on the DI's frames."""
    heard = worker.find_hits(other.path, channel=other.channel - 1)
    return beside(heard.hits, heard.facts, mine, called=f"{other.path}")[0]
