"""Questions that change nothing, answered beside a pass: devices, DIs read through, outlines."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable

from audio.jobs import news
from audio.jobs.devices import list_devices
from audio.jobs.news import News
from audio.jobs.orders import CloseUp, LookAtDi, Looked, LookForDevices, Outline
from audio.session.opened import Session
from audio.vocab.errors import SecondpassError
from audio.work.client import Worker


class Looking:
    """A thread and a worker of their own.

    Parameters
    ----------
    session
        Gives the session as it is now.
    """

    def __init__(self, session: Callable[[], Session]) -> None:
        self._session = session
        self._worker = Worker()
        self._questions: queue.SimpleQueue[Looked | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None

    def start(self, tell: Callable[[News], None]) -> None:
        """Begin to answer; the answers go to `tell`."""
        self._tell = tell
        self._thread = threading.Thread(target=self._run, name="looking", daemon=True)
        self._thread.start()

    def ask(self, looked: Looked) -> None:
        """Put a question in."""
        self._questions.put(looked)

    def close(self) -> None:
        """Answer nothing more and end the worker."""
        self._questions.put(None)
        self._worker.close()

    def _run(self) -> None:
        while (looked := self._questions.get()) is not None:
            try:
                self._answer(looked)
            except SecondpassError as error:
                self._tell(_unanswered(looked, str(error)))

    def _answer(self, looked: Looked) -> None:
        session = self._session()
        match looked:
            case LookForDevices():
                self._tell(news.Devices(devices=list_devices()))
            case LookAtDi():
                self._tell(self._di(session, looked.part))
            case Outline():
                path = session.path(looked.path)
                outlines = self._worker.outline(path, channel=looked.channel - 1)
                self._tell(news.Outlined(path=looked.path, outlines=outlines))
            case CloseUp():
                path = session.path(looked.path)
                samples = self._worker.closeup(
                    path,
                    channel=looked.channel - 1,
                    at_frame=looked.at_frame,
                    frames=looked.frames,
                )
                found = news.Closeup(path=looked.path, at_frame=looked.at_frame, samples=samples)
                self._tell(found)

    def _di(self, session: Session, part: str) -> news.DiRead:
        revision = session.part(part)[1].revisions[-1]
        facts = self._worker.inspect(session.path(revision.file), channel=revision.channel - 1)
        problem = ""
        if facts.file_sha256 != revision.file_sha256:
            problem = (
                f"{revision.file} was changed since it was added; add the changed file as a new revision:"
                f" secondpass add {session.folder} --di FILE"
            )
        return news.DiRead(part=part, facts=facts, problem=problem)


def _unanswered(looked: Looked, why: str) -> News:
    match looked:
        case LookAtDi():
            return news.DiRead(part=looked.part, facts=None, problem=why)
        case Outline():
            return news.Outlined(path=looked.path, outlines=None, problem=why)
        case _:
            return news.Trouble(text=why)
