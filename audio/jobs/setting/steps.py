"""A step of the set-up, from what is asked to the record it leaves."""

from __future__ import annotations

from typing import assert_never

from audio.jobs.deck import Deck
from audio.jobs.setting.delay import measure_round_trip
from audio.jobs.setting.ground import Ground
from audio.jobs.setting.polarity import measure_polarity
from audio.jobs.setting.return_gain import measure_return_gain
from audio.jobs.setting.send_level import measure_send_level, part_after
from audio.jobs.setting.silence import measure_silence
from audio.jobs.setting.sound import compare_sound, keep_sound
from audio.jobs.setting.wire import measure_wire
from audio.session.opened import Session
from audio.session.setups import keep, setups
from audio.vocab.session_file import Part
from audio.vocab.setup import (
    Ask,
    AskDelay,
    Asked,
    AskKeepSound,
    AskPolarity,
    AskReturnGain,
    AskSendLevel,
    AskSilence,
    AskSound,
    AskWire,
    Outcome,
    SetupRecord,
)
from audio.vocab.step_names import StepName

STEP_OF: dict[type[Ask], StepName] = {
    AskWire: "wire",
    AskSilence: "silence",
    AskSendLevel: "send level",
    AskReturnGain: "return gain",
    AskPolarity: "polarity",
    AskDelay: "delay",
    AskKeepSound: "sound",
    AskSound: "sound",
}
"""Which step is asked for by what."""


def run_step(deck: Deck, session: Session, asked: Asked, *, chain: str = "") -> SetupRecord:
    """Measure one step and write what it found.

    Parameters
    ----------
    deck
        An open stream; its wiring is what is set up.
    session
        Where the record goes; the caller holds its lock.
    asked
        The step and what it needs to know.
    chain
        What is plugged in; nothing is said of it where it is empty.

    Returns
    -------
    SetupRecord
        Also where the step found something wrong: its findings say what.

    Raises
    ------
    UseError
        If it cannot be measured as asked.
    DeviceError
        If the device or the engine failed.
    StoppedError
        If the listener asked to stop before anything could be measured.
    """
    if chain:
        deck.plug(chain)
    ground = Ground(deck=deck, session=session, chain=chain, records=setups(session).found)
    step = STEP_OF[type(asked)]
    deck.listener.heading(f"{step}, through {chain}" if chain else step)
    outcome, part = _measured(ground, asked)
    return keep(session, step, outcome, wiring=deck.wiring, part=part, chain=chain)


def _measured(  # noqa: PLR0911 - one for each ask
    ground: Ground, asked: Asked
) -> tuple[Outcome, Part | None]:
    """Return what a step found, and the part it belongs to where it belongs to one."""
    match asked:
        case AskWire():
            return measure_wire(ground, asked), None
        case AskSilence():
            return measure_silence(ground, asked), None
        case AskSendLevel():
            part = ground.session.part(asked.part)[1]
            outcome = measure_send_level(ground, asked)
            return outcome, part_after(part, outcome)
        case AskReturnGain():
            return measure_return_gain(ground, asked), None
        case AskKeepSound():
            return keep_sound(ground, asked), None
        case AskSound():
            return compare_sound(ground, asked), None
        case AskPolarity():
            return measure_polarity(ground), None
        case AskDelay():
            return measure_round_trip(ground, asked), None
        case _:
            assert_never(asked)
