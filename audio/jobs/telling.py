"""How a job that runs in a thread of its own is heard: what it tells its listener becomes news."""

from __future__ import annotations

from collections.abc import Callable

from audio.jobs import news
from audio.jobs.delays import told
from audio.jobs.news import News
from audio.jobs.talk import Heard, Rolling
from audio.vocab.setup import Live
from audio.vocab.status import Status

Tell = Callable[[News], None]


class Telling:
    """The listener of every job of a runner.

    Parameters
    ----------
    tell
        Given every piece of news.
    stop_asked
        Whether the face wants what is under way to stop.
    """

    def __init__(self, tell: Tell, stop_asked: Callable[[], bool]) -> None:
        self._tell = tell
        self._stop_asked = stop_asked

    def heading(self, text: str) -> None:
        """Tell it."""
        self._tell(news.Said(text=text))

    def step(self, text: str) -> None:
        """Tell it."""
        self._tell(news.Said(text=text))

    def claimed(self, part: str, number: int, chain: str) -> None:
        """Tell it."""
        self._tell(news.Claimed(part=part, number=number, chain=chain))

    def measured(self, heard: Heard) -> None:
        """Tell it as figures."""
        self._tell(news.ClickDone(delay=told(heard)))

    def live(self, live: Live) -> None:
        """Tell it."""
        self._tell(news.Measuring(live=live))

    def begins(self, roll: Rolling) -> None:
        """Tell it."""
        self._tell(news.RollBegins(roll=roll))

    def rolling(self, status: Status) -> None:
        """Leave it: the face reads the status itself, at its own rate."""

    def ends(self) -> None:
        """Tell it."""
        self._tell(news.RollEnds())

    def stop_asked(self) -> bool:
        """Return whether the face wants it to stop."""
        return self._stop_asked()
