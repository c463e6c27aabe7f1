"""How a sound is cut for the listening page: its pieces' names, and what the worker is asked for."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import msgspec
from msgspec.structs import replace

from audio.jobs.page_ground import PartGround
from audio.jobs.page_remembered import FileState, states_of
from audio.vocab.layers import Layer
from audio.vocab.page import PageTrack, edges
from audio.vocab.requests import MakePiece

_CUT_BY = 1
"""Goes up when the same request would leave other bytes: pieces that were cut before are made anew then."""

_ID_DIGITS = 12


class _Recipe(msgspec.Struct, frozen=True, kw_only=True):
    """All that a sound's pieces follow from."""

    cut_by: int
    channels: tuple[tuple[Layer, ...], ...]
    states: tuple[FileState, ...]
    sample_rate: int
    by: int
    from_frame: int
    frames: int
    gain_db: float


@dataclass(frozen=True, slots=True)
class Cut:
    """A sound that is cut into pieces."""

    what: str
    """Of whom it is, in words."""
    track: PageTrack
    channels: tuple[tuple[Layer, ...], ...]
    from_frame: int
    """Frame of the layers' timeline at which the track's frame 0 lies."""
    sample_rate: int
    by: int
    gain_db: float

    def placed(self, ground: PartGround) -> PageTrack:
        """Return a backing track where it lies in a part."""
        return replace(self.track, at=(ground.backing_at + self.from_frame) // self.by)


def cut_sound(layers: tuple[Layer, ...], ground: PartGround, gain_db: float, *, what: str) -> Cut:
    """Return how a sound of a part is cut; pieces outside its files are silent and not there."""
    ends = [one.at_frame + ground.lengths[one.path] for one in layers]
    span = (max(0, min(one.at_frame for one in layers)), max(1, *ends))
    return _cut((layers,), span, ground, ground.page_frames, gain_db, what=what)


def cut_backing(ground: PartGround, gain_db: float, *, what: str) -> Cut:
    """Return how a backing track is cut: on its own timeline, for all parts of its song.

    Where the page plays one of several frames, the track begins at one of those that the part plays.
    """
    from_frame = -ground.backing_at % ground.by
    frames = max(1, (ground.backing_frames - from_frame) // ground.by)
    span = (0, ground.backing_frames)
    channels = tuple((one,) for one in ground.backing_alone)
    return _cut(channels, span, ground, frames, gain_db, what=what, from_frame=from_frame)


def _cut(
    channels: tuple[tuple[Layer, ...], ...],
    span: tuple[int, int],
    ground: PartGround,
    frames: int,
    gain_db: float,
    *,
    what: str,
    from_frame: int = 0,
) -> Cut:
    recipe = _Recipe(
        cut_by=_CUT_BY,
        channels=channels,
        states=states_of(one for channel in channels for one in channel),
        sample_rate=ground.rate,
        by=ground.by,
        from_frame=from_frame,
        frames=frames,
        gain_db=gain_db,
    )
    name = hashlib.sha256(msgspec.json.encode(recipe)).hexdigest()[:_ID_DIGITS]
    at = edges(frames, rate=ground.page_rate)
    first, last = (
        _piece_with(at, (frame - from_frame) // ground.by) for frame in (span[0], span[1] - 1)
    )
    return Cut(
        what=what,
        track=PageTrack(id=name, frames=frames, first=first, last=last),
        channels=channels,
        from_frame=from_frame,
        sample_rate=ground.rate,
        by=ground.by,
        gain_db=gain_db,
    )


def _piece_with(at: Sequence[int], frame: int) -> int:
    """Return the number of the piece in which a frame lies, the nearest one where it lies in none."""
    return max(0, sum(1 for one in at[:-1] if one <= frame) - 1)


def pieces_of(cut: Cut, folder: Path) -> list[MakePiece]:
    """Return what the worker is asked for, piece by piece."""
    at = edges(cut.track.frames, rate=cut.sample_rate // cut.by)
    return [
        MakePiece(
            channels=cut.channels,
            from_frame=cut.from_frame + start * cut.by,
            frames=(end - start) * cut.by,
            sample_rate=cut.sample_rate,
            by=cut.by,
            gain_db=cut.gain_db,
            to=str(folder / f"{cut.track.id}-{number}.js"),
            track=cut.track.id,
            number=number,
        )
        for number, (start, end) in enumerate(pairwise(at))
        if cut.track.first <= number <= cut.track.last
    ]
