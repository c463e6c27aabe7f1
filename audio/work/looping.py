"""What goes round in the set-up: the stretch that is worth it, and the last cycle of what came back."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from audio.files.source import SourceFile, no_channel
from audio.measure.copy_back import copy_back
from audio.measure.levels import FULL_SCALE, peak_dbfs, rms_dbfs
from audio.measure.loudest import loudest_at
from audio.measure.running import RunningLevels, window_frames
from audio.measure.true_peak import true_peak_dbtp
from audio.vocab.errors import UseError
from audio.vocab.looped import CopyBack, CycleLevels, Stretch
from audio.vocab.requests import FindLoudest, ReadCopy, ReadCycle, Round
from audio.work.growing import GrowingCapture

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_PIECE = 1 << 18


def find_loudest(asked: FindLoudest) -> Stretch:
    """Find the loudest stretch of a channel of a file, to a window of 50 ms; `UseError` if it is not there.

    The whole file where it is no longer than that.
    """
    with closing(SourceFile(Path(asked.path))) as sound:
        if not 0 <= asked.channel < sound.channels:
            raise UseError(no_channel(sound.path, sound.channels, asked.channel))
        levels = RunningLevels(rate=sound.rate)
        end = sound.frames
        if asked.frames is not None:
            end = min(end, asked.from_frame + asked.frames)
        for at in range(asked.from_frame, end, _PIECE):
            frames = min(_PIECE, end - at)
            levels.feed(sound.read(at, frames, channel=asked.channel))
        window = window_frames(rate=sound.rate)
        windows = max(1, round(asked.seconds * sound.rate / window))
        at, rms = loudest_at(levels.levels_dbfs(), windows=windows)
        first = asked.from_frame + at * window
        frames = min(windows * window, end - first)
        return Stretch(at_frame=first, frames=frames, rms_dbfs=rms)


def read_copy(asked: ReadCopy) -> CopyBack | None:
    """Compare the last whole cycle that is there of what was sent and of what came back."""
    sent = GrowingCapture(Path(asked.sent_path), rate=asked.sample_rate)
    back = GrowingCapture(Path(asked.path), rate=asked.sample_rate)
    first = _last_cycle(asked.round, min(sent.frames, back.frames))
    if first is None:
        return None
    return copy_back(
        sent.read(first, asked.round.cycle_frames),
        back.read(first, asked.round.cycle_frames),
        rate=asked.sample_rate,
        quiet=_quiet(back, asked.round),
    )


def read_cycle(asked: ReadCycle) -> CycleLevels | None:
    """Measure the last whole cycle that is there of what came back."""
    back = GrowingCapture(Path(asked.path), rate=asked.sample_rate)
    first = _last_cycle(asked.round, back.frames)
    if first is None:
        return None
    sound = back.read(first, asked.round.cycle_frames)
    return CycleLevels(
        peak_dbfs=peak_dbfs(sound),
        true_peak_dbfs=true_peak_dbtp(sound, rate=asked.sample_rate),
        rms_dbfs=rms_dbfs(sound),
        clipped_samples=int(np.count_nonzero(np.abs(sound) >= FULL_SCALE)),
        noise_dbfs=rms_dbfs(_quiet(back, asked.round)),
    )


def _last_cycle(asked: Round, frames: int) -> int | None:
    """Return where the last whole cycle begins that can be measured; None while there is none."""
    first = frames - asked.guard_frames - asked.cycle_frames
    return first if first >= asked.steady_frame else None


def _quiet(back: GrowingCapture, asked: Round) -> Floats:
    return back.read(asked.quiet_from, asked.quiet_frames)
