"""A song's tempo file: a Standard MIDI File or a label text file, told apart by what is in it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from audio.files.labels import labels_map
from audio.files.midi_tempo import MAGIC, midi_map
from audio.files.text import read_whole
from audio.vocab.errors import UseError
from audio.vocab.tempo import TempoMap, metre_of

TempoKind = Literal["midi", "labels"]

LARGEST_TEXT_BYTES = 2_000_000
"""Of a label file: some hundred bytes a label, and there are no more than `MOST_CHANGES`."""

_MIDI_ENDINGS = (".mid", ".midi", ".smf")


@dataclass(frozen=True, slots=True)
class TempoFile:
    """A tempo file that somebody brings, read whole and understood."""

    path: Path
    sha256: str
    suffix: str
    """Of a copy: ``.mid`` or ``.txt``."""
    map: TempoMap


def look_at_tempo(path: Path, *, metre: str | None) -> TempoFile:
    """Return what a tempo file is; `OSError` if it cannot be read, else refused as by `tempo_of`."""
    data = read_whole(path)
    return TempoFile(
        path=path,
        sha256=hashlib.sha256(data).hexdigest(),
        suffix=".mid" if tempo_kind(data, path) == "midi" else ".txt",
        map=tempo_of(data, path=path, metre=metre),
    )


def tempo_kind(data: bytes, path: Path) -> TempoKind:
    """Return what a tempo file is: MIDI by how it begins or by its name's ending, else labels."""
    is_midi = data.startswith(MAGIC) or path.suffix.lower() in _MIDI_ENDINGS
    return "midi" if is_midi else "labels"


def read_tempo(path: Path, *, metre: str | None) -> TempoMap:
    """Read a tempo file; `OSError` if it cannot be read, else as `tempo_of`."""
    return tempo_of(read_whole(path), path=path, metre=metre)


def tempo_of(data: bytes, *, path: Path, metre: str | None) -> TempoMap:
    """Return the map in a tempo file.

    Parameters
    ----------
    data
        Its content.
    path
        Where it lies, for messages.
    metre
        Of the song, such as ``3/4``, where the file does not tell; None is 4/4.

    Returns
    -------
    TempoMap
        The map.

    Raises
    ------
    UseError
        If nobody can tell a tempo from it, in one sentence: what is wrong, where, the way out.
    """
    if tempo_kind(data, path) == "midi":
        return midi_map(data, where=path, metre=metre_of(metre))
    if len(data) > LARGEST_TEXT_BYTES or b"\0" in data:
        raise UseError(
            f"{path}: this is neither a Standard MIDI File nor a label text file; export one of them"
        )
    return labels_map(_text(data, path), where=path, metre=metre_of(metre))


def _text(data: bytes, path: Path) -> str:
    try:
        return data.decode()
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise UseError(
            f"{path}, line {line}: this is no UTF-8 text; export the labels again as UTF-8"
        ) from None
