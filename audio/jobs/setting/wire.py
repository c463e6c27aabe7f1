"""Which inputs hear the send: bursts that rise until they are heard, then a steady tone."""

from __future__ import annotations

import tempfile
from pathlib import Path

from audio.jobs.clicks import STEP_DB, ceiling_for, find_click
from audio.jobs.deck import Deck, StoppedError
from audio.jobs.rolls import captured, made_source, refuse_broken
from audio.jobs.setting.ground import Ground
from audio.verdict.clicks import explain
from audio.verdict.wired import (
    MOVED_DB,
    TONE_GOAL_DB,
    Toned,
    findings_of_wire,
    headline_of_wire,
    heard_enough,
    is_copy,
    summary_of_wire,
)
from audio.vocab.errors import UseError
from audio.vocab.findings import Finding
from audio.vocab.messages import Capture
from audio.vocab.setup import AskWire, Outcome, Row, ToneHeard, WireResult
from audio.vocab.units import signed
from audio.vocab.wiring import Wiring

STEADY_HZ = 625.0
"""Beside the lines of the mains, as the low one of the bursts."""

SETTLED_WINDOWS = 5
"""Fifths of a second of a steady tone until its ramp is over and has arrived."""

ENDING_WINDOWS = 3
"""Fifths of a second in which it falls again."""

LEAST_S = 3.0
"""Shortest steady tone that has such windows between its ramps."""

LEAST_WINDOWS = 5
"""Fewest fifths of a second that say whether anything moved."""

_TURN = "turn the interface's monitor knob all the way, both ways: the witness must not move"

_BY_CLICK = ("fed-back", "repeats-early", "reference-not-first")
"""What the click tells of the wiring beyond the tone."""


def measure_wire(ground: Ground, asked: AskWire) -> Outcome:
    """Send the bursts, name who hears them, and watch the witness under a steady tone."""
    if 0.0 < asked.seconds < LEAST_S:
        raise UseError(f"nobody turns a knob in {asked.seconds:g} s; {LEAST_S:g} s at least, or 0")
    deck = ground.deck
    toned = _raised(ground)
    by_click = _by_click(ground) if len(toned.missing) < len(deck.wiring.returns) else ()
    watched = asked.seconds > 0.0 and not toned.missing
    moved = _moved(ground, toned, asked.seconds) if watched else None
    found = (*findings_of_wire(toned, moved_db=moved, watched=watched), *by_click)
    return Outcome(
        result=WireResult(tone_dbfs=toned.level_dbfs, inputs=toned.inputs, witness_moved_db=moved),
        rows=_rows(toned),
        findings=found,
        headline=headline_of_wire(toned, found),
        summary=summary_of_wire(toned, found),
    )


def _raised(ground: Ground) -> Toned:
    """Raise the bursts until they are heard, never over the click's ceiling."""
    deck = ground.deck
    ceiling = ceiling_for(deck, di_peak_dbfs=None)
    level = min(deck.wiring.click.start_dbfs, ceiling)
    rows: tuple[Row, ...] = ()
    while True:
        say = f"a tone at {signed(level)} dBFS: keep ears away from the speaker"
        ground.show("wire", say, rows)
        toned = _burst(deck, level_dbfs=level, ceiling_dbfs=ceiling)
        rows = _rows(toned)
        ground.show("wire", say, rows)
        if heard_enough(toned):
            return toned
        level = min(level + STEP_DB, ceiling)


def _burst(deck: Deck, *, level_dbfs: float, ceiling_dbfs: float) -> Toned:
    with tempfile.TemporaryDirectory(prefix="secondpass-tone-") as scratch:
        sent, heard = Path(scratch) / "tone.wav", Path(scratch) / "heard.wav"
        rate = deck.opened.sample_rate
        bursts = deck.worker.make_bursts(sent, sample_rate=rate, level_dbfs=level_dbfs)
        inputs = tuple(range(deck.opened.inputs))
        ended = deck.play(
            what="set",
            length_frames=bursts.frames,
            sources=(made_source(sent, deck.wiring, limit_dbfs=ceiling_dbfs),),
            captures=(Capture(path=str(heard), inputs=inputs, depth=32),),
        )
        if ended.reason == "stopped":
            raise StoppedError
        refuse_broken(ended, fault=deck.fault, what="the set-up tone")
        readings = deck.worker.read_bursts(heard, bursts)
    return Toned(
        wiring=deck.wiring,
        inputs=tuple(
            ToneHeard(input=number, name=_name(deck.wiring, number), reading=reading)
            for number, reading in enumerate(readings, start=1)
        ),
        level_dbfs=level_dbfs,
        ceiling_dbfs=ceiling_dbfs,
    )


