"""A sound that is kept, and found again: one phrase, then and now, held against each other."""

from __future__ import annotations

import shutil
import tempfile
from datetime import datetime
from functools import partial
from pathlib import Path

from audio.jobs.deck import StoppedError
from audio.jobs.setting.beside import Beside
from audio.jobs.setting.ground import Ground
from audio.jobs.setting.phrase import Played, Playing, open_phrase, play
from audio.session.disk import local_now
from audio.session.layout import phrase_wav
from audio.session.sounds import claim_sound, sound_named, write_sound
from audio.verdict.likeness import judge_likeness
from audio.verdict.likeness_rows import findings_of_likeness, headline_of_likeness, rows_of_likeness
from audio.vocab.errors import UseError
from audio.vocab.likeness import Recorded, SoundsCompared, Takes
from audio.vocab.results import ClickReading
from audio.vocab.setup import AskKeepSound, AskSound, Outcome, SoundResult
from audio.vocab.sounds import Phrase, Sound, TakenFile
from audio.vocab.work import CompareSounds

PHRASE_S = 15.0
REST_S = 1.5
"""Silence behind the phrase: what rings dies away, and half a second of noise is left to be heard."""

KEPT_CYCLES = 3
"""The first lets amp and echoes settle, the other two are kept: what lies between them is the floor."""

WARM = "valves need 20 to 30 minutes to settle: what is measured before will drift"
"""Common practice, no source."""


def keep_sound(ground: Ground, asked: AskKeepSound) -> Outcome:
    """Record a phrase of a part's DI twice through what is set up now, and keep it under a name.

    `UseError` if the name is taken, the phrase does not lie in the DI or nothing came back of it: then
    the name stays free.

    Parameters
    ----------
    ground
        What it stands on.
    asked
        The name, the part, where the phrase begins, the notes.

    Returns
    -------
    Outcome
        How well it repeats.
    """
    ground.show("sound", f"the phrase plays {KEPT_CYCLES} times: touch nothing; {WARM}")
    folder = claim_sound(ground.session, asked.name)
    try:
        return _kept(ground, asked, folder)
    except (StoppedError, UseError):
        shutil.rmtree(
            folder, ignore_errors=True
        )  # half a sound is none; nobody has heard of it yet
        raise


def _kept(ground: Ground, asked: AskKeepSound, folder: Path) -> Outcome:
    phrase, peak_dbfs = _phrase(ground, asked, folder)
    playing = open_phrase(ground, phrase, folder, peak_dbfs=peak_dbfs)
    played = play(ground, playing, cycles=KEPT_CYCLES, meanwhile=_nothing)
    if played.cycles < KEPT_CYCLES:
        raise UseError("the phrase was stopped before it was recorded twice; nothing was kept")
    sound = _sound(ground, asked, playing, played)
    floor = _compared(ground, sound, now=playing, cycle=KEPT_CYCLES - 1)
    write_sound(ground.session, folder, sound)
    return _outcome(sound, floor, kept=True)


def compare_sound(ground: Ground, asked: AskSound) -> Outcome:
    """Send a kept sound's phrase again and say what is different, cycle by cycle while knobs are turned.

    `UseError` if there is no such sound, or its wiring's rate or returns are not those of now.

    Parameters
    ----------
    ground
        What it stands on.
    asked
        The sound, and how often the phrase plays.

    Returns
    -------
    Outcome
        Of the last whole cycle.
    """
    sound = sound_named(ground.session, asked.name)
    _refuse_other_room(ground, sound)
    ground.show("sound", f"the phrase of {sound.name} plays: turn what is off; {WARM}")
    beside: Beside[SoundsCompared] = Beside()
    with tempfile.TemporaryDirectory(prefix="secondpass-sound-") as scratch:
        facts = ground.deck.worker.inspect(ground.session.path(sound.phrase.file))
        peak = facts.peak_dbfs + sound.phrase.trim_db
        playing = open_phrase(ground, sound.phrase, Path(scratch), peak_dbfs=peak)
        last = [0]

        def look(cycles: int) -> None:
            if cycles > last[0] and beside.is_free:
                last[0] = cycles
                beside.ask(partial(_compared, ground, sound, now=playing, cycle=cycles - 1))
            if beside.newest is not None:
                _show(ground, beside.newest)

        whole = play(ground, playing, cycles=asked.cycles, meanwhile=look)
        beside.join()
        compared = _compared(ground, sound, now=playing, cycle=whole.cycles - 1)
    return _outcome(sound, compared, kept=False)


def _nothing(cycles: int) -> None:
    """Look at nothing while the phrase is kept."""


