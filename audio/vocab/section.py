"""A stretch of a part that is played by itself: bars of its song, or seconds of its DI."""

from __future__ import annotations

import msgspec


class Section(msgspec.Struct, frozen=True, kw_only=True):
    """What was asked for: either bars, or seconds."""

    from_bar: int | None = None
    """First bar, from 1."""
    to_bar: int | None = None
    """Last bar, played to its end."""
    from_s: float | None = None
    """Seconds from the DI's first frame."""
    to_s: float | None = None

    def __str__(self) -> str:
        """Return it as it is written in a plan and on a card: ``bars 5-8``, ``bar 5``, ``12.5-18 s``."""
        if self.from_bar is None:
            return f"{self.from_s:g}-{self.to_s:g} s"
        if self.from_bar == self.to_bar:
            return f"bar {self.from_bar}"
        return f"bars {self.from_bar}-{self.to_bar}"


class Covers(msgspec.Struct, frozen=True, kw_only=True):
    """What a variant of a section covers, in frames of its DI.

    Frame 0 of its files is the DI's frame `from_frame`; the time stamp of the files says the same.
    """

    text: str
    """The section as it was asked for: ``bars 5-8``."""
    from_frame: int
    """First frame that was played, the lead-in's."""
    frames: int
    """How many were played: lead-in, section and lead-out."""
    section_from_frame: int
    """First frame of the section itself."""
    section_to_frame: int
    """The frame behind its last."""
