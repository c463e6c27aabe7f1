"""A hand-over by itself, as the command line makes one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from audio.jobs.handing.handing import hand_over
from audio.jobs.sessions import opened
from audio.jobs.talk import Listener
from audio.vocab.handover import HandedOver, HandoverAsked, HandoverNow
from audio.work.client import Worker


def hand_over_alone(
    folder: Path,
    asked: HandoverAsked,
    *,
    out: Path | None,
    listener: Listener,
    shown: Callable[[HandoverNow], None],
) -> HandedOver:
    """Hand over as the command line does; see `hand_over`, whose errors it has as well."""
    with (
        Worker() as worker,
        opened(folder, program="secondpass handover", worker=worker, listener=listener) as session,
    ):
        return hand_over(session, worker, asked, out=out, shown=shown, stop=listener.stop_asked)
