"""Questions that change nothing, answered beside a pass: devices, DIs read through, outlines."""

from __future__ import annotations

import contextlib
import itertools
import queue
import threading
from collections.abc import Callable
from typing import TypeVar

from audio.jobs import news
from audio.jobs.devices import list_devices
from audio.jobs.differing import sounds_apart
from audio.jobs.listening_ground import listening_ground
from audio.jobs.news import News
from audio.jobs.orders import (
    CheckPart,
    CloseUp,
    CompareHits,
    CompareSounds,
    LookAtDi,
    LookAtHistory,
    LookAtSounds,
    LookAtVariant,
    Looked,
    LookForDevices,
    Outline,
)
from audio.jobs.readiness import check_part, compare_parts
from audio.session import layout, records
from audio.session.history import Histories, history
from audio.session.opened import Session
from audio.vocab.errors import DeviceError, SecondpassError
from audio.work.client import Worker

_A = TypeVar("_A")

LEAVE_S = 2.0
"""How long a question to the system may still take when nobody wants the answer any more."""


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
        # A variant is a file of some kilobytes: it does not wait until minutes of sound were read through.
        self._questions: queue.PriorityQueue[tuple[bool, int, Looked | None]] = (
            queue.PriorityQueue()
        )
        self._asked_so_far = itertools.count()
        self._histories = Histories()
        self._closed = False
        self._thread: threading.Thread | None = None

    def start(self, tell: Callable[[News], None]) -> None:
        """Begin to answer; the answers go to `tell`."""
        self._tell = tell
        self._thread = threading.Thread(target=self._run, name="looking", daemon=True)
        self._thread.start()

    def ask(self, looked: Looked) -> None:
        """Put a question in."""
        waits = not isinstance(looked, LookAtVariant | LookAtHistory)
        self._questions.put((waits, next(self._asked_so_far), looked))

    def close(self) -> None:
        """Answer nothing more and end thread and worker."""
        self._closed = True
        self._questions.put((False, next(self._asked_so_far), None))
        self._worker.close()
        if self._thread is not None:
            self._thread.join(LEAVE_S)

    def _run(self) -> None:
        while (looked := self._questions.get()[2]) is not None and not self._closed:
            # A face that fails at hearing an answer may still ask the next question.
            with contextlib.suppress(Exception):
                self._settle(looked)

    def _settle(self, looked: Looked) -> None:
        try:
            self._answer(looked)
        except SecondpassError as error:
            self._tell(_unanswered(looked, str(error)))
        except Exception as error:  # noqa: BLE001 - whatever it was, the next question is answered
            why = f"the program failed: {type(error).__name__}: {error}"
            self._tell(_unanswered(looked, why))

    def _answer(self, looked: Looked) -> None:  # noqa: C901 - one match over every question
        session = self._session()
        match looked:
            case LookForDevices():
                self._tell(news.Devices(devices=list_devices()))
            case LookAtDi():
                self._tell(self._di(session, looked.part))
            case CheckPart():
                self._tell(self._checked(session, looked))
            case CompareHits():
                self._tell(self._compared(session, looked))
            case CompareSounds(part=part, a=a, b=b):
                apart = self._asked(lambda: sounds_apart(session, self._worker, part, a, b))
                self._tell(news.SoundsCompared(part=part, a=a, b=b, apart=apart))
            case LookAtVariant():
                self._tell(_variant(session, looked))
            case LookAtHistory(part=part, number=number):
                told = history(session, part, number, remembered=self._histories)
                self._tell(news.HistoryRead(part=part, number=number, happened=told))
            case LookAtSounds():
                self._tell(self._sounds(session, looked.part))
            case Outline():
                path = session.path(looked.path)
                channel = looked.channel - 1
                outlines = self._asked(lambda: self._worker.outline(path, channel=channel))
                self._tell(news.Outlined(path=looked.path, outlines=outlines))
            case CloseUp():
                path = session.path(looked.path)
                samples = self._asked(
                    lambda: self._worker.closeup(
                        path,
                        channel=looked.channel - 1,
                        at_frame=looked.at_frame,
                        frames=looked.frames,
                    )
                )
                found = news.Closeup(path=looked.path, at_frame=looked.at_frame, samples=samples)
                self._tell(found)

    def _sounds(self, session: Session, part: str) -> news.SoundsRead:
        found = self._asked(
            lambda: listening_ground(session, self._worker, session.wiring(), part_name=part)
        )
        return news.SoundsRead(part=part, now=found.now, said=found.said)

    def _asked(self, ask: Callable[[], _A]) -> _A:
        """Ask the worker; where it has died since, ask another one: a face asks only once."""
        try:
            return ask()
        except DeviceError:
            if self._closed:
                raise
            return ask()

    def _di(self, session: Session, part: str) -> news.DiRead:
        revision = session.part(part)[1].revisions[-1]
        path, channel = session.path(revision.file), revision.channel - 1
        facts = self._asked(lambda: self._worker.inspect(path, channel=channel))
        problem = ""
        if facts.file_sha256 != revision.file_sha256:
            problem = (
                f"{revision.file} was changed since it was added; add the changed file as a new revision:"
                f" secondpass add {session.folder} --di FILE"
            )
        return news.DiRead(part=part, facts=facts, problem=problem)

    def _checked(self, session: Session, looked: CheckPart) -> news.DiChecked:
        checked = self._asked(
            lambda: check_part(session, looked.part, self._worker, asked=looked.asked)
        )
        return news.DiChecked(part=looked.part, asked=looked.asked, checked=checked)

    def _compared(self, session: Session, looked: CompareHits) -> news.HitsCompared:
        compared, shift = self._asked(
            lambda: compare_parts(session, looked.part, looked.other, self._worker)
        )
        return news.HitsCompared(
            part=looked.part, other=looked.other, compared=compared, shift=shift
        )


def _variant(session: Session, looked: LookAtVariant) -> news.VariantRead:
    part, number = looked.part, looked.number
    variant = records.read_variant(layout.pass_folder(session.folder, part, number))
    earlier = records.newest(session, part, chain=variant.chain.name, before=number)
    return news.VariantRead(part=part, number=number, variant=variant, earlier=earlier)


def _unanswered(looked: Looked, why: str) -> News:  # noqa: PLR0911 - one for each question
    match looked:
        case LookAtVariant():
            return news.VariantRead(
                part=looked.part, number=looked.number, variant=None, problem=why
            )
        case LookAtHistory():
            return news.HistoryRead(
                part=looked.part, number=looked.number, happened=(), problem=why
            )
        case LookAtDi():
            return news.DiRead(part=looked.part, facts=None, problem=why)
        case CheckPart():
            return news.DiChecked(part=looked.part, asked=looked.asked, checked=None, problem=why)
        case CompareHits():
            return news.HitsCompared(
                part=looked.part, other=looked.other, compared=None, problem=why
            )
        case LookAtSounds():
            return news.SoundsRead(part=looked.part, now=None, problem=why)
        case CompareSounds(part=part, a=a, b=b):
            return news.SoundsCompared(part=part, a=a, b=b, apart=None, problem=why)
        case Outline():
            return news.Outlined(path=looked.path, outlines=None, problem=why)
        case _:
            return news.Trouble(text=why)
