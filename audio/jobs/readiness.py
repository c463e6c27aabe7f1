"""Is a part's DI ready to be sent: measured once a revision, judged each time it is looked at.

What was measured is remembered; findings and timing follow from it, the wiring and the song's tempo, so
they are worked out anew whenever one of those has changed.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from audio.grid.bars import BarGrid, bar_grid
from audio.grid.doubles import compare_doubles
from audio.grid.places import place_name, subdivision_name
from audio.grid.timing import against_grid, against_own_mean
from audio.jobs.dis import refuse_changed
from audio.jobs.tempos import song_tempo
from audio.session import readiness
from audio.session.opened import Session
from audio.verdict.di_hits import findings_of_hits
from audio.verdict.readiness import Place, findings_of
from audio.verdict.readiness_change import changes
from audio.vocab.checked import Change, Checked, HitsAsked
from audio.vocab.errors import UseError
from audio.vocab.looped import EditGain
from audio.vocab.readiness import DiMeasures, Hit
from audio.vocab.results import AudioFacts
from audio.vocab.session_file import Part, Revision, Song
from audio.vocab.tempo import TempoMap
from audio.vocab.timing import Doubles, NoTiming, Timing
from audio.vocab.wiring import Wiring
from audio.work.client import Worker

BY_ITSELF = HitsAsked()
"""Subdivision and swing are found."""


def measured(session: Session, revision: Revision, worker: Worker) -> DiMeasures:
    """Return what a revision is: as remembered, or measured now and remembered.

    Parameters
    ----------
    session
        Where it lies; the caller holds its lock.
    revision
        One of a part's.
    worker
        Measures it.

    Returns
    -------
    DiMeasures
        All of it.

    Raises
    ------
    UseError
        If the file is not the one that was added any more, or cannot be read or remembered.
    """
    known = readiness.remembered(session, revision)
    if known is not None:
        return known
    found = worker.check_di(session.path(revision.file), channel=revision.channel - 1)
    refuse_changed(session, revision, found.facts)
    readiness.remember(session, revision, found)
    return found


def check_part(
    session: Session,
    name: str,
    worker: Worker,
    *,
    asked: HitsAsked = BY_ITSELF,
    edit: EditGain | None = None,
) -> Checked:
    """Check the newest revision of a part, and tell what changed since the one before.

    Parameters
    ----------
    session
        Its session; the caller holds its lock.
    name
        The part's.
    worker
        Measures what is not remembered.
    asked
        What its hits are held against.
    edit
        The DI held against the raw one, where there is one.

    Returns
    -------
    Checked
        All that is to be said.

    Raises
    ------
    UseError
        As `measured`.
    """
    song, part = session.part(name)
    measures = measured(session, part.revisions[-1], worker)
    tempo, wiring = song_tempo(session, song), _wiring(session)
    accepted = readiness.accepted(session).get((part.name, len(part.revisions)), frozenset())
    checked = judged(
        measures,
        bars=part_bars(session, song, measures),
        wiring=wiring,
        asked=asked,
        edit=edit,
        accepted=accepted,
        no_tempo=tempo.problem,
        note=beat_note(tempo.map),
    )
    return msgspec.structs.replace(
        checked, change=_change(session, song, part, checked, asked=asked, wiring=wiring)
    )


def judged(
    measures: DiMeasures,
    *,
    bars: BarGrid | None,
    wiring: Wiring | None = None,
    asked: HitsAsked = BY_ITSELF,
    edit: EditGain | None = None,
    accepted: frozenset[str] = frozenset(),
    no_tempo: str = "",
    note: int = 4,
) -> Checked:
    """Return what is to be said of a DI that was measured.

    Parameters
    ----------
    measures
        What was measured.
    bars
        Where its song's bars lie; None where no tempo is known.
    wiring
        What it will be sent through; None where it is not known.
    asked
        What its hits are held against.
    edit
        The DI held against the raw one, where there is one.
    accepted
        Codes that somebody said may be sent as they are.
    no_tempo
        Why the song's tempo file cannot be read; empty where it can, or there is none.
    note
        Which note a beat is, the metre's lower number.

    Returns
    -------
    Checked
        All that is to be said.
    """
    timing = _timing(measures, bars, asked)
    found = findings_of(measures, wiring=wiring, edit=edit, place=_placing(bars))
    return Checked(
        measures=measures,
        findings=(*found, *findings_of_hits(measures, timing, no_tempo=no_tempo)),
        timing=timing,
        played_on=_played_on(timing, note),
        accepted=accepted,
    )


def _timing(measures: DiMeasures, bars: BarGrid | None, asked: HitsAsked) -> Timing | NoTiming:
    if bars is None:
        return NoTiming(reason="no tempo", hits=len(measures.hits))
    hold = against_own_mean if asked.own_mean else against_grid
    return hold(
        measures.hits,
        bars,
        rate=measures.facts.sample_rate,
        subdivision=asked.parts,
        swing=asked.swing,
    )


def _played_on(timing: Timing | NoTiming, note: int) -> str:
    if isinstance(timing, NoTiming):
        return ""
    on = timing.subdivision
    return subdivision_name(on.parts, note=note, swing=on.swing)


def beat_note(tempo: TempoMap | None) -> int:
    """Return which note a beat is, as a song begins; 4 where nobody knows."""
    return 4 if tempo is None else tempo.metres[0].metre.note


def _placing(bars: BarGrid | None) -> Place:
    if bars is None:
        return lambda _: ""
    grid = bars

    def place(frame: float) -> str:
        # To the nearest sixteenth of a quarter's beat: a finding is looked for there, not measured.
        beat, step = divmod(round(grid.position(frame) * 4), 4)
        bar, number = grid.named(beat)
        return place_name(bar=bar, beat=number, step=step, parts=4)

    return place


def _change(
    session: Session,
    song: Song,
    part: Part,
    now: Checked,
    *,
    asked: HitsAsked,
    wiring: Wiring | None,
) -> Change | None:
    if len(part.revisions) < 2:
        return None
    before = readiness.remembered(session, part.revisions[-2])
    if before is None:
        return None
    bars = part_bars(session, song, before)
    then = judged(before, bars=bars, wiring=wiring, asked=asked)
    return changes(
        then.findings,
        now.findings,
        hits=(len(before.hits), len(now.measures.hits)),
        timing=(then.timing, now.timing),
    )


def part_bars(session: Session, song: Song, measures: DiMeasures) -> BarGrid | None:
    """Return where a song's bars lie in a DI; None where no tempo is known, or its file cannot be read."""
    facts = measures.facts
    return bar_grid(
        song,
        tempo=song_tempo(session, song).map,
        time_reference=facts.time_reference,
        rate=facts.sample_rate,
    )


