"""The send level of a part: the amp must see what the guitar gave it."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

import msgspec

from audio.jobs.deck import StoppedError
from audio.jobs.dis import read_di
from audio.jobs.rolls import captured
from audio.jobs.setting.ground import Ground
from audio.jobs.setting.looped import Looped, as_sent, go_round, make_looped
from audio.jobs.setting.meters import input_row
from audio.jobs.setting.refusals import input_of
from audio.jobs.setting.voltmeter import read_volts
from audio.session.model import TRIM_DB
from audio.verdict.edited import constant_gain_db
from audio.verdict.sent import (
    LEAK_DB,
    WITHIN_DB,
    difference_db,
    findings_of_send_level,
    headline_of_send_level,
    summary_of_send_level,
    what_to_do,
)
from audio.vocab.errors import UseError
from audio.vocab.looped import CopyBack, EditGain
from audio.vocab.results import AudioFacts
from audio.vocab.session_file import Part
from audio.vocab.setup import AskSendLevel, Outcome, Row, SendLevelResult
from audio.vocab.units import signed
from audio.vocab.volts import dbv_from_volts, volts_from_dbu

CYCLE_S = 2.0
"""Long enough for a figure to a hundredth of a dB, short enough to turn a knob by."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What a send level is measured of; nothing of it changes meanwhile."""

    ground: Ground
    asked: AskSendLevel
    part: Part
    facts: AudioFacts
    di_input: int | None
    """From 1."""
    edit: EditGain | None
    raw: str

    @property
    def edit_db(self) -> float:
        return constant_gain_db(self.edit)


def measure_send_level(ground: Ground, asked: AskSendLevel) -> Outcome:
    """Let the DI's loudest go round through the reamp box and its own input, or ask a voltmeter."""
    part = ground.session.part(asked.part)[1]
    facts = read_di(ground.deck.worker, ground.session, part, ground.deck.wiring)
    edit, raw = _edit(ground, asked, part)
    noted = part.recorded.input if part.recorded else None
    one = _Asked(
        ground=ground,
        asked=asked,
        part=part,
        facts=facts,
        di_input=noted if asked.di_input is None else asked.di_input,
        edit=edit,
        raw=raw,
    )
    if asked.method == "voltmeter":
        result = _by_voltmeter(one)
        loudest = facts.loudest_dbfs
    else:
        result, loudest = _by_loop(one)
    result = _with_trim(one, result)
    return Outcome(
        result=result,
        rows=_rows(result),
        findings=findings_of_send_level(result, part=part.name, loudest_dbfs=loudest),
        headline=headline_of_send_level(result, part=part.name),
        summary=summary_of_send_level(result),
    )


def part_after(part: Part, outcome: Outcome) -> Part:
    """Return the part as a send level left it: with the trim that was set, if one was."""
    result = outcome.result
    if not isinstance(result, SendLevelResult) or result.set_trim_db is None:
        return part
    return msgspec.structs.replace(part, trim_db=result.set_trim_db)


# ------------------------------------------------------------------ by loop


def _by_loop(one: _Asked) -> tuple[SendLevelResult, float]:
    """Return what came back, and the RMS of the stretch that was sent as its file holds it."""
    deck, number = one.ground.deck, input_of(one.part, one.di_input)
    if not 1 <= number <= deck.opened.inputs:
        raise UseError(f"there is no input {number}; the stream has {deck.opened.inputs}")
    looped = make_looped(deck, one.ground.session, one.part, one.facts, seconds=CYCLE_S)
    with (
        one.ground.patched("box to DI input"),
        tempfile.TemporaryDirectory(prefix="secondpass-send-") as scratch,
    ):
        copy, witness = _went_round(one, looped, Path(scratch))
        elsewhere = None
        if _difference(one, copy) is None:
            elsewhere = _elsewhere(one, looped, Path(scratch))
    result = SendLevelResult(
        method="loop",
        di_input=one.di_input,
        cable=one.asked.cable,
        unmoved=one.asked.unmoved,
        trim_db=one.part.trim_db,
        difference_db=_difference(one, copy),
        copy=copy,
        elsewhere_input=elsewhere,
        witness_gain_db=witness.gain_db if witness else None,
        edit=one.edit,
        raw=one.raw,
    )
    return result, looped.stretch.rms_dbfs


