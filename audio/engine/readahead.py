"""Files of a roll for people's ears, read ahead of what is rendered, and at a place before it is jumped to.

What plays on is read ahead by the system itself; where dozens of files go elsewhere at once, each of them
waits for the disk, one after the other, while the ring runs dry. So a thread of its own reads what will be
asked for and throws it away: then it lies in the system's memory, and whoever renders does not wait. A jump
is done when its place has been read, however long the disk takes; until then what plays goes on. Bytes are
read, not frames: computing them here would keep the interpreter from whoever renders, just behind a jump.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from audio.engine.voice import Voice
from audio.files.touch import TouchedFile
from audio.vocab.messages import Span

AHEAD_S = 4.0
"""How far ahead of what is rendered is read: a disk that spins up takes three."""

STEP_S = 0.5
"""Read at a time, before the next place somebody wants is looked at."""

FIRST_S = 1.5
"""What is read of a place before it is jumped to: all that the ring holds, and some more."""

LOOK_S = 0.1

AT_ONCE_BYTES = 1 << 18

THREAD = "read ahead"


class ReadAhead:
    """Reads beside one roll until it is closed.

    Parameters
    ----------
    voices
        Its sources, in any order.
    rate
        Frames a second.
    at
        Gives the timeline frame that is rendered next.
    loop
        Gives the stretch that repeats.

    Raises
    ------
    audio.vocab.errors.UseError
        If a file cannot be opened.
    """

    def __init__(
        self,
        voices: tuple[Voice, ...],
        *,
        rate: int,
        at: Callable[[], int],
        loop: Callable[[], Span | None],
    ) -> None:
        self._voices = voices
        self._rate = rate
        self._at = at
        self._loop = loop
        self._files: dict[str, TouchedFile] = {}
        self._thrown_away = memoryview(bytearray(AT_ONCE_BYTES))
        try:
            for path in dict.fromkeys(voice.path for voice in voices):
                self._files[path] = TouchedFile(Path(path))
        except BaseException:
            self._close_files()
            raise
        self._place: tuple[int, Callable[[], None]] | None = None
        self._leave = False
        self._news = threading.Condition()
        threading.Thread(target=self._run, name=THREAD, daemon=True).start()

    def fetch(self, place: int, then: Callable[[], None]) -> None:
        """Read at a timeline frame, then do something; what was wanted before and is not read yet is not.

        Parameters
        ----------
        place
            Where the timeline will go.
        then
            Called by the reading thread.
        """
        with self._news:
            self._place = (place, then)
            self._news.notify_all()

    def close(self) -> None:
        """Let the reading thread go; it closes the files, whenever it comes back from the disk."""
        with self._news:
            self._leave = True
            self._news.notify_all()

    # ------------------------------------------------------------ the reading thread

    def _run(self) -> None:
        ahead, far = 0, round(AHEAD_S * self._rate)
        step = round(STEP_S * self._rate)
        while not self._leave:
            if self._land():
                continue
            at = self._at()
            if not at <= ahead <= at + far:
                ahead = at  # it went elsewhere
            if ahead < at + far - step:
                self._read(ahead, step)
                self._read_behind_the_loop(ahead, step)
                ahead += step
                continue
            with self._news:
                self._news.wait_for(lambda: self._leave or self._place is not None, LOOK_S)
        self._close_files()

    def _land(self) -> bool:
        """Read at the place that is wanted and say so, unless another one is wanted by then."""
        with self._news:
            wanted = self._place
        if wanted is None:
            return False
        self._read(wanted[0], round(FIRST_S * self._rate))
        with self._news:
            if self._place is not wanted:
                return True
            self._place = None
        if not self._leave:
            wanted[1]()
        return True

    def _read_behind_the_loop(self, at: int, frames: int) -> None:
        loop = self._loop()
        if loop is not None and at <= loop.end < at + frames:
            self._read(loop.start, round(FIRST_S * self._rate))

    def _read(self, at: int, frames: int) -> None:
        for voice in self._voices:
            if self._leave:
                return
            first, count = voice.reads(at, frames)
            with suppress(OSError):  # whoever renders it says so
                self._files[voice.path].touch(first, count, into=self._thrown_away)

    def _close_files(self) -> None:
        for file in self._files.values():
            file.close()
