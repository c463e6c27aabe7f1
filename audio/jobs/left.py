"""Passes left without a verdict: judged when a session opens, and when what hindered it is gone."""

from __future__ import annotations

import contextlib
import os
import signal
from collections.abc import Callable

from audio.jobs import news
from audio.jobs.news import News
from audio.jobs.recovery import mend
from audio.jobs.snapshots import played
from audio.session.opened import Session
from audio.session.passes import Claim, undone, unfinished, writer_of
from audio.vocab.variant import Variant
from audio.work.client import Worker


class Left:
    """What one session's passes left; for one thread.

    Parameters
    ----------
    session
        Gives the session as it is now.
    worker
        Repairs and measures.
    tell
        Told what was mended.
    """

    def __init__(
        self, session: Callable[[], Session], worker: Worker, tell: Callable[[News], None]
    ) -> None:
        self._session = session
        self._worker = worker
        self._tell = tell
        self._playing: tuple[Claim, ...] = ()  # passes that engines without a face still play

    def mend(self) -> None:
        """Judge or repair what can be, and tell it."""
        # Asked before: an engine that ends in between is looked at once more.
        self._playing = played(undone(self._session()))
        for one in mend(self._session(), self._worker):
            self._tell(news.Mended(text=f"{one.part} {one.number:03d}: {one.text}"))

    def have_ended(self) -> bool:
        """Return whether an engine without a face has ended the last of them since the last look."""
        if not self._playing:
            return False
        were, self._playing = self._playing, ()  # what goes wrong here is said once
        self._playing = played(were)
        return not self._playing

    def still_play(self) -> bool:
        """Return whether an engine without a face plays a pass of this session now."""
        return bool(played(undone(self._session())))

    def stop_playing(self) -> None:
        """Stop those engines with their fade; what they recorded is kept."""
        for one in unfinished(self._session()):
            pid = writer_of(one.folder)
            if pid is not None:
                with contextlib.suppress(ProcessLookupError):
                    os.kill(pid, signal.SIGTERM)

    def judged(self) -> list[Variant]:
        """Judge what passes of this sitting left that broke off; they may have left nothing."""
        return [one.variant for one in mend(self._session(), self._worker) if one.variant]