def _difference(one: _Asked, copy: CopyBack) -> float | None:
    return difference_db(copy, trim_db=one.part.trim_db, edit_db=one.edit_db)


def _went_round(one: _Asked, looped: Looped, scratch: Path) -> tuple[CopyBack, CopyBack | None]:
    """Return what came back at the DI's input, and at the witness where that hears it, too.

    `StoppedError` if it was stopped before a whole cycle had gone round.
    """
    ground, wiring, number = one.ground, one.ground.deck.wiring, one.di_input or 0
    sent = scratch / "sent.wav"
    paths = {at: scratch / f"in-{at}.wav" for at in {number, wiring.witness_input or number}}

    def read(at: int) -> CopyBack | None:
        return ground.deck.worker.read_copy(
            sent, paths[at], sample_rate=looped.rate, round_=looped.round
        )

    def look() -> None:
        ground.show("send level", _say(one), _live(one, read(number)))

    captures = [captured(path, input_number=at) for at, path in paths.items()]
    captures.append(as_sent(sent, output_number=wiring.send_output))
    go_round(ground.deck, looped, tuple(captures), cycles=one.asked.cycles, look=look)
    copy = read(number)
    if copy is None:
        raise StoppedError
    return copy, read(wiring.witness_input) if wiring.witness_input else None


def _elsewhere(one: _Asked, looped: Looped, scratch: Path) -> int | None:
    """Return the input, from 1, on which the box comes in instead; None where it is on none."""
    deck = one.ground.deck
    wiring = deck.wiring
    known = {one.di_input, wiring.witness_input, wiring.loop.input if wiring.loop else None}
    others = [number for number in range(1, deck.opened.inputs + 1) if number not in known]
    sent = scratch / "sent-again.wav"
    paths = {number: scratch / f"in-{number}.wav" for number in others}
    captures = [captured(path, input_number=number) for number, path in paths.items()]
    one.ground.show("send level", "nothing there: the other inputs are listened to")
    go_round(
        deck,
        looped,
        (as_sent(sent, output_number=wiring.send_output), *captures),
        cycles=1,
        look=lambda: None,
    )
    read = deck.worker.read_copy
    heard = [
        (_gain(read(sent, path, sample_rate=looped.rate, round_=looped.round)), number)
        for number, path in paths.items()
    ]
    gain, number = max(heard, default=(LEAK_DB, 0))
    return number if gain > LEAK_DB else None


def _gain(copy: CopyBack | None) -> float:
    return LEAK_DB if copy is None or copy.gain_db is None else copy.gain_db


# ------------------------------------------------------------------ by voltmeter


def _by_voltmeter(one: _Asked) -> SendLevelResult:
    wiring, recorded = one.ground.deck.wiring, one.part.recorded
    full_scale = one.asked.full_scale_dbu
    box = read_volts(
        one.ground,
        volts=one.asked.volts,
        peak_dbfs=one.facts.peak_dbfs + one.part.trim_db,
        send_full_scale_dbu=wiring.send_full_scale_dbu if full_scale is None else full_scale,
    )
    difference = None
    if recorded is not None and recorded.full_scale_dbu is not None:
        guitar_dbu = recorded.full_scale_dbu - (recorded.pad_db or 0.0)
        difference = box.full_scale_dbu + one.part.trim_db - guitar_dbu + one.edit_db
    return SendLevelResult(
        method="voltmeter",
        di_input=one.di_input,
        cable=one.asked.cable,
        unmoved=one.asked.unmoved,
        trim_db=one.part.trim_db,
        difference_db=difference,
        box=box,
        edit=one.edit,
        raw=one.raw,
    )


# ------------------------------------------------------------------ the edit and the trim


