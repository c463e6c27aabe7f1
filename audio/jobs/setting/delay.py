"""The round trip of this opening, held against those before it."""

from __future__ import annotations

import msgspec

from audio.jobs.clicks import ceiling_for, find_click
from audio.jobs.delays import told
from audio.jobs.setting.ground import Ground
from audio.plan.setup import of_same_cables
from audio.verdict.clicks import Placement
from audio.verdict.constancy import findings_of_constancy, is_constant
from audio.verdict.heard import Heard
from audio.vocab.delay import Delay
from audio.vocab.errors import UseError
from audio.vocab.setup import AskDelay, DelayResult, Outcome, Row, SetupRecord
from audio.vocab.units import ms_from_frames, signed
from audio.vocab.wiring import Return, Wiring

CABLE = "cable"
"""What the input is called to which a cable was put for one measurement."""


def measure_round_trip(ground: Ground, asked: AskDelay) -> Outcome:
    """Send the test click, through the amp or through a patched cable, and tell the round trip."""
    deck = ground.deck
    patched = asked.patched_input
    wiring = deck.wiring if patched is None else _by_cable(deck.wiring, patched)
    if patched is not None and patched > deck.opened.inputs:
        raise UseError(f"there is no input {patched}; the stream has {deck.opened.inputs}")
    ground.show("delay", "the test click sounds: keep ears away from the speaker")
    ceiling = ceiling_for(deck, di_peak_dbfs=None)
    with ground.patched("amp" if patched is None else "send to input"):
        heard = find_click(deck, ceiling_dbfs=ceiling, wiring=wiring).heard
    result = _result(heard, patched=patched is not None, opening=deck.opened_at)
    before = earlier(ground.records, deck.wiring, patched=patched is not None)
    return Outcome(
        result=result,
        rows=tuple(
            Row(
                name=one.name,
                value=one.delay_ms,
                unit="ms",
                digits=2,
                word=_sure(one.plus_minus_frames),
            )
            for one in result.delay.returns
        ),
        findings=(*result.delay.findings, *findings_of_constancy(result, before)),
        headline=_headline(result.delay),
        summary=_summary(result.delay),
    )


def earlier(
    records: tuple[SetupRecord, ...], wiring: Wiring, *, patched: bool
) -> tuple[DelayResult, ...]:
    """Return what earlier openings of the same cables measured in the same way, oldest first."""
    return tuple(
        one.outcome.result
        for one in of_same_cables(records, wiring)
        if isinstance(one.outcome.result, DelayResult) and one.outcome.result.patched == patched
    )


def patched_delay(records: tuple[SetupRecord, ...], wiring: Wiring) -> Placement | None:
    """Return the converters' own delay, where a patched cable proved it constant; None otherwise."""
    found = earlier(records, wiring, patched=True)
    if not is_constant(found):
        return None
    newest = found[-1]
    return Placement(
        delay_frames=newest.cable_frames,
        plus_minus_frames=newest.cable_plus_minus_frames,
        source="patched cable",
    )


def _by_cable(wiring: Wiring, patched: int) -> Wiring:
    """Return the wiring as it is while a cable leads from the send straight into an input."""
    cable = Return(name=CABLE, input=patched)
    return msgspec.structs.replace(
        wiring, returns=(cable,), reference=CABLE, witness_input=None, loop=None
    )


def _result(heard: Heard, *, patched: bool, opening: str) -> DelayResult:
    cable = heard.reference if patched else heard.loop
    return DelayResult(
        delay=told(heard),
        cable_frames=cable.delay_frames if cable else None,
        cable_plus_minus_frames=cable.plus_minus_frames if cable else None,
        patched=patched,
        opening=opening,
    )


def _sure(plus_minus_frames: float | None) -> str:
    return "" if plus_minus_frames is None else f"± {plus_minus_frames:.2f} frames"


def _headline(delay: Delay) -> str:
    if delay.delay_frames is None or delay.delay_ms is None:
        return delay.findings[0].text if delay.findings else "the test click was not heard"
    sure = _sure(delay.plus_minus_frames)
    around = f", {sure}" if sure else ""
    return (
        f"round trip {signed(delay.delay_frames, digits=2)} frames"
        f" ({signed(delay.delay_ms, digits=2)} ms){around}"
    )


def _summary(delay: Delay) -> str:
    if delay.delay_frames is None:
        return "not heard"
    return f"{ms_from_frames(delay.delay_frames, rate=delay.sample_rate):.2f} ms"