def _wiring(session: Session) -> Wiring | None:
    """Return the session's wiring; a check waits for none."""
    try:
        return session.wiring()
    except UseError:
        return None


def compare_parts(session: Session, name: str, other: str, worker: Worker) -> tuple[Doubles, int]:
    """Compare a part's hits with those of another part, or of its song's backing track.

    Parameters
    ----------
    session
        Its session; the caller holds its lock.
    name
        The part's.
    other
        The other part's; empty for the backing track, of which the first channel is taken.
    worker
        Measures what is not remembered.

    Returns
    -------
    tuple of Doubles and int
        Hit by hit; and the frame of the part's DI at which the other recording begins.

    Raises
    ------
    UseError
        As `measured`, and where the song has no backing track, or the two have not one rate.
    """
    song, part = session.part(name)
    mine = measured(session, part.revisions[-1], worker)
    theirs, facts = _hits_of(session, song, other, worker)
    moved, shift = beside(theirs, facts, mine, called=other or "the backing track")
    bars = part_bars(session, song, mine)
    return compare_doubles(moved, mine.hits, rate=mine.facts.sample_rate, bars=bars), shift


def beside(
    hits: Sequence[Hit], facts: AudioFacts, mine: DiMeasures, *, called: str
) -> tuple[list[Hit], int]:
    """Return another recording's hits on a DI's frames, and the DI's frame at which that one begins.

    Both time stamps are of one recorder. `UseError` where the two have not one rate.
    """
    rate = mine.facts.sample_rate
    if facts.sample_rate != rate:
        raise UseError(
            f"{called} is recorded at {facts.sample_rate} Hz and the DI at {rate} Hz; export them at one"
            " rate to compare them"
        )
    shift = facts.time_reference - mine.facts.time_reference
    return [msgspec.structs.replace(hit, frame=hit.frame + shift) for hit in hits], shift


def _hits_of(
    session: Session, song: Song, other: str, worker: Worker
) -> tuple[tuple[Hit, ...], AudioFacts]:
    if other:
        found = measured(session, session.part(other)[1].revisions[-1], worker)
        return found.hits, found.facts
    if song.backing is None:
        raise UseError(
            f"{song.name} has no backing track; add one: secondpass add DIR --backing FILE"
        )
    heard = worker.find_hits(session.path(song.backing.file), channel=0)
    return heard.hits, heard.facts
