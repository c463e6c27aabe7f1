"""Whether the amp still sees what it saw: the witness of a pass against how the send level was set."""

from __future__ import annotations

from typing import NamedTuple

from audio.verdict.case import Case, usable
from audio.verdict.siblings import was_wired, wired, wiring_of
from audio.verdict.thresholds import SEND_MOVED_DB
from audio.vocab.alignment import Alignment
from audio.vocab.findings import Finding
from audio.vocab.variant import Variant


class _Before(NamedTuple):
    """What the witness is held against."""

    gain_db: float
    """Over what was sent, the trim taken off."""
    when: str


def findings_of_send(case: Case) -> list[Finding]:
    """Return ``send-level-moved``, look, where the witness hears the send otherwise than it did.

    It is held against the set-up of the send level, where that holds now; else against the chain's newest
    variant made with the same wiring at the same trim: what was turned on purpose is told once.
    """
    now = _over_sent(case.measures.witness, case.order.trim_db)
    before = _set_up(case) or _earlier(case)
    if now is None or before is None:
        return []
    moved = now - before.gain_db
    if abs(moved) < SEND_MOVED_DB:
        return []
    way = "hotter" if moved > 0 else "weaker"
    text = f"The witness hears the send {abs(moved):.1f} dB {way} than {before.when}."
    advice = "Somebody turned the reamp box's trim or the interface's output? Measure the send level again."
    return [Finding(code="send-level-moved", weight="look", text=text, advice=advice)]


def _over_sent(witness: Alignment | None, trim_db: float) -> float | None:
    """Return the witness's gain over what was sent; None where it is no evidence."""
    known = usable(witness)
    return None if known is None or known.gain_db is None else known.gain_db - trim_db


def _set_up(case: Case) -> _Before | None:
    gain = case.order.witness_gain_db
    return None if gain is None else _Before(gain, "when the send level was set")


def _earlier(case: Case) -> _Before | None:
    for variant in reversed(case.before):
        if variant.state != "kept":  # what was cut off holds too little to tell a gain by
            continue
        gain = _over_sent(variant.witness, variant.trim_db)
        if gain is not None and _is_alike(case, variant):
            return _Before(gain, f"in pass {variant.number:03d}")
    return None


def _is_alike(case: Case, variant: Variant) -> bool:
    wiring = case.order.wiring
    number = wiring.witness_input
    then = wiring_of(variant).get("witness_input")
    if number is None or then != number or variant.trim_db != case.order.trim_db:
        return False
    return was_wired(variant, number) == wired(wiring, number)
