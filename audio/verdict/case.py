"""The case of one pass: everything it is judged by, and the plain questions every rule asks of it."""

from __future__ import annotations

from typing import NamedTuple

import msgspec

from audio.verdict.heard import combined, is_placed, is_sharp, moves
from audio.verdict.thresholds import CABLE_SURE, CLICK_MARGIN_FRAMES, MUSIC_SURE, SLIP_FRAMES
from audio.vocab.alignment import Alignment
from audio.vocab.messages import Ended
from audio.vocab.order import Order
from audio.vocab.results import ClickReading, PassMeasures
from audio.vocab.variant import Variant


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

    @property
    def is_whole(self) -> bool:
        """Whether the distance may be a whole number of frames: what is lost is lost whole."""
        return abs(self.by - round(self.by)) <= self.plus_minus + CLICK_MARGIN_FRAMES

    @property
    def proves(self) -> bool:
        """Whether both clicks are sharp and agree: no frame went missing between them."""
        return self.sharp and self.is_none


class Case(msgspec.Struct, frozen=True, kw_only=True):
    """One pass before its judge."""

    order: Order
    ended: Ended
    measures: PassMeasures
    closing: tuple[ClickReading, ...] = ()
    """In the wiring's order; empty when there was no closing click."""
    closing_witness: ClickReading | None = None
    closing_loop: ClickReading | None = None
    before: tuple[Variant, ...] = ()
    """Earlier variants of the part, oldest first."""

    @property
    def rate(self) -> int:
        """Frames a second."""
        return self.order.wiring.sample_rate

    def di_s(self, frame: int) -> float:
        """Return where a frame of the files lies, seconds from the DI's first frame."""
        return self.order.from_s + frame / self.rate

    @property
    def names(self) -> tuple[str, ...]:
        """The returns, in the wiring's order."""
        return tuple(r.name for r in self.order.wiring.returns)

    @property
    def at(self) -> int:
        """Index of the reference return."""
        return self.order.wiring.reference_at

    @property
    def opening_click(self) -> ClickReading | None:
        """What the reference heard of the opening click; None when none was played."""
        return self.order.opening_click[self.at] if self.order.opening_click else None

    @property
    def opening_is_placed(self) -> bool:
        """Whether the reference heard the opening click well enough to tell when."""
        return self.opening_click is not None and is_placed(self.opening_click)

    @property
    def moving(self) -> bool:
        """Whether the clicks at either end scatter as through a modulation."""
        ends = (self.opening_click, self.closing[self.at] if self.closing else None)
        return any(moves(one) for one in ends if one is not None)

    @property
    def whole(self) -> bool:
        """Whether the DI was played to its end and nothing cut the pass short."""
        return self.ended.went_on

    @property
    def changes(self) -> list[Change | None]:
        """How each return's closing click moved; empty without a closing click."""
        pairs = zip(self.order.opening_click, self.closing, strict=False)
        return [change(a, b) for a, b in pairs]

    @property
    def here(self) -> Change | None:
        """How the reference's closing click moved."""
        changes = self.changes
        return changes[self.at] if changes else None

    @property
    def loop_change(self) -> Change | None:
        """How the loop's closing click moved."""
        return change(self.order.loop_click, self.closing_loop)

    @property
    def witness_change(self) -> Change | None:
        """How the witness's closing click moved."""
        return change(self.order.witness_click, self.closing_witness)

    @property
    def music(self) -> Alignment | None:
        """The music's alignment where it may be evidence."""
        return usable(self.measures.music, least=MUSIC_SURE)


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


def usable(alignment: Alignment | None, *, least: float = CABLE_SURE) -> Alignment | None:
    """Return an alignment that is at least so confident of its place, None otherwise."""
    if alignment is None or alignment.reason is not None or alignment.delay_frames is None:
        return None
    return alignment if alignment.confidence >= least else None