def _phrase(ground: Ground, asked: AskKeepSound, folder: Path) -> tuple[Phrase, float]:
    """Cut the phrase out of the part's newest DI; return it with its peak as it will be sent."""
    _, part = ground.session.part(asked.part)
    revision, worker = part.revisions[-1], ground.deck.worker
    di = ground.session.path(revision.file)
    facts = worker.inspect(di, channel=revision.channel - 1)
    if facts.sample_rate != ground.deck.opened.sample_rate:
        raise UseError(
            f"{revision.file} is recorded at {facts.sample_rate} Hz and the wiring runs at"
            f" {ground.deck.opened.sample_rate} Hz; set sample_rate in the wiring"
        )
    frames = min(round(PHRASE_S * facts.sample_rate), facts.frames)
    begins = (
        worker.find_loudest(
            di, channel=revision.channel - 1, seconds=frames / facts.sample_rate
        ).at_frame
        if asked.from_s is None
        else round(asked.from_s * facts.sample_rate)
    )
    file = phrase_wav(folder)
    cut = worker.cut_phrase(
        di, channel=revision.channel - 1, from_frame=begins, frames=frames, to=file
    )
    phrase = Phrase(
        part=part.name,
        revision=len(part.revisions),
        from_frame=begins,
        frames=frames,
        rest_frames=round(REST_S * facts.sample_rate),
        trim_db=part.trim_db,
        file=file.relative_to(ground.session.folder).as_posix(),
        loudest_dbfs=cut.loudest_dbfs,
    )
    return phrase, cut.peak_dbfs + part.trim_db


def _sound(ground: Ground, asked: AskKeepSound, playing: Playing, played: Played) -> Sound:
    wiring, heard = ground.deck.wiring, playing.click.heard
    witness = wiring.witness_input

    def file(name: str, number: int) -> TakenFile:
        path = playing.captures[number].relative_to(ground.session.folder)
        sha256 = played.audio_sha256[number]
        return TakenFile(name=name, input=number, path=path.as_posix(), audio_sha256=sha256)

    return Sound(
        name=asked.name,
        made_at=local_now(),
        wiring=wiring,
        chain=ground.chain,
        notes=asked.notes,
        phrase=playing.phrase,
        kept_at=playing.cycle_at(1),
        again_at=playing.cycle_at(2),
        shift_frames=playing.shift_frames,
        files=tuple(file(one.name, one.input) for one in wiring.returns),
        witness=None if witness is None else file("witness", witness),
        click=tuple(heard.of(one) for one in wiring.returns),
        cable_frames=_delay(heard.loop),
    )


def _delay(reading: ClickReading | None) -> float | None:
    return reading.delay_frames if reading is not None else None


def _refuse_other_room(ground: Ground, sound: Sound) -> None:
    wiring = ground.deck.wiring
    if wiring.sample_rate != sound.wiring.sample_rate:
        raise UseError(
            f"{sound.name} was kept at {sound.wiring.sample_rate} Hz and the wiring runs at"
            f" {wiring.sample_rate} Hz; set sample_rate in the wiring"
        )
    names = {one.name for one in wiring.returns}
    missing = [one.name for one in sound.files if one.name not in names]
    if missing:
        raise UseError(
            f"{sound.name} was kept with a return named {missing[0]!r}, which the wiring has not; name the"
            " same microphone so"
        )


def _compared(ground: Ground, sound: Sound, *, now: Playing, cycle: int) -> SoundsCompared:
    session, wiring, loop = ground.session, ground.deck.wiring, now.click.heard.loop
    at = now.cycle_at(cycle)
    inputs = {one.name: one.input for one in wiring.returns}
    witness = None
    if sound.witness is not None and wiring.witness_input is not None:
        path = now.captures[wiring.witness_input]
        witness = _takes(ground, sound, sound.witness, Recorded(path=str(path), at_frame=at))
    later = None
    if witness is None and sound.cable_frames is not None and (d := _delay(loop)) is not None:
        later = (d - now.shift_frames) - (sound.cable_frames - sound.shift_frames)
    return ground.deck.worker.compare_sounds(
        CompareSounds(
            di=Recorded(path=str(session.path(sound.phrase.file))),
            frames=sound.phrase.cycle_frames,
            returns=tuple(
                _takes(
                    ground,
                    sound,
                    one,
                    Recorded(path=str(now.captures[inputs[one.name]]), at_frame=at),
                )
                for one in sound.files
            ),
            witness=witness,
            later_frames=later,
            celsius=wiring.room_celsius,
        )
    )


def _takes(ground: Ground, sound: Sound, file: TakenFile, now: Recorded) -> Takes:
    path = str(ground.session.path(file.path))
    return Takes(
        name=file.name,
        kept=Recorded(path=path, at_frame=sound.kept_at),
        again=Recorded(path=path, at_frame=sound.again_at),
        now=now,
    )


def _show(ground: Ground, compared: SoundsCompared) -> None:
    found = judge_likeness(compared)
    say = found.advice or found.text
    ground.show("sound", say, rows_of_likeness(compared))


def _outcome(sound: Sound, compared: SoundsCompared, *, kept: bool) -> Outcome:
    found = judge_likeness(compared)
    return Outcome(
        result=SoundResult(name=sound.name, kept=kept, compared=compared, moved=found),
        rows=rows_of_likeness(compared),
        findings=findings_of_likeness(found, kept=kept, name=sound.name),
        headline=headline_of_likeness(
            compared, found, kept=kept, name=sound.name, age=_age(sound.made_at)
        ),
        summary="kept" if kept else "same" if found.is_same else found.cause,
    )


def _age(made_at: str) -> str:
    """Return how long ago something was made, in words."""
    ago = datetime.now().astimezone() - datetime.fromisoformat(made_at)
    minutes = int(ago.total_seconds() // 60.0)
    if minutes < 90:
        return f"{minutes} min ago"
    return f"{minutes // 60} h ago" if minutes < 36 * 60 else f"{minutes // 1440} days ago"
