"""The return gain: where the part is loudest, how loud the microphones come in."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

from audio.jobs.deck import StoppedError
from audio.jobs.dis import read_di
from audio.jobs.rolls import captured
from audio.jobs.setting.ground import Ground
from audio.jobs.setting.idle import dead_end
from audio.jobs.setting.looped import Looped, as_sent, go_round, make_looped
from audio.jobs.setting.meters import has_clipped, input_row
from audio.jobs.setting.refusals import refuse_levels
from audio.verdict.gained import (
    findings_of_return_gain,
    headline_of_return_gain,
    summary_of_return_gain,
    what_to_turn,
)
from audio.vocab.looped import CopyBack, CycleLevels
from audio.vocab.messages import DeadEnd
from audio.vocab.setup import AskReturnGain, Outcome, ReturnGainResult, ReturnLevel, Row
from audio.vocab.wiring import Return

CYCLE_S = 4.0

_Read = Callable[[Return], CycleLevels | None]


def measure_return_gain(ground: Ground, asked: AskReturnGain) -> Outcome:
    """Let the part's loudest go round through chain and amp, and measure the returns."""
    refuse_levels(asked)
    deck, wiring = ground.deck, ground.deck.wiring
    part = ground.session.part(asked.part)[1]
    facts = read_di(deck.worker, ground.session, part, wiring)
    looped = make_looped(deck, ground.session, part, facts, seconds=CYCLE_S)
    clipped = dict.fromkeys((one.name for one in wiring.returns), False)
    dead = dead_end(deck, loudest_dbfs=facts.loudest_dbfs + part.trim_db)
    with tempfile.TemporaryDirectory(prefix="secondpass-gain-") as scratch:
        levels, witness = _went_round(ground, asked, looped, Path(scratch), clipped, dead=dead)
    result = ReturnGainResult(
        low_dbfs=asked.low_dbfs,
        high_dbfs=asked.high_dbfs,
        stretch=looped.stretch,
        returns=tuple(
            ReturnLevel(name=one.name, input=one.input, cycle=cycle, clipped=clipped[one.name])
            for one, cycle in zip(wiring.returns, levels, strict=True)
        ),
        dba=asked.dba,
        part=part.name,
        witness_gain_db=witness.gain_db if witness else None,
    )
    return Outcome(
        result=result,
        rows=tuple(
            row for one in result.returns for row in _rows(asked, one.name, one.cycle, clipped)
        ),
        findings=findings_of_return_gain(result),
        headline=headline_of_return_gain(result),
        summary=summary_of_return_gain(result),
    )


def _went_round(
    ground: Ground,
    asked: AskReturnGain,
    looped: Looped,
    scratch: Path,
    clipped: dict[str, bool],
    *,
    dead: DeadEnd,
) -> tuple[list[CycleLevels], CopyBack | None]:
    """Return the last cycle of each return, and what the witness heard where one is wired.

    Where nothing answered, what was recorded until the sound was stopped.

    `StoppedError` if there was no whole cycle. `clipped` learns which return reached full scale at any
    time.
    """
    deck, wiring = ground.deck, ground.deck.wiring
    paths = {one.name: scratch / f"{one.input}.wav" for one in wiring.returns}

    def read(one: Return) -> CycleLevels | None:
        return deck.worker.read_cycle(paths[one.name], sample_rate=looped.rate, round_=looped.round)

    def look() -> None:
        _note_clips(ground, clipped)
        ground.show("return gain", _SAY, _live(ground, asked, read, clipped))

    captures = [captured(paths[one.name], input_number=one.input) for one in wiring.returns]
    sent, witness = scratch / "sent.wav", scratch / "witness.wav"
    if wiring.witness_input is not None:
        captures += [
            as_sent(sent, output_number=wiring.send_output),
            captured(witness, input_number=wiring.witness_input),
        ]
    ended = go_round(deck, looped, tuple(captures), cycles=asked.cycles, look=look, dead=dead)
    for one, recorded in zip(wiring.returns, ended.recorded, strict=False):
        clipped[one.name] |= recorded.clipped_samples[0] > 0
    if ended.reason == "dead":
        return [_unanswered(ground, paths[one.name]) for one in wiring.returns], None
    known = [cycle for cycle in map(read, wiring.returns) if cycle is not None]
    if len(known) < len(wiring.returns):
        raise StoppedError
    if wiring.witness_input is None:
        return known, None
    copy = deck.worker.read_copy(sent, witness, sample_rate=looped.rate, round_=looped.round)
    return known, copy


def _unanswered(ground: Ground, path: Path) -> CycleLevels:
    """Return what a return recorded until the sound was stopped because nothing came back: its noise."""
    facts = ground.deck.worker.inspect(path)
    return CycleLevels(
        peak_dbfs=facts.peak_dbfs,
        true_peak_dbfs=facts.peak_dbfs,
        rms_dbfs=facts.loudest_dbfs,
        clipped_samples=0,
        noise_dbfs=facts.loudest_dbfs,
    )


_SAY = "the amp plays the part's loudest, again and again: mind your ears; set each preamp into the window"


def _note_clips(ground: Ground, clipped: dict[str, bool]) -> None:
    status = ground.deck.status()
    for one in ground.deck.wiring.returns:
        clipped[one.name] |= has_clipped(status, one.input)


def _live(
    ground: Ground, asked: AskReturnGain, read: _Read, clipped: dict[str, bool]
) -> tuple[Row, ...]:
    rows: list[Row] = []
    for one in ground.deck.wiring.returns:
        cycle = read(one)
        if cycle is None:
            rows.append(input_row(ground.deck.status(), one.input, name=one.name))
        else:
            rows += _rows(asked, one.name, cycle, clipped)
    return tuple(rows)


def _rows(
    asked: AskReturnGain, name: str, cycle: CycleLevels, clipped: dict[str, bool]
) -> list[Row]:
    word = what_to_turn(
        cycle, clipped=clipped[name], low_dbfs=asked.low_dbfs, high_dbfs=asked.high_dbfs
    )
    return [
        Row(
            name=name,
            value=cycle.peak_dbfs,
            unit="dBFS",
            low=asked.low_dbfs,
            high=asked.high_dbfs,
            word=word,
            latched=clipped[name],
        ),
        Row(name=f"{name}, true peak", value=cycle.true_peak_dbfs, unit="dBTP"),
    ]
