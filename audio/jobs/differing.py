"""What is different between two sounds of a part: their files found, measured, and put in words."""

from __future__ import annotations

from pathlib import Path

from audio.jobs.sections import covered
from audio.jobs.sounds import layers_of
from audio.jobs.tempos import song_tempo
from audio.session import layout, records
from audio.session.folder import open_session
from audio.session.opened import Session
from audio.session.opinions import opinion_of
from audio.verdict.differences import words
from audio.vocab.balance import Balance
from audio.vocab.characters import shown
from audio.vocab.differences import SoundsApart
from audio.vocab.errors import UseError
from audio.vocab.layers import DI, Layer, SoundName, variant_number
from audio.vocab.requests import Differ
from audio.vocab.section import Covers, Section
from audio.work.client import Worker


def differ_alone(
    folder: Path, part: str, a: SoundName, b: SoundName, *, section: Section | None = None
) -> SoundsApart:
    """Return what `sounds_apart` does of a session that is not open; nothing in it is changed."""
    with Worker() as worker:
        return sounds_apart(open_session(folder.absolute()), worker, part, a, b, section=section)


def sounds_apart(
    session: Session,
    worker: Worker,
    part: str,
    a: SoundName,
    b: SoundName,
    *,
    section: Section | None = None,
) -> SoundsApart:
    """Compare two sounds of a part.

    Parameters
    ----------
    session
        Where the files are.
    worker
        Who measures.
    part
        Name of the part.
    a
        The sound that would have to change.
    b
        The sound it is held against.
    section
        The stretch that is compared; all that both hold where left out.

    Returns
    -------
    SoundsApart
        Figures and words.

    Raises
    ------
    UseError
        If there is no such part or sound, they are the same one, the section does not lie in the DI, or a
        file cannot be read.
    """
    name = session.part(part)[1].name
    mine, other = (_layers(session, name, key) for key in (a, b))
    if mine == other:
        raise UseError(f"{name}: {shown(a)!r} and {shown(b)!r} are the same sound; name two")
    di = layers_of(session, name, DI)[0]
    covers = _covers(session, worker, name, section, di) if section else None
    found = worker.differ(
        Differ(
            di=di,
            a=mine,
            b=other,
            from_frame=covers.section_from_frame if covers else 0,
            frames=covers.section_to_frame - covers.section_from_frame if covers else None,
        )
    )
    return SoundsApart(
        part=name,
        a=a,
        b=b,
        a_text=sound_text(session, name, a),
        b_text=sound_text(session, name, b),
        covers=covers.text if covers else "the whole",
        differences=found,
        words=words(found),
    )


def sound_text(session: Session, part: str, key: SoundName) -> str:
    """Return what people call a sound: number and chain of a variant; `UseError` if it cannot be read."""
    if key == DI:
        return "the bare DI"
    number = variant_number(key)
    if number is None:
        return key.replace(":", " ", 1)
    variant = records.read_summary(layout.pass_folder(session.folder, part, number))
    return f"{variant.number:03d} {variant.chain.name}"


def _layers(session: Session, part: str, key: SoundName) -> tuple[Layer, ...]:
    """Return the files of a sound, a variant's microphones as they were last balanced."""
    number = variant_number(key)
    balance = opinion_of(session, part, number).balance if number is not None else Balance()
    return layers_of(session, part, key, balance)


def _covers(session: Session, worker: Worker, part: str, section: Section, di: Layer) -> Covers:
    song = session.part(part)[0]
    facts = worker.inspect(Path(di.path), channel=di.channel)
    return covered(
        section,
        song,
        tempo=song_tempo(session, song),
        time_reference=facts.time_reference,
        frames=facts.frames,
        rate=facts.sample_rate,
    )
