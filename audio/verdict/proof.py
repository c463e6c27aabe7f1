"""Whether the pass lies where it should: the placement, and the closing click against the opening one."""

from __future__ import annotations

from typing import NamedTuple

from audio.verdict.heard import combined, is_placed, is_sharp, moves
from audio.verdict.thresholds import (
    CHAIN_REMOVED_MS,
    CHAIN_TOLD_MS,
    CLICK_MARGIN_FRAMES,
    PLACEMENT_LOOSE_MS,
    SLIP_FRAMES,
)
from audio.vocab.findings import Finding
from audio.vocab.messages import Ended
from audio.vocab.order import Order
from audio.vocab.results import ClickReading
from audio.vocab.units import ms_from_frames

_REASONS = {
    "nothing": "nothing clear of the noise",
    "digital silence": "digital silence",
    "only hum": "only hum",
    "unclear": "the clicks contradict each other",
    "clipped": "the converter clipped",
    None: "none was played",
}

_CUT_SHORT = {"stopped", "dead", "disk", "device", "starved", "closed"}


class Change(NamedTuple):
    """How the arrival of one input moved from the opening click to the closing one, frames."""

    by: float
    plus_minus: float
    sharp: bool
    moving: bool

    @property
    def is_none(self) -> bool:
        """Whether both clicks agree within their uncertainty and `CLICK_MARGIN_FRAMES`."""
        return abs(self.by) <= self.plus_minus + CLICK_MARGIN_FRAMES

    @property
    def is_slip(self) -> bool:
        """Whether both clicks are sharp and a whole frame or more apart, as far as they can tell."""
        far = abs(self.by) >= SLIP_FRAMES - self.plus_minus
        return self.sharp and far and not self.is_none


def change(opening: ClickReading | None, closing: ClickReading | None) -> Change | None:
    """Return how far the closing click came later than the opening one; None where one is missing."""
    if opening is None or closing is None:
        return None
    if opening.peak_delay_frames is None or closing.peak_delay_frames is None:
        return None
    return Change(
        by=closing.peak_delay_frames - opening.peak_delay_frames,
        plus_minus=combined(opening.peak_plus_minus_frames, closing.peak_plus_minus_frames),
        sharp=is_sharp(opening) and is_sharp(closing),
        moving=moves(opening) or moves(closing),
    )


def findings_of_placement(order: Order) -> list[Finding]:
    """Return how the pass was placed, where that is not certain, and what the chain adds."""
    name, said = order.wiring.reference, _opening_reason(order)
    adds = _chain_adds(order)
    if order.delay_source == "none" or order.delay_frames is None:
        text = f"Not placed in time: no opening click on {name} ({said}) and no earlier one."
        advice = (
            "Find out with `secondpass delay` why the click is not heard, then play the pass again."
        )
        return [Finding(code="not-placed", weight="look", text=text, advice=advice), *adds]
    if order.delay_source != "opening click" and not _opening_is_placed(order):
        text = f"No opening click on {name} ({said}): placed by an earlier one."
        advice = "Compare its attacks with the DI's before using it."
        return [Finding(code="placed-by-earlier", weight="look", text=text, advice=advice), *adds]
    return _moving(order) + _loose(order) + adds


def findings_of_closing(
    order: Order,
    ended: Ended,
    closing: tuple[ClickReading, ...],
    closing_witness: ClickReading | None,
) -> list[Finding]:
    """Return what the closing click proves against the opening one.

    Parameters
    ----------
    order
        The pass as ordered, with its opening click.
    ended
        Its end; a pass that was cut short needs no closing click.
    closing
        One reading for each return in the wiring's order, or empty when no closing click was made.
    closing_witness
        The witness's reading of the closing click, the strongest proof there is.

    Returns
    -------
    list of Finding
        ``frames-slipped`` weighs redo, everything else look or good.
    """
    if not _opening_is_placed(order):
        return []
    at = _reference_index(order)
    if not closing or not is_placed(closing[at]):
        return [_no_closing(order, ended, closing[at].reason if closing else None)]
    pairs = zip(order.opening_click, closing, strict=True)
    changes = [change(a, b) for a, b in pairs]
    proof = change(order.witness_click, closing_witness)
    if proof is not None and proof.is_slip:
        return [_slipped("the witness", proof)]
    here = changes[at]
    if here is None or here.is_none:
        return []
    others = [c for i, c in enumerate(changes) if i != at and c is not None and c.sharp]
    return [_differs(order, here, others, proven=proof is not None and proof.sharp)]