def _by_click(ground: Ground) -> tuple[Finding, ...]:
    """Return what the test click tells of the wiring: what comes round again, or first from elsewhere."""
    ground.show("wire", "the test click sounds: keep ears away from the speaker")
    click = find_click(ground.deck, ceiling_dbfs=ceiling_for(ground.deck, di_peak_dbfs=None))
    return tuple(one for one in explain(click.heard) if one.code in _BY_CLICK)


def _moved(ground: Ground, toned: Toned, seconds: float) -> float | None:
    """Return how far the witness moves under a steady tone, dB.

    None without a witness, or when the tone was stopped before anything could move: the bursts count.
    """
    deck, wired = ground.deck, ground.deck.wiring.witness_input
    if wired is None:
        return None
    with tempfile.TemporaryDirectory(prefix="secondpass-tone-") as scratch:
        sent, heard = Path(scratch) / "tone.wav", Path(scratch) / "witness.wav"
        rate = deck.opened.sample_rate
        deck.worker.make_tone(
            sent, sample_rate=rate, hz=STEADY_HZ, level_dbfs=toned.level_dbfs, seconds=seconds
        )

        def moved() -> float | None:
            return _span(deck.worker.read_steady(heard, sample_rate=rate, hz=STEADY_HZ))

        ended = deck.play(
            what="set",
            length_frames=round(seconds * rate),
            sources=(made_source(sent, deck.wiring, limit_dbfs=toned.ceiling_dbfs),),
            captures=(captured(heard, input_number=wired),),
            meanwhile=lambda: ground.show("wire", _TURN, (_witness_row(moved()),)),
        )
        refuse_broken(ended, fault=deck.fault, what="the set-up tone")
        return moved()


def _span(levels: tuple[float, ...]) -> float | None:
    """Return how far a steady tone moved once it had settled, dB; None where it was too short."""
    steady = levels[SETTLED_WINDOWS:-ENDING_WINDOWS]
    return max(steady) - min(steady) if len(steady) >= LEAST_WINDOWS else None


def _witness_row(moved: float | None) -> Row:
    moves = moved is not None and moved > MOVED_DB
    return Row(
        name="witness moved",
        value=moved,
        unit="dB",
        high=MOVED_DB,
        word="monitoring reaches the send" if moves else "",
        latched=moves,
    )


def _name(wiring: Wiring, number: int) -> str:
    """Return what the wiring calls an input; empty where it does not."""
    names = {r.input: r.name for r in wiring.returns}
    if wiring.witness_input is not None:
        names[wiring.witness_input] = "witness"
    if wiring.loop is not None:
        names[wiring.loop.input] = "loop"
    return names.get(number, "")


def _rows(toned: Toned) -> tuple[Row, ...]:
    """Return one row for each input that is named or hears the tone: how far over its noise."""
    shown = [one for one in toned.inputs if one.name or one in toned.strays]
    return tuple(_row(one, misplaced=one in toned.misplaced) for one in shown)


def _row(one: ToneHeard, *, misplaced: bool) -> Row:
    reading = one.reading
    word = reading.reason or f"input {one.input}"
    if misplaced:
        word = "wired elsewhere"
    elif one.name not in ("witness", "loop") and is_copy(reading, named=bool(one.name)):
        word = "hears it by wire"
    return Row(
        name=one.name or f"input {one.input}",
        value=reading.over_noise_db,
        unit="dB over noise",
        digits=0,
        low=TONE_GOAL_DB if one.name else None,
        high=None if one.name else 0.0,
        word=word,
    )
