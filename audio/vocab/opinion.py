"""What people said of a variant afterwards: never in ``variant.json``, always in the journal."""

from __future__ import annotations

from typing import Any

import msgspec


class Opinion(msgspec.Struct, frozen=True, kw_only=True):
    """All that was said of one variant, the last word of each kind; its number and files never change."""

    part: str
    number: int
    rating: int | None = None
    """1 to 5; None where nobody rated it, or the rating was taken back."""
    words: tuple[str, ...] = ()
    """In the order they were said."""
    photos: tuple[str, ...] = ()
    """File names."""
    called: str = ""
    """Another name for it; its files keep theirs."""
    chain: str = ""
    """The chain it was really made through, where that was corrected afterwards."""
    chain_content: dict[str, Any] | None = None
    """That chain as it was set, where it is known."""
    discarded: bool = False
    """Put out of sight; nothing is deleted, and it can be taken back."""


class Happening(msgspec.Struct, frozen=True, kw_only=True):
    """One line of a variant's history."""

    at: str
    """As the journal has it: local time with offset, ISO 8601."""
    text: str
    """What happened or was said, in words; from outside, as all the journal is."""
