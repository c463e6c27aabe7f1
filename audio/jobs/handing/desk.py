"""A hand-over at the desk: told as it goes, stopped by whoever stops everything else."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from audio.jobs import news
from audio.jobs.deck import StoppedError
from audio.jobs.handing.handing import hand_over
from audio.jobs.orders import HandOver
from audio.jobs.telling import Tell
from audio.session.opened import Session
from audio.vocab.handover import HandedOver
from audio.work.client import Worker


def hand_over_here(
    session: Session, worker: Worker, asked: HandOver, *, tell: Tell, stop: Callable[[], bool]
) -> None:
    """Hand over; a stop is no fault, and is told as the end it is.

    Parameters
    ----------
    session
        Locked by the caller.
    worker
        Does what has to do with sound.
    asked
        What is wanted.
    tell
        Hears how far it is, and what became of it.
    stop
        Whether somebody wants it to stop.
    """
    done: HandedOver | None = None
    with suppress(StoppedError):
        done = hand_over(
            session,
            worker,
            asked.asked,
            out=Path(asked.out).expanduser() if asked.out else None,
            shown=lambda now: tell(news.HandingOver(now=now)),
            stop=stop,
        )
    tell(news.HandOverDone(done=done))
