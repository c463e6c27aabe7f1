"""A sound that is kept, and found again: one phrase, then and now, held against each other."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from msgspec.structs import replace

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
from audio.vocab.requests import CompareSounds
from audio.vocab.setup import AskKeepSound, AskSound, Outcome, SoundResult
from audio.vocab.sounds import Phrase, Sound, TakenFile

KEPT_CYCLES = 3
"""The first lets amp and echoes settle, the other two are kept: what lies between them is the floor."""

LOOK_S = 5.0
"""How much of the phrase is compared while knobs are turned: enough for a figure, and it follows a hand."""

EVERY_S = 2.0
"""How much of it must be new since the last look."""

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
    whole = _whole(kept, playing, cycle=KEPT_CYCLES - 1)
    floor = _compared(ground, kept, now=playing, stretch=whole)
    return _outcome(kept, floor, kept=True)


def _nothing(there: int) -> None:
    """Look at nothing while the phrase is kept."""


def compare_sound(ground: Ground, asked: AskSound) -> Outcome:
    """Send the phrase again and again and say what is different, every few seconds while knobs are turned.

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
        played = play(ground, playing, cycles=asked.cycles, meanwhile=live.look)
        whole = _whole(was, playing, cycle=played.cycles - 1)
        compared = _compared(ground, was, now=playing, stretch=whole)
    return _outcome(was, compared, kept=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A piece of the phrase as it was sent one of many times."""

    at_frame: int
    """Of the captures of now."""
    into: int
    """Of the phrase."""
    frames: int


def newest_stretch(there: int, *, cycle: int, phrase: int, wanted: int) -> Stretch | None:
    """Return the newest stretch of a phrase that is whole.

    Parameters
    ----------
    there
        Frames of the captures that are on disk.
    cycle
        Frames after which the phrase comes again.
    phrase
        Frames of it without the rest behind it, up to `cycle`.
    wanted
        Frames of the stretch, up to `phrase`.

    Returns
    -------
    Stretch | None
        Never over the end of a phrase: in its rest the last stretch before it; None while there is none.
    """
    if there < wanted:
        return None
    number, into = divmod(there - wanted, cycle)
    into = min(into, phrase - wanted)
    return Stretch(at_frame=number * cycle + into, into=into, frames=wanted)


class _Live:
    """Compares the newest seconds again and again while knobs are turned, and shows it."""

    def __init__(self, ground: Ground, was: Then, playing: Playing) -> None:
        self._ground, self._was, self._playing = ground, was, playing
        rate, sent = ground.deck.opened.sample_rate, playing.sent
        self._wanted = min(round(LOOK_S * rate), sent.frames)
        self._every = round(EVERY_S * rate)
        self._last: int | None = None

    def look(self, there: int) -> None:
        """Look at the newest stretch of so many frames, if enough of it is new."""
        sent = self._playing.sent
        found = newest_stretch(
            there, cycle=sent.cycle_frames, phrase=sent.frames, wanted=self._wanted
        )
        if found is None or not self._is_new(found):
            return
        compared = _compared(self._ground, self._was, now=self._playing, stretch=found)
        self._last = found.at_frame
        judged = judge_likeness(compared)
        self._ground.show("sound", judged.advice or judged.text, rows_of_likeness(compared))

    def _is_new(self, found: Stretch) -> bool:
        return self._last is None or found.at_frame >= self._last + self._every


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


def _whole(was: Then, now: Playing, *, cycle: int) -> Stretch:
    return Stretch(at_frame=now.cycle_at(cycle), into=0, frames=was.frames)


def _compared(ground: Ground, was: Then, *, now: Playing, stretch: Stretch) -> SoundsCompared:
    wiring, loop = ground.deck.wiring, now.click.heard.loop
    inputs = {one.name: one.input for one in wiring.returns}

    def takes(name: str, take: Take, number: int) -> Takes:
        played = Recorded(path=str(now.captures[number]), at_frame=stretch.at_frame)
        again = _into(take.again, stretch) if take.again else None
        return Takes(name=name, kept=_into(take.kept, stretch), again=again, now=played)

    witness, number = was.witness, wiring.witness_input
    cable = loop.delay_frames if loop is not None else None
    later = None
    if cable is not None and was.cable_less_shift is not None:
        later = cable - now.shift_frames - was.cable_less_shift
    return ground.deck.worker.compare_sounds(
        CompareSounds(
            di=Recorded(path=str(was.sent.file), at_frame=stretch.into),
            frames=stretch.frames,
            returns=tuple(takes(name, take, inputs[name]) for name, take in was.returns.items()),
            witness=takes("witness", witness, number) if witness and number else None,
            later_frames=later,
            celsius=wiring.room_celsius,
        )
    )


def _into(then_: Recorded, stretch: Stretch) -> Recorded:
    return replace(then_, at_frame=then_.at_frame + stretch.into)


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
