"""A song's tempo in words."""

from __future__ import annotations

from audio.vocab.session_file import Song
from audio.vocab.tempo import SongTempo, TempoMap


def bpm_words(bpm: float) -> str:
    """Return a tempo with no more digits than anybody reads, such as ``97.3``."""
    return f"{round(bpm, 2):g}"


def changing(tempo: SongTempo) -> bool:
    """Return whether a tempo changes in the course of the song."""
    return tempo.map is not None and len(tempo.map.tempos) > 1


def tempo_words(song: Song, tempo: SongTempo) -> str:
    """Return tempo and metre of a song, such as ``88 to 104.5 bpm 4/4 3/4``; empty where it has none."""
    if song.tempo_file is None:
        return "" if song.bpm is None else f"{song.bpm:g} bpm {song.metre or ''}".rstrip()
    return "" if tempo.map is None else map_words(tempo.map)


def map_words(tempo: TempoMap) -> str:
    """Return tempo and metre of a map: the slowest and the fastest, the metres as they come."""
    slow, fast = (bpm_words(bpm) for bpm in tempo.bpm_range)
    metres = list(dict.fromkeys(f"{one.metre}" for one in tempo.metres))
    shown = metres if len(metres) <= MOST_METRES else [*metres[: MOST_METRES - 1], "…"]
    return f"{slow if slow == fast else f'{slow} to {fast}'} bpm {' '.join(shown)}"


MOST_METRES = 3
"""Told by name."""


def first_bar_words(part: str) -> str:
    """Return by which of several tempi times are told."""
    return f"The tempo changes; this is the one of the first bar in {part}."
