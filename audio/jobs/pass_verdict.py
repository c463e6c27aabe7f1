"""What closed captures say, and the journal's line about what they were worth."""

from __future__ import annotations

from audio.jobs import rolls
from audio.session import journal
from audio.session.opened import Session
from audio.vocab.errors import SecondpassError
from audio.vocab.order import Order
from audio.vocab.results import PassMeasures
from audio.vocab.variant import Variant
from audio.work.client import Worker


def judged(session: Session, variant: Variant) -> None:
    """Note a verdict in the journal."""
    journal.append(
        session.folder,
        "judged",
        part=variant.part,
        number=variant.number,
        verdict=variant.verdict,
    )


def measured(worker: Worker, session: Session, order: Order) -> PassMeasures:
    """Return what closed captures say; a worker that died meanwhile is replaced and starts over."""
    try:
        return worker.finish(order.number)
    except SecondpassError:  # it died now, or earlier: the one that took its place follows no pass
        worker.follow(rolls.following(session, order))
        return worker.finish(order.number)
