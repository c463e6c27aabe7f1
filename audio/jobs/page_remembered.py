"""What was measured for a listening page that is not finished: a second try need not measure it again."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from pathlib import Path

import msgspec

from audio.files.text import read_whole, write_atomic
from audio.session.disk import said_plainly
from audio.vocab import strict_json
from audio.vocab.errors import UseError
from audio.vocab.layers import Layer
from audio.vocab.matching import Matched
from audio.vocab.requests import MatchSounds

FileState = tuple[int, int]
"""Size of a file and time of its last change: another one under this name is another sound."""

_NAME = ".matched.json"


class _Measured(msgspec.Struct, frozen=True, kw_only=True):
    """One answer, by what was asked and of which files."""

    of: str
    matched: Matched


_READ = msgspec.json.Decoder(tuple[_Measured, ...])


def states_of(layers: Iterable[Layer]) -> tuple[FileState, ...]:
    """Return the state of each layer's file; `UseError` if one cannot be looked at."""
    return tuple(_state(Path(one.path)) for one in layers)


def _state(path: Path) -> FileState:
    with said_plainly(path, doing="read"):
        seen = path.stat()
    return (seen.st_size, seen.st_mtime_ns)


class Remembered:
    """Answers of `MatchSounds` in a file of the page's folder.

    Parameters
    ----------
    folder
        The page's.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / _NAME
        self._known = {one.of: one.matched for one in _read(self._path)}

    def answer(self, asked: MatchSounds, match: Callable[[MatchSounds], Matched]) -> Matched:
        """Return what was answered before of the same files, or ask and note it."""
        of = _digest(asked)
        if of not in self._known:
            self._known[of] = match(asked)
            known = tuple(_Measured(of=key, matched=value) for key, value in self._known.items())
            write_atomic(self._path, msgspec.json.encode(known))
        return self._known[of]

    def forget(self) -> None:
        """Take the file away: the page is whole."""
        self._path.unlink(missing_ok=True)


def _digest(asked: MatchSounds) -> str:
    layers = (*asked.under, *(layer for sound in asked.sounds for layer in sound))
    whole = msgspec.json.encode((asked, states_of(layers)))
    return hashlib.sha256(whole).hexdigest()


def _read(path: Path) -> tuple[_Measured, ...]:
    """Return what an earlier try noted; nothing where it cannot be read: it is measured again then."""
    try:
        return strict_json.decode(_READ, read_whole(path))
    except (OSError, UseError, msgspec.ValidationError):
        return ()
