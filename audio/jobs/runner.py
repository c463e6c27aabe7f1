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
from audio.jobs.changing import Changing, change
from audio.jobs.deck import Deck, StoppedError
from audio.jobs.looking import Looking
from audio.jobs.news import News
from audio.jobs.orders import (
    SOUNDING,
    AgainLine,
    Asked,
    BeginRun,
    ChooseWiring,
    CloseStream,
    Count,
    DropIn,
    EndRun,
    HoldRun,
    Looked,
    OpenStream,
    OrderLines,
    RunLine,
    RunPass,
    RunStep,
    SaveChain,
    SayOfVariant,
    SkipLine,
    StopPlaying,
    WantPasses,
    Watch,
)
from audio.jobs.passes import SPARE_BYTES, Passed, run_pass
from audio.jobs.placing import Known
from audio.jobs.recovery import mend
from audio.jobs.setting.steps import run_step
from audio.jobs.snapshots import played, snapshot
from audio.jobs.telling import Tell, Telling
from audio.session.catalogue import Catalogue
from audio.session.disk import said_plainly
from audio.session.folder import open_session
from audio.session.lock import lock_session
from audio.session.opened import Session
from audio.session.passes import Claim, undone, unfinished, writer_of
from audio.vocab.errors import DeviceError, SecondpassError, UseError
from audio.vocab.status import Status
from audio.vocab.wiring import Wiring
from audio.work.client import Worker

IDLE_S = 0.1
"""How often the stream is looked at while nothing is asked."""

LET_FINISH_S = 5.0
"""How long a verdict may take when the program is closed; one of an hour's pass is made in less."""

