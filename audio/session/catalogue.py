"""The variants of a session in summaries, looked up again and again without reading each file again.

The folder stays the only truth: every look lists it anew, and a file that is not the one that was read (its
time, its size or its place on the disk differ) is read anew. Nothing is kept on disk.
"""

from __future__ import annotations

import os
from pathlib import Path

import msgspec

from audio.session import layout, records
from audio.session.opened import Session
from audio.session.opinions import Opinions
from audio.session.passes import Claim, claim_at, listed
from audio.vocab.errors import UseError
from audio.vocab.variant import Broken, Summary

_Stamp = tuple[int, int, int]
"""Of a file: when it was written (nanoseconds), its size, its number on the disk."""


class Found(msgspec.Struct, frozen=True, kw_only=True):
    """What one look has found; everything by part, then number."""

    variants: tuple[Summary, ...]
    broken: tuple[Broken, ...]
    """Variants that cannot be read."""
    undone: tuple[Claim, ...]
    """Pass folders without a variant."""


class Catalogue:
    """Summaries of one sitting; for one thread."""

    def __init__(self) -> None:
        self._read: dict[str, tuple[_Stamp, Summary]] = {}
        self.said = Opinions()
        """What was said of them."""

    def look(self, session: Session) -> Found:
        """Return what the session has recorded; `UseError` only if its folders cannot be listed."""
        variants, broken, undone = [], [], []
        before, self._read = self._read, {}
        for one in listed(session):
            try:
                summary = self._summary(one[2], before)
            except UseError as error:
                broken.append(records.broken_at(session, claim_at(*one), error))
                continue
            if summary is None:
                undone.append(claim_at(*one))
            else:
                variants.append(summary)
        return Found(variants=tuple(variants), broken=tuple(broken), undone=tuple(undone))

    def _summary(self, folder: str, before: dict[str, tuple[_Stamp, Summary]]) -> Summary | None:
        """Return a pass's summary, from memory where the file is still the one that was read."""
        stamp = _stamp(f"{folder}{os.sep}{layout.VARIANT_JSON}")
        if stamp is None:
            return None
        kept = before.get(folder)
        summary = kept[1] if kept and kept[0] == stamp else records.read_summary(Path(folder))
        self._read[folder] = (stamp, summary)
        return summary


def _stamp(path: str) -> _Stamp | None:
    """Return a file's stamp, None where there is none, or one without content that a crash has left.

    One that cannot be looked at has no stamp yet.
    """
    try:
        seen = os.stat(path)  # noqa: PTH116 - thousands of them, each time
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError:  # reading it says what is wrong
        return (0, 0, 0)
    return (seen.st_mtime_ns, seen.st_size, seen.st_ino) if seen.st_size else None
