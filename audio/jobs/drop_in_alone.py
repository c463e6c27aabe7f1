"""A drop-in by itself, as the command line makes one."""

from __future__ import annotations

from pathlib import Path

from audio.jobs.drop_ins import drop_in
from audio.jobs.sessions import opened
from audio.jobs.talk import Listener
from audio.vocab.variant import Variant
from audio.work.client import Worker


def drop_in_alone(
    folder: Path, *, part: str, base: int, section: int, listener: Listener
) -> Variant:
    """Make a drop-in as the command line does; see `drop_in`, whose errors it has as well."""
    with (
        Worker() as worker,
        opened(folder, program="secondpass join", worker=worker, listener=listener) as session,
    ):
        return drop_in(session, worker, part=part, base=base, section=section)
