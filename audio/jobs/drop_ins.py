"""A drop-in: a new variant that is an old one with a stretch replaced by the variant of a section."""

from __future__ import annotations

from audio.session.opened import Session
from audio.vocab.variant import Variant
from audio.work.client import Worker


def drop_in(session: Session, worker: Worker, *, part: str, base: int, section: int) -> Variant:
    """Make it; the two it is made of stay as they are.

    Parameters
    ----------
    session
        Locked by the caller.
    worker
        Finds the joints and writes the files.
    part
        The part's name.
    base
        Number of the variant that is there.
    section
        Number of the variant of a section.

    Returns
    -------
    Variant
        The new one, its state ``joined``.

    Raises
    ------
    UseError
        If one of them is missing or discarded, they are of different revisions, rates or returns, or the
        second is of no section.
    """
    raise NotImplementedError
