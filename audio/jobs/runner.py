"""A session at the desk: held, opened and played by one thread, for a face that must never wait.

The face puts orders in and is told news; both are values. Nothing sounds that was not ordered, nothing
is ordered twice, and no fault makes anything sound again: after one the stream is closed until the face
asks for it.
"""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import threading
from collections.abc import Callable
from functools import partial
from pathlib import Path

from audio.files.lock import FileLock
from audio.files.platform import free_bytes
from audio.jobs import news
from audio.jobs.deck import Deck, StoppedError
from audio.jobs.delays import measure_delay, told
from audio.jobs.looking import Looking
from audio.jobs.news import News
from audio.jobs.orders import (
    SOUNDING,
    Asked,
    ChooseWiring,
    CloseStream,
    Count,
    Looked,
    OpenStream,
    RunPass,
    StopPlaying,
    TestClick,
    Watch,
)
from audio.jobs.passes import run_pass
from audio.jobs.placing import Known
from audio.jobs.recovery import mend
from audio.jobs.snapshots import playing, snapshot
from audio.jobs.talk import Heard, Rolling
from audio.session.folder import open_session
from audio.session.lock import lock_session
from audio.session.opened import Session
from audio.session.passes import unfinished, writer_of
from audio.vocab.errors import DeviceError, SecondpassError, UseError
from audio.vocab.status import Status
from audio.vocab.wiring import Wiring
from audio.work.client import Worker

IDLE_S = 0.1
"""How often the stream is looked at while nothing is asked."""

DISK_EVERY = 20
"""Looks between two at the disk."""

Tell = Callable[[News], None]


class Telling:
    """The listener of every job that runs here: what it hears becomes news."""

    def __init__(self, tell: Tell, stop: threading.Event) -> None:
        self._tell = tell
        self._stop = stop

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
        return self._stop.is_set()


def _nobody(one: News) -> None:
    """Tell nobody: the runner has not been started yet."""


