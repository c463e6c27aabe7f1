"""A sound that is kept, and found again: one phrase, then and now, held against each other."""

from __future__ import annotations

import shutil
import tempfile
from datetime import datetime
from pathlib import Path

from audio.jobs.deck import StoppedError
from audio.jobs.setting.ground import Ground
from audio.jobs.setting.phrase import Played, Playing, open_phrase, play
from audio.jobs.setting.then import Cut, Take, Then, cut, then
from audio.session.disk import local_now
from audio.session.layout import phrase_wav
from audio.session.sounds import claim_sound, write_sound
from audio.verdict.likeness import judge_likeness
from audio.verdict.likeness_rows import (
    findings_of_likeness,
    headline_of_likeness,
    rows_of_likeness,
)
from audio.vocab.errors import UseError
from audio.vocab.likeness import Recorded, SoundsCompared, Takes
from audio.vocab.setup import AskKeepSound, AskSound, Outcome, SoundResult
from audio.vocab.sounds import Phrase, Sound, TakenFile
from audio.vocab.work import CompareSounds

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
    found = cut(ground, asked.part, from_s=asked.from_s, to=phrase_wav(folder))
    playing = open_phrase(ground, found.sent, folder)
    played = play(ground, playing, cycles=KEPT_CYCLES, meanwhile=_nothing)
    if played.cycles < KEPT_CYCLES:
        raise UseError("the phrase was stopped before it was recorded twice; nothing was kept")
    sound = _sound(ground, asked, found, playing, played)
    write_sound(ground.session, folder, sound)
    kept = then(ground, sound.name, folder)
    floor = _compared(ground, kept, now=playing, cycle=KEPT_CYCLES - 1)
    return _outcome(kept, floor, kept=True)


def _nothing(cycles: int) -> None:
    """Look at nothing while the phrase is kept."""


def compare_sound(ground: Ground, asked: AskSound) -> Outcome:
    """Send the phrase again and say what is different, cycle by cycle while knobs are turned.

    `UseError` if there is no such sound, or it cannot be compared with this wiring.

    Parameters
    ----------
    ground
        What it stands on.
    asked
        What to hold it against, and how often the phrase plays.

    Returns
    -------
    Outcome
        Of the last whole cycle.
    """
    with tempfile.TemporaryDirectory(prefix="secondpass-sound-") as scratch:
        was = then(ground, asked.name, Path(scratch))
        _refuse_other_returns(ground, was)
        ground.show("sound", f"the phrase of {was.name} plays: turn what is off; {WARM}")
        playing = open_phrase(ground, was.sent, Path(scratch))
        live = _Live(ground, was, playing)
        whole = play(ground, playing, cycles=asked.cycles, meanwhile=live.look)
        compared = _compared(ground, was, now=playing, cycle=whole.cycles - 1)
    return _outcome(was, compared, kept=False)


class _Live:
    """Compares each whole cycle while the next one rolls, and shows it."""

    def __init__(self, ground: Ground, was: Then, playing: Playing) -> None:
        self._ground, self._was, self._playing = ground, was, playing
        self._seen = 0

    def look(self, cycles: int) -> None:
        """Look at the newest of so many whole cycles, if it is a new one."""
        if cycles == self._seen:
            return
        self._seen = cycles
        compared = _compared(self._ground, self._was, now=self._playing, cycle=cycles - 1)
        found = judge_likeness(compared)
        self._ground.show("sound", found.advice or found.text, rows_of_likeness(compared))


def _sound(
    ground: Ground, asked: AskKeepSound, found: Cut, playing: Playing, played: Played
) -> Sound:
    wiring, heard, folder = ground.deck.wiring, playing.click.heard, ground.session.folder
    witness, loop, sent = wiring.witness_input, heard.loop, found.sent

    def file(name: str, number: int) -> TakenFile:
        path = playing.captures[number].relative_to(folder)
        sha256 = played.audio_sha256[number]
        return TakenFile(name=name, input=number, path=path.as_posix(), audio_sha256=sha256)

    return Sound(
        name=asked.name,
        made_at=local_now(),
        wiring=wiring,
        chain=ground.chain,
        notes=asked.notes,
        phrase=Phrase(
            part=found.part.name,
            revision=len(found.part.revisions),
            from_frame=found.from_frame,
            frames=sent.frames,
            rest_frames=sent.rest_frames,
            trim_db=sent.trim_db,
            file=sent.file.relative_to(folder).as_posix(),
            loudest_dbfs=sent.loudest_dbfs,
        ),
        kept_at=playing.cycle_at(1),
        again_at=playing.cycle_at(2),
        shift_frames=playing.shift_frames,
        files=tuple(file(one.name, one.input) for one in wiring.returns),
        witness=None if witness is None else file("witness", witness),
        click=tuple(heard.of(one) for one in wiring.returns),
        cable_frames=loop.delay_frames if loop is not None else None,
    )


def _refuse_other_returns(ground: Ground, was: Then) -> None:
    names = {one.name for one in ground.deck.wiring.returns}
    missing = [name for name in was.returns if name not in names]
    if missing:
        raise UseError(
            f"{was.name} was recorded with a return named {missing[0]!r}, which the wiring has not;"
            " name the same microphone so"
        )


def _compared(ground: Ground, was: Then, *, now: Playing, cycle: int) -> SoundsCompared:
    wiring, loop = ground.deck.wiring, now.click.heard.loop
    inputs = {one.name: one.input for one in wiring.returns}

    def takes(name: str, take: Take, number: int) -> Takes:
        played = Recorded(path=str(now.captures[number]), at_frame=now.cycle_at(cycle))
        return Takes(name=name, kept=take.kept, again=take.again, now=played)

    witness, number = was.witness, wiring.witness_input
    cable = loop.delay_frames if loop is not None else None
    later = None
    if cable is not None and was.cable_less_shift is not None:
        later = cable - now.shift_frames - was.cable_less_shift
    return ground.deck.worker.compare_sounds(
        CompareSounds(
            di=Recorded(path=str(was.sent.file)),
            frames=was.frames,
            returns=tuple(takes(name, take, inputs[name]) for name, take in was.returns.items()),
            witness=takes("witness", witness, number) if witness and number else None,
            later_frames=later,
            celsius=wiring.room_celsius,
        )
    )


def _outcome(was: Then, compared: SoundsCompared, *, kept: bool) -> Outcome:
    found = judge_likeness(compared)
    return Outcome(
        result=SoundResult(name=was.name, kept=kept, compared=compared, moved=found),
        rows=rows_of_likeness(compared),
        findings=findings_of_likeness(found, kept=kept, name=was.name),
        headline=headline_of_likeness(
            compared, found, kept=kept, name=was.name, age=_age(was.made_at)
        ),
        summary="kept" if kept else "same" if found.is_same else found.cause,
    )


def _age(made_at: str) -> str:
    """Return how long ago something was made, in words; empty where nobody knows."""
    if not made_at:
        return ""
    ago = datetime.now().astimezone() - datetime.fromisoformat(made_at)
    minutes = int(ago.total_seconds() // 60.0)
    if minutes < 90:
        return f"{minutes} min ago"
    return f"{minutes // 60} h ago" if minutes < 36 * 60 else f"{minutes // 1440} days ago"
