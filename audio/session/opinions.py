"""What people said of variants afterwards: lines of the journal, folded."""

from __future__ import annotations

from audio.session.opened import Session
from audio.vocab.opinion import Opinion


def opinions(session: Session) -> tuple[Opinion, ...]:
    """Return what was said, by part, then number; `UseError` if the journal cannot be read."""
    del session
    return ()


def say(
    session: Session,
    part: str,
    number: int,
    *,
    rating: int | None = None,
    words: str | None = None,
    photo: str | None = None,
    called: str | None = None,
    chain: str | None = None,
    discarded: bool | None = None,
) -> None:
    """Note what somebody says of a variant; what is None is left as it was.

    `UseError` if there is no such variant, a value cannot be, or the disk refuses.
    """
    raise NotImplementedError