def _edit(ground: Ground, asked: AskSendLevel, part: Part) -> tuple[EditGain | None, str]:
    """Hold the newest revision against the raw DI, where one is at hand."""
    newest, first = part.revisions[-1], part.revisions[0]
    if asked.raw is None and len(part.revisions) < 2:
        return None, ""
    path = Path(asked.raw) if asked.raw is not None else ground.session.path(first.file)
    edit = ground.deck.worker.compare_edit(
        path,
        ground.session.path(newest.file),
        raw_channel=0 if asked.raw is not None else first.channel - 1,
        channel=newest.channel - 1,
    )
    return edit, path.name if asked.raw is not None else "revision 1"


def _with_trim(one: _Asked, result: SendLevelResult) -> SendLevelResult:
    """Set the part's trim, where that was asked for and can be."""
    if not one.asked.apply_trim or result.difference_db is None:
        return result
    if abs(result.difference_db) <= WITHIN_DB:
        return result
    trim = round(one.part.trim_db - result.difference_db, 1)
    problem = _trim_problem(one, result, trim)
    if problem:
        return msgspec.structs.replace(result, trim_problem=problem)
    one.ground.session.set_trim(one.part.name, trim)
    return msgspec.structs.replace(result, set_trim_db=trim)


def _trim_problem(one: _Asked, result: SendLevelResult, trim: float) -> str:
    if not result.unmoved:
        return "The trim was left alone: nobody confirmed that the figure can be trusted."
    low, high = TRIM_DB
    if not low <= trim <= high:
        return (
            f"The trim was left alone: {signed(trim, digits=1)} dB is out of its range"
            f" ({signed(low)} to {high} dB); set the reamp box instead."
        )
    over = one.facts.peak_dbfs + trim
    if over > 0.0 and trim > one.part.trim_db:
        return (
            f"The trim was left alone: with {signed(trim, digits=1)} dB the DI's peak would clip by"
            f" {over:.1f} dB; turn the reamp box's trim up instead."
        )
    return ""


# ------------------------------------------------------------------ what is shown


def _say(one: _Asked) -> str:
    cable = f" ({one.asked.cable})" if one.asked.cable else ""
    return (
        f"amp on standby; reamp box's output into input {one.di_input}{cable}, pad and gain as they were:"
        " set the box's trim"
    )


def _live(one: _Asked, copy: CopyBack | None) -> tuple[Row, ...]:
    meter = input_row(one.ground.deck.status(), one.di_input or 0)
    if copy is None:
        return (_difference_row(None), meter)
    return (_difference_row(_difference(one, copy)), *_path_rows(copy), meter)


def _rows(result: SendLevelResult) -> tuple[Row, ...]:
    rows = [_difference_row(result.difference_db)]
    if result.copy is not None:
        rows += _path_rows(result.copy)
    if (box := result.box) is not None:
        rows += [
            _volts_row("box, full scale", box.full_scale_dbu),
            _volts_row("box, DI's peak", box.peak_dbu),
            Row(name="box's loss", value=box.loss_db, unit="dB"),
        ]
    if result.edit is not None:
        gain, notes = result.edit.gain_db, f"{result.edit.notes} notes"
        rows.append(Row(name=f"edit over {result.raw}", value=gain, unit="dB", word=notes))
    return tuple(rows)


def _volts_row(name: str, dbu: float) -> Row:
    volts = volts_from_dbu(dbu)
    word = f"{volts:.3g} V, {signed(dbv_from_volts(volts), digits=1)} dBV"
    return Row(name=name, value=dbu, unit="dBu", word=word)


def _difference_row(difference: float | None) -> Row:
    return Row(
        name="amp sees",
        value=difference,
        unit="dB",
        low=-WITHIN_DB,
        high=WITHIN_DB,
        word="" if difference is None else what_to_do(difference),
    )


def _path_rows(copy: CopyBack) -> list[Row]:
    hum = f"hum at {copy.hum_hz} Hz" if copy.hum_hz else ""
    turned = "" if copy.polarity == "normal" else f"polarity {copy.polarity}"
    return [
        Row(name="highs", value=copy.highs_db, unit="dB", word=turned),
        Row(name="noise", value=copy.noise_dbfs, unit="dBFS", word=hum),
    ]
