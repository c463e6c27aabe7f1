"""Drop-ins: where two recordings are joined, and the file that both make."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from audio.files import platform
from audio.files.capture import CaptureFile
from audio.files.codes import as_device
from audio.files.wave import DATA_AT, WaveFormat, parse_header
from audio.measure.joints import apart, best_joint, correlation_at, gains, level_db_at
from audio.vocab.errors import UseError
from audio.vocab.joining import Joint, Joints
from audio.vocab.messages import Recorded
from audio.vocab.requests import FindJoints, WriteJoined
from audio.work.growing import GrowingCapture

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_PIECE = 1 << 18
_LEVEL_S = 0.2
"""Either side of a joint: over so much its levels are compared."""

PART = ".part"
"""Ending of a file that is not whole yet: nobody takes it for a recording."""


def find_joints(asked: FindJoints) -> Joints:
    """Choose both joints; `UseError` if a capture cannot be read."""
    pairs = [
        (_opened(one, asked.sample_rate), _opened(other, asked.sample_rate))
        for one, other in zip(asked.paths, asked.section_paths, strict=True)
    ]
    ends = [edge for edge in (asked.enter, asked.leave) if edge is not None]
    far = None
    if ends:
        first, last = ends[0][0], ends[-1][1]
        far = apart(*_both(pairs[asked.reference], asked, first, last), rate=asked.sample_rate)
    return Joints(
        enter=_joint(pairs, asked, asked.enter),
        leave=_joint(pairs, asked, asked.leave),
        apart_frames=far,
    )


def write_joined(asked: WriteJoined) -> Recorded:
    """Write a file that is the base's outside two fades and the section's between them, to the bit.

    It appears under its name once it is whole and on the disk. `UseError` if a capture cannot be read or
    the two are of different depths, `OSError` if the disk refuses.
    """
    base = _opened(asked.path, asked.sample_rate)
    section = _opened(asked.section_path, asked.sample_rate)
    fmt, to = _format(asked.path), Path(asked.to)
    if fmt != _format(asked.section_path):
        raise UseError(f"{asked.path} and {asked.section_path} are of different depths")
    part = to.with_name(to.name + PART)
    part.unlink(missing_ok=True)
    file = CaptureFile(
        part,
        channels=1,
        rate=fmt.rate,
        depth=fmt.depth,
        time_reference=asked.time_reference,
        description=asked.description,
        made_at=datetime.fromisoformat(asked.made_at),
    )
    frames = base.frames if asked.leave else asked.section_at + section.frames
    for at in range(0, frames, _PIECE):
        sound = _rendered(asked, base, section, at, min(_PIECE, frames - at))
        file.write(as_device(sound, fmt))
    done = file.close()
    if file.failed is not None:
        with suppress(OSError):
            part.unlink()
        raise file.failed
    part.replace(to)
    platform.sync_folder(to.parent)
    return Recorded(
        path=str(to),
        frames=done.frames,
        audio_sha256=done.audio_sha256,
        peak=done.peak,
        clipped_samples=done.clipped_samples,
    )


def _rendered(
    asked: WriteJoined, base: GrowingCapture, section: GrowingCapture, at: int, frames: int
) -> Floats:
    """Return (frames,) of the joined file from one on."""
    one = base.filled(at, frames)
    other = _shifted(section, at - asked.section_at, frames)
    half = asked.fade_frames // 2
    inside = np.ones(frames, dtype=bool)
    place = np.arange(at, at + frames)
    if asked.enter is not None:
        inside &= place >= asked.enter[0] - half + asked.fade_frames
    if asked.leave is not None:
        inside &= place < asked.leave[0] - half
    out = np.where(inside, other, one)
    if asked.enter is not None:
        goes, comes = gains(asked.enter[1], asked.fade_frames)
        _fade(out, one, other, goes, comes, asked.enter[0] - half - at)
    if asked.leave is not None:
        goes, comes = gains(asked.leave[1], asked.fade_frames)
        _fade(out, other, one, goes, comes, asked.leave[0] - half - at)
    return out


def _fade(  # noqa: PLR0917 - two sounds, their gains, and where
    out: Floats, one: Floats, other: Floats, goes: Floats, comes: Floats, at: int
) -> None:
    first, last = max(at, 0), min(at + goes.size, out.size)
    if first < last:
        rows, gains_ = slice(first, last), slice(first - at, last - at)
        out[rows] = goes[gains_] * one[rows] + comes[gains_] * other[rows]


def _joint(
    pairs: list[tuple[GrowingCapture, GrowingCapture]],
    asked: FindJoints,
    edge: tuple[int, int, int] | None,
) -> Joint | None:
    if edge is None:
        return None
    first, last, border = edge
    margin = round(_LEVEL_S * asked.sample_rate)
    sounds = [_both(pair, asked, first - margin, last + margin) for pair in pairs]
    at = margin + best_joint(
        [one[margin:-margin] for one, _ in sounds],
        [other[margin:-margin] for _, other in sounds],
        border=border - first,
        fade=asked.fade_frames,
        rate=asked.sample_rate,
    )
    return Joint(
        at_frame=first - margin + at,
        correlation=tuple(correlation_at(*two, at, fade=asked.fade_frames) for two in sounds),
        level_db=tuple(level_db_at(*two, at, around=margin) for two in sounds),
    )


def _both(
    pair: tuple[GrowingCapture, GrowingCapture], asked: FindJoints, first: int, last: int
) -> tuple[Floats, Floats]:
    base, section = pair
    frames = last - first
    return _shifted(base, first, frames), _shifted(section, first - asked.section_at, frames)


def _shifted(capture: GrowingCapture, at: int, frames: int) -> Floats:
    """Return (frames,) from one on, which may lie before the first; silence where there are none."""
    before = min(max(-at, 0), frames)
    sound = capture.filled(max(at, 0), frames - before)
    return np.pad(sound, (before, 0)) if before else sound


def _opened(path: str, rate: int) -> GrowingCapture:
    capture = GrowingCapture(Path(path), rate=rate)
    if not capture.frames:
        raise UseError(f"{path} holds no recording; put the file back in its place")
    return capture


def _format(path: str) -> WaveFormat:
    with Path(path).open("rb") as file:
        return parse_header(file.read(DATA_AT))[0]
