"""A file that plays beside the DI and may not hold it up: read ahead by a thread of its own.

The feeding thread renders all sources of a roll in turn; a file on a slow share would starve the send with
it. So what does not reach the send, beside something that does, is read here. Whoever asks gets what has
come; what has not come in time is silence, faded at both ends, and is told when the roll has ended.
"""

from __future__ import annotations

import threading
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from audio.engine.fades import Valve, fade_frames
from audio.engine.ring import size_for
from audio.files.source import SourceFile

BLOCK_FRAMES = 8192
"""Read at a time."""

KEPT_S = 4.0
"""How much is in memory, at least: half of it ahead of what was asked for, half behind, as what was
rendered may be rendered again."""

FIRST_S = 1.0
"""A file that was just opened may take so long for its first frames: nothing sounds yet."""

SHARE = 0.125
"""Of the time that its frames last, a file is waited for on a device that runs by a clock: several late
ones together still leave time to render the DI."""

FREE_S = 10.0
"""The same on a device that waits for us."""

SKIP_S = 0.5
"""A file that was late goes on so much further, to have caught up by then."""


class AsideFile:
    """A sound file like `SourceFile`, but nobody waits long for it.

    Parameters
    ----------
    file
        Opened; closed with this one, by the reading thread.
    channel
        The one that is read, from 0.
    rate
        Frames a second.
    paced
        Whether the device runs by a clock.
    """

    def __init__(self, file: SourceFile, *, channel: int, rate: int, paced: bool) -> None:
        self.path: Path = file.path
        self.frames, self.rate, self.channels = file.frames, file.rate, file.channels
        self.silent_from: int | None = None
        """First frame that was not there in time."""
        self._file, self._channel, self._paced = file, channel, paced
        self._kept: NDArray[np.float64] = np.zeros(size_for(KEPT_S, rate=rate))
        self._low = self._high = self._asked = 0
        self._turn = 0
        """Counts where reading began elsewhere: a block that was on its way then is thrown away."""
        self._came = self._late = self._leave = self._broken = False
        self._skip = round(SKIP_S * rate)
        self._valve = Valve(fade_frames(rate))
        self._last = 0.0
        self._news = threading.Condition()
        threading.Thread(target=self._read_on, name="aside", daemon=True).start()

    def read(self, start: int, frames: int, *, channel: int) -> NDArray[np.float64]:
        """Return some frames of the file's one channel, silence where they did not come in time.

        Parameters
        ----------
        start
            First frame, 0 or more.
        frames
            How many.
        channel
            The one this file was made for.

        Returns
        -------
        NDArray[np.float64]
            Shape (frames,), full scale 1.0; what is no number is silence, too.
        """
        if channel != self._channel:
            raise ValueError(f"channel {channel} of {self.path} is not read here")
        with self._news:
            self._aim(start, start + frames)
            there = self._news.wait_for(lambda: self._covers(start, frames), self._patience(frames))
            if there:
                return self._taken(start, frames)
            return self._missed(start, frames)

    def close(self) -> None:
        """Let the reading thread go; it closes the file, whenever it comes back from it."""
        with self._news:
            self._leave = True
            self._news.notify_all()

    # ------------------------------------------------------------ whoever asks

    def _aim(self, start: int, end: int) -> None:
        """Say how far is wanted; begin anew where that does not follow from what there is."""
        ahead = self._low - start
        before = ahead > (self._skip if self._late else 0)
        if before or start > self._high + self._kept.size // 2:
            self._begin(start)
        self._asked = end
        self._news.notify_all()

    def _begin(self, at: int) -> None:
        self._low = self._high = at
        self._turn += 1

    def _covers(self, start: int, frames: int) -> bool:
        return self._low <= start and min(start + frames, self.frames) <= self._high

    def _patience(self, frames: int) -> float:
        if self._late or self._broken:
            return 0.0
        if not self._came:
            return FIRST_S if self._paced else FREE_S
        return SHARE * frames / self.rate if self._paced else FREE_S

    def _taken(self, start: int, frames: int) -> NDArray[np.float64]:
        out = np.zeros(frames)
        rows = np.arange(start, min(start + frames, self.frames)) % self._kept.size
        out[: rows.size] = self._kept[rows]
        self._came = True
        if self._late:
            self._late = False
            self._valve.open()
        self._weigh(out)
        return out

    def _missed(self, start: int, frames: int) -> NDArray[np.float64]:
        """Fade the last value out, and read on from where the file may have caught up by then."""
        if not self._late:
            self._late = True
            self._valve.close()
            self._begin(start + frames + self._skip)
        if self.silent_from is None:
            self.silent_from = start
        out = np.full(frames, self._last)
        self._weigh(out)
        return out

    def _weigh(self, out: NDArray[np.float64]) -> None:
        if out.size:
            self._last = float(out[-1]) if not self._late else self._last
        rows = out.astype(np.float32)[:, None]
        if self._valve.weigh(rows):
            out[:] = rows[:, 0]

    # ------------------------------------------------------------ the reading thread

    def _read_on(self) -> None:
        try:
            while (wanted := self._next()) is not None:
                at, turn = wanted
                block = self._file.read(at, BLOCK_FRAMES, channel=self._channel)
                self._keep(block[: max(0, self.frames - at)], turn)
        except Exception:  # noqa: BLE001 - a cue that cannot be read is silence, never a stop
            with self._news:
                self._broken = True
                self._begin(self.frames)
                self._news.notify_all()
        self._file.close()

    def _next(self) -> tuple[int, int] | None:
        """Wait until more is wanted; return from which frame on, None when it is over."""
        with self._news:
            self._news.wait_for(lambda: self._leave or self._wants())
            return None if self._leave else (self._high, self._turn)

    def _wants(self) -> bool:
        ahead = self._asked + self._kept.size // 2 - BLOCK_FRAMES
        return not self._broken and self._high < min(ahead, self.frames)

    def _keep(self, block: NDArray[np.float64], turn: int) -> None:
        with self._news:
            if turn != self._turn:
                return
            rows = np.arange(self._high, self._high + block.size) % self._kept.size
            self._kept[rows] = np.where(np.isfinite(block), block, 0.0)
            self._high += block.size
            self._low = max(self._low, self._high - self._kept.size)
            self._news.notify_all()