def _differs(order: Order, here: Change, others: list[Change], *, proven: bool) -> Finding:
    name = order.wiring.reference
    apart = f"The closing click came {_by(here)} than the opening one on {name}"
    if here.moving:
        text = f"{apart}: the clicks differ, the chain moves; the music is the evidence."
        advice = "Compare its attacks with the DI's at the start and at the end."
        return Finding(code="chain-moves", weight="look", text=text, advice=advice)
    alone = [
        c
        for c in others
        if abs(c.by - here.by) > c.plus_minus + here.plus_minus + CLICK_MARGIN_FRAMES
    ]
    if proven or alone:
        text = f"{apart}, but no frame was lost: a knob, a pedal or the microphone moved."
        advice = "Check the microphone's place; listen to the end of the pass."
        return Finding(code="click-moved", weight="look", text=text, advice=advice)
    if here.is_slip:
        return _slipped(name, here)
    text = f"{apart}: less sure than it should be."
    advice = "Listen to the end of the pass against the DI."
    return Finding(code="clicks-differ", weight="look", text=text, advice=advice)


def _slipped(name: str, here: Change) -> Finding:
    word = "inserted" if here.by > 0 else "lost"
    text = f"The closing click came {_by(here)} than the opening one on {name}: frames were {word}."
    advice = (
        "Close other programs or set a larger block_frames in the wiring, then play the pass again."
    )
    return Finding(code="frames-slipped", weight="redo", text=text, advice=advice)


def _by(here: Change) -> str:
    return f"{abs(here.by):.2f} frames {'later' if here.by > 0 else 'earlier'}"


def _no_closing(order: Order, ended: Ended, reason: str | None) -> Finding:
    if reason is None and ended.reason in _CUT_SHORT:
        text = "No closing click: the pass ended early."
        return Finding(code="no-closing-click", weight="good", text=text)
    text = f"No closing click on {order.wiring.reference}: {_REASONS[reason]}."
    advice = (
        "Listen to the end of the pass against the DI; check the chain with `secondpass delay`."
    )
    return Finding(code="no-closing-click", weight="look", text=text, advice=advice)


def _moving(order: Order) -> list[Finding]:
    reading = order.opening_click[_reference_index(order)]
    if not moves(reading):
        return []
    scatter = f"{reading.spread_frames or 0.0:.1f} frames on {order.wiring.reference}"
    text = f"The opening clicks scatter by {scatter}: the chain moves."
    advice = "The music is the evidence: compare its attacks with the DI's."
    return [Finding(code="chain-moves", weight="look", text=text, advice=advice)]


def _loose(order: Order) -> list[Finding]:
    width, rate = order.plus_minus_frames, order.wiring.sample_rate
    if width is None or ms_from_frames(width, rate=rate) <= PLACEMENT_LOOSE_MS:
        return []
    text = f"Placed only to ± {width:.1f} frames ({ms_from_frames(width, rate=rate):.2f} ms)."
    advice = (
        "Raise the preamp of the reference return, or quieten the chain, and play the pass again."
    )
    return [Finding(code="placement-loose", weight="look", text=text, advice=advice)]


def _chain_adds(order: Order) -> list[Finding]:
    adds = order.chain_adds_frames
    ms = 0.0 if adds is None else ms_from_frames(adds, rate=order.wiring.sample_rate)
    if ms < CHAIN_TOLD_MS:
        return []
    if ms > CHAIN_REMOVED_MS:
        text = f"The chain's first arrival is {ms:.1f} ms late: music, so it stays."
        return [Finding(code="chain-late", weight="good", text=text)]
    text = f"This chain adds {ms:.2f} ms, removed with the round trip."
    return [Finding(code="chain-adds", weight="good", text=text)]


def _reference_index(order: Order) -> int:
    return [r.name for r in order.wiring.returns].index(order.wiring.reference)


def _opening_is_placed(order: Order) -> bool:
    return bool(order.opening_click) and is_placed(order.opening_click[_reference_index(order)])


def _opening_reason(order: Order) -> str:
    if not order.opening_click:
        return _REASONS[None]
    return _REASONS[order.opening_click[_reference_index(order)].reason]