DISK_EVERY = 20
"""Looks between two at the disk."""


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
        # How often stop was asked: an order goes by the count at which it was put in.
        self._stops = 0
        self._obeying = 0
        self._orders: queue.SimpleQueue[tuple[int, Asked] | None] = queue.SimpleQueue()
        self._worker = Worker()
        self._looking = Looking(lambda: self._session)
        self._deck: Deck | None = None
        self._known = Known()
        self._looks = 0
        self._catalogue = Catalogue()
        self._playing: tuple[Claim, ...] = ()  # passes that engines without a face still play
        self._owed = False  # a pass of this sitting may have no verdict yet
        self._disk_lost = False
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
        self._orders.put((self._stops, asked))

    def look(self, looked: Looked) -> None:
        """Put in a question that can be answered beside a pass."""
        self._looking.ask(looked)

    def stop(self) -> None:
        """Stop what sounds and forget every order put in so far; what was recorded is kept."""
        self._stops += 1

    def status(self) -> Status | None:
        """Return the newest picture of the engine, None while there is no stream."""
        deck = self._deck
        return deck.status() if deck is not None else None

    def leave_rolling(self) -> None:
        """Let the pass that rolls be finished by the engine alone; the runner is of no use afterwards.

        Waits for a verdict that is being written: the session is not let go of before.
        """
        self._left_rolling = True
        deck, self._deck = self._deck, None
        if deck is not None:
            deck.leave_rolling()
        self._end(deck)

    def close(self) -> None:
        """Stop what sounds, let go of the device and the session; bounded, whatever hangs.

        A verdict that takes longer than a few seconds is left to the next opening.
        """
        self.stop()
        self._end(self._deck)

    def _end(self, deck: Deck | None) -> None:
        self._orders.put(None)
        if self._thread.is_alive():
            self._thread.join(LET_FINISH_S)
        self._worker.close()  # what is still asked of it fails at once
        if deck is not None:
            deck.worker.close()
        if self._thread.is_alive():
            self._thread.join()
        self._looking.close()
        self._lock.release()

    # ------------------------------------------------------------ the thread

    def _run(self) -> None:
        self._guarded(self._begin)
        while self._next():
            pass
        self._guarded(self._close_deck)

    def _next(self) -> bool:
        """Obey the next order, or look around where there is none; return whether to go on."""
        try:
            order = self._orders.get(timeout=IDLE_S)
        except queue.Empty:
            self._guarded(self._look_around)
            return True
        if order is None:
            return False
        self._obeying, asked = order
        self._guarded(partial(self._forget if self._stop_asked() else self._obey, asked))
        self._guarded(partial(self._tell, news.Idle()))
        return True

    def _stop_asked(self) -> bool:
        return self._obeying != self._stops

    def _guarded(self, do: Callable[[], None]) -> None:
        """Do something; whatever goes wrong becomes news, and the thread lives."""
        try:
            self._said(do)
        except Exception as error:  # noqa: BLE001 - see above
            # A face that fails at hearing even this cannot be told anything.
            with contextlib.suppress(Exception):
                self._drop_deck(_failed(error))

    def _said(self, do: Callable[[], None]) -> None:
        try:
            do()
        except StoppedError:
            self._tell(news.Stopped())
        except UseError as error:
            self._tell(news.Trouble(text=str(error)))
        except SecondpassError as error:
            self._tell(news.Trouble(text=str(error), kind="device"))

    def _begin(self) -> None:
        self._guarded(self._mend)
        self._guarded(self._show)
        self._tell(news.Ready())

    def _mend(self) -> None:
        # Asked before: an engine that ends in between is looked at once more.
        self._playing = played(undone(self._session))
        for one in mend(self._session, self._worker):
            self._tell(news.Mended(text=f"{one.part} {one.number:03d}: {one.text}"))

    def _show(self) -> None:
        self._tell(snapshot(self._session, self._catalogue))

    def _look_around(self) -> None:
        deck = self._deck
        trouble = deck.trouble() if deck is not None else None
        if trouble is not None and not self._left_rolling:
            self._drop_deck(trouble)
        self._looks += 1
        if self._looks % DISK_EVERY == 1:
            self._see_disk()
        if self._playing:
            were, self._playing = self._playing, ()  # what goes wrong here is said once
            self._playing = played(were)
            if not self._playing:
                self._mend()
                self._show()

    def _see_disk(self) -> None:
        """Tell what room is left; where a verdict found none, write it once there is."""
        try:
            with said_plainly(self.folder, doing="read"):
                self.folder.stat()  # a disk that was pulled out leaves the room of another
                free = free_bytes(self.folder)
        except UseError:
            lost, self._disk_lost = self._disk_lost, True
            if not lost:
                raise
            return
        self._disk_lost = False
        self._tell(news.Disk(free_bytes=free))
        if self._owed and free >= SPARE_BYTES:
            self._owed = False
            self._judge_left(None)

    # ------------------------------------------------------------ orders

    @staticmethod
    def _forget(asked: Asked) -> None:
        if isinstance(asked, SOUNDING):
            raise StoppedError

    def _obey(self, asked: Asked) -> None:  # noqa: C901 - one match over every order
        match asked:
            case OpenStream():
                self._reread()
                self._open(self._session.wiring())
            case Watch():
                self._open(asked.wiring)
            case CloseStream():
                self._close_deck()
                self._tell(news.StreamClosed())
            case RunStep():
                self._step(asked)
            case RunPass():
                self._pass(asked)
            case ChooseWiring():
                self._choose(asked)
            case StopPlaying():
                self._stop_playing()
            case Count():
                self._tell(news.Counted(counters=self._need_deck().counters()))
            case BeginRun() | RunLine() | HoldRun() | EndRun():
                raise NotImplementedError
            case (
                SaveChain()
                | SayOfVariant()
                | DropIn()
                | WantPasses()
                | OrderLines()
                | SkipLine()
                | AgainLine()
            ):
                self._change(asked)

    def _change(self, asked: Changing) -> None:
        self._reread()
        said = change(self._session, self._worker, asked)
        self._show()
        self._tell(news.Said(text=said))

    def _open(self, wiring: Wiring) -> None:
        if played(undone(self._session)):
            raise UseError(
                "a pass that was left running still plays through this setup; wait until it has ended,"
                " or stop it, then open the stream"
            )
        if self._deck is not None:
            self._close_deck()
            self._tell(news.StreamClosed())  # the next one may not open
        self._known = Known()
        self._deck = Deck(wiring, Telling(self._tell, self._stop_asked))
        self._tell(news.StreamOpened(wiring=wiring, opened=self._deck.opened))

    def _choose(self, asked: ChooseWiring) -> None:
        """Use a new wiring; where a stream ran, it runs through the new one then."""
        self._session = self._session.choose_wiring(asked.wiring, name=asked.name)
        self._show()
        self._tell(news.Said(text=f"saved as {self._session.file.wiring}, and in use"))
        if self._deck is not None:
            self._open(self._session.wiring())

    def _reread(self) -> None:
        """Take ``session.yaml`` as it is now: it is the engineer's to edit, also meanwhile."""
        found = open_session(self.folder)
        if found != self._session:
            self._session = found
            self._show()

    def _need_deck(self) -> Deck:
        if self._deck is None:
            raise UseError("the stream is not open; open it at the send first")
        return self._deck

    def _step(self, asked: RunStep) -> None:
        deck = self._need_deck()
        self._reread()
        try:
            record = run_step(deck, self._session, asked.asked, chain=asked.chain)
        except DeviceError as error:
            self._drop_deck(str(error))
            return
        self._reread()  # a step may have set a trim
        self._show()
        self._tell(news.StepDone(record=record))

    def _pass(self, asked: RunPass) -> None:
        deck = self._need_deck()
        self._reread()
        if deck.wiring != self._session.wiring():
            raise UseError("the stream runs with another wiring than the session's; open it again")
        done = self._passed(deck, asked)
        if done is None:
            return
        if done.fault:
            self._drop_deck(done.fault)
        elif done.variant.state != "kept":
            self._forget_what_waits()
        self._show()
        self._tell(
            news.PassDone(variant=done.variant, fault=done.fault, interrupted=done.interrupted)
        )

    def _passed(self, deck: Deck, asked: RunPass) -> Passed | None:
        """Run a pass; None where it broke off, and what it left has been dealt with."""
        try:
            return run_pass(
                deck, self._session, part_name=asked.part, chain=asked.chain, known=self._known
            )
        except StoppedError:
            raise
        except UseError:
            self._owed = True
            raise
        except DeviceError as error:
            self._recovered(str(error))
        except Exception as error:  # noqa: BLE001 - what was recorded is judged whatever it was
            self._recovered(_failed(error))
        return None

    def _recovered(self, fault: str) -> None:
        if not self._left_rolling:
            self._drop_deck(fault)
            self._judge_left(fault)

    def _judge_left(self, fault: str | None) -> None:
        """Judge what passes of this sitting left that broke off; they may have left nothing."""
        left = [one.variant for one in mend(self._session, self._worker) if one.variant]
        self._show()
        for variant in left:
            self._tell(news.PassDone(variant=variant, fault=fault, interrupted=False))

    def _stop_playing(self) -> None:
        for one in unfinished(self._session):
            pid = writer_of(one.folder)
            if pid is not None:
                with contextlib.suppress(ProcessLookupError):
                    os.kill(pid, signal.SIGTERM)

    # ------------------------------------------------------------ the stream

    def _forget_what_waits(self) -> None:
        """After an end that nobody planned nothing sounds before somebody asks for it anew."""
        self._stops += 1

    def _drop_deck(self, reason: str) -> None:
        self._forget_what_waits()
        self._close_deck()
        self._tell(news.StreamClosed(reason=reason))

    def _close_deck(self) -> None:
        deck, self._deck = self._deck, None
        if deck is not None:
            deck.close()


def _failed(error: Exception) -> str:
    return f"the program failed: {type(error).__name__}: {error}; what was recorded is kept"