class Runner:
    """One session at the desk.

    Making it takes the session's lock: `UseError` if it is no session, or another program holds it.

    Parameters
    ----------
    folder
        The session's folder.
    program
        Who holds the lock, such as ``secondpass open``.
    """

    def __init__(self, folder: Path, *, program: str) -> None:
        self._session: Session = open_session(folder.absolute())
        self._lock: FileLock = lock_session(self._session.folder, program=program)
        self.folder = self._session.folder
        self._tell: Tell = _nobody
        self._stop = threading.Event()
        self._orders: queue.SimpleQueue[Asked | None] = queue.SimpleQueue()
        self._worker = Worker()
        self._looking = Looking(lambda: self._session)
        self._deck: Deck | None = None
        self._known = Known()
        self._looks = 0
        self._playing = False
        self._left_rolling = False
        self._thread = threading.Thread(target=self._run, name="runner", daemon=True)

    def start(self, tell: Tell) -> None:
        """Judge what was left unfinished, then wait for orders.

        Parameters
        ----------
        tell
            Given every piece of news, in order, from threads of the runner's own; must return at once.
        """
        self._tell = tell
        self._thread.start()
        self._looking.start(tell)

    # ------------------------------------------------------------ called by the face

    def ask(self, asked: Asked) -> None:
        """Put an order in; it is obeyed when those before it are done."""
        if isinstance(asked, SOUNDING):
            self._stop.clear()
        self._orders.put(asked)

    def look(self, looked: Looked) -> None:
        """Put in a question that can be answered beside a pass."""
        self._looking.ask(looked)

    def stop(self) -> None:
        """Stop what sounds and forget every order; what was recorded is kept."""
        self._stop.set()
        with contextlib.suppress(queue.Empty):
            while self._orders.get_nowait() is not None:
                pass

    def status(self) -> Status | None:
        """Return the newest picture of the engine, None while there is no stream."""
        deck = self._deck
        return deck.status() if deck is not None else None

    def leave_rolling(self) -> None:
        """Let the pass that rolls be finished by the engine alone; the runner is of no use afterwards."""
        deck, self._deck = self._deck, None
        self._left_rolling = True
        if deck is not None:
            deck.leave_rolling()
        self._orders.put(None)  # the thread has nothing left to do
        self._end()

    def close(self) -> None:
        """Stop what sounds, let go of the device and the session."""
        self.stop()
        self._orders.put(None)
        if self._thread.is_alive():
            self._thread.join()
        self._end()

    def _end(self) -> None:
        self._looking.close()
        self._worker.close()
        self._lock.release()

    # ------------------------------------------------------------ the thread

    def _run(self) -> None:
        self._guarded(self._begin)
        while self._next():
            pass
        self._close_deck()

    def _next(self) -> bool:
        """Obey the next order, or look around where there is none; return whether to go on."""
        try:
            asked = self._orders.get(timeout=IDLE_S)
        except queue.Empty:
            self._guarded(self._look_around)
            return True
        if asked is None:
            return False
        self._guarded(partial(self._obey, asked))
        self._tell(news.Idle())
        return True

    def _guarded(self, do: Callable[[], None]) -> None:
        try:
            do()
        except StoppedError:
            self._tell(news.Stopped())
        except UseError as error:
            self._tell(news.Trouble(text=str(error)))
        except SecondpassError as error:
            self._tell(news.Trouble(text=str(error), kind="device"))
        except Exception as error:  # noqa: BLE001 - whatever it was, the face must hear of it and live
            self._broke(error)

    def _broke(self, error: Exception) -> None:
        if self._left_rolling:
            return
        self._drop_deck(
            f"the program failed: {type(error).__name__}: {error}; what was recorded is kept"
        )

    def _begin(self) -> None:
        self._mend()
        self._tell(self._snapshot())
        self._tell(news.Ready())

    def _mend(self) -> None:
        for one in mend(self._session, self._worker):
            if one.text:
                self._tell(news.Mended(text=f"{one.part} {one.number:03d}: {one.text}"))
        self._playing = bool(playing(self._session))

    def _snapshot(self) -> news.Snapshot:
        return snapshot(self._session)

    def _look_around(self) -> None:
        deck = self._deck
        trouble = deck.trouble() if deck is not None else None
        if trouble is not None and not self._left_rolling:
            self._drop_deck(trouble)
        self._looks += 1
        if self._looks % DISK_EVERY == 1:
            self._tell(news.Disk(free_bytes=free_bytes(self.folder)))
        if self._playing and not playing(self._session):
            self._mend()
            self._tell(self._snapshot())

    # ------------------------------------------------------------ orders

    def _obey(self, asked: Asked) -> None:
        match asked:
            case OpenStream():
                self._open(self._session.wiring())
            case Watch():
                self._open(asked.wiring)
            case CloseStream():
                self._close_deck()
                self._tell(news.StreamClosed())
            case TestClick():
                self._click()
            case RunPass():
                self._pass(asked)
            case ChooseWiring():
                self._choose(asked)
            case StopPlaying():
                self._stop_playing()
            case Count():
                self._tell(news.Counted(counters=self._need_deck().counters()))

    def _open(self, wiring: Wiring) -> None:
        if playing(self._session):
            raise UseError(
                "a pass that was left running still plays through this setup; wait until it has ended,"
                " or stop it, then open the stream"
            )
        self._close_deck()
        self._known = Known()
        self._deck = Deck(wiring, Telling(self._tell, self._stop))
        self._tell(news.StreamOpened(wiring=wiring, opened=self._deck.opened))

    def _choose(self, asked: ChooseWiring) -> None:
        """Use a new wiring; where a stream ran, it runs through the new one then."""
        self._session = self._session.choose_wiring(asked.wiring, name=asked.name)
        self._tell(self._snapshot())
        self._tell(news.Said(text=f"saved as {self._session.file.wiring}, and in use"))
        if self._deck is not None:
            self._open(self._session.wiring())

    def _need_deck(self) -> Deck:
        if self._deck is None:
            raise UseError("the stream is not open; open it at the send first")
        return self._deck

    def _click(self) -> None:
        deck = self._need_deck()
        try:
            measure_delay(deck)
        except DeviceError as error:
            self._drop_deck(str(error))

    def _pass(self, asked: RunPass) -> None:
        deck = self._need_deck()
        if deck.wiring != self._session.wiring():
            raise UseError("the stream runs with another wiring than the session's; open it again")
        try:
            done = run_pass(
                deck, self._session, part_name=asked.part, chain=asked.chain, known=self._known
            )
        except DeviceError as error:
            self._recovered(str(error))
            return
        if done.fault:
            self._drop_deck(done.fault)
        self._tell(self._snapshot())
        self._tell(
            news.PassDone(variant=done.variant, fault=done.fault, interrupted=done.interrupted)
        )

    def _recovered(self, fault: str) -> None:
        """Judge what a dead engine left; the pass may have left nothing."""
        if self._left_rolling:
            return
        self._drop_deck(fault)
        left = [one.variant for one in mend(self._session, self._worker) if one.variant]
        self._tell(self._snapshot())
        for variant in left:
            self._tell(news.PassDone(variant=variant, fault=fault, interrupted=False))

    def _stop_playing(self) -> None:
        for one in unfinished(self._session):
            pid = writer_of(one.folder)
            if pid is not None:
                with contextlib.suppress(ProcessLookupError):
                    os.kill(pid, signal.SIGTERM)

    # ------------------------------------------------------------ the stream

    def _drop_deck(self, reason: str) -> None:
        self._close_deck()
        self._tell(news.StreamClosed(reason=reason))

    def _close_deck(self) -> None:
        deck, self._deck = self._deck, None
        if deck is not None:
            deck.close()
