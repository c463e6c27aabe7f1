"""A session at the desk: held, opened and played by one thread, for a face that must never wait.

The face puts orders in and is told news; both are values. Nothing sounds that was not ordered, nothing
is ordered twice, and no fault makes anything sound again: after one the stream is closed until the face
asks for it.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import assert_never

from audio.files.awake import Awake
from audio.files.lock import FileLock
from audio.jobs import news
from audio.jobs.changing import Changing, change
from audio.jobs.deck import Deck, StoppedError
from audio.jobs.desk_blind import OF_BLIND, DeskBlind
from audio.jobs.desk_listening import DeskListening
from audio.jobs.desk_run import DeskRun, Hands, OfRun
from audio.jobs.disk_watch import DiskWatch
from audio.jobs.left import Left
from audio.jobs.looking import Looking
from audio.jobs.news import News
from audio.jobs.order_queue import OrderQueue
from audio.jobs.orders import (
    Asked,
    CheckPart,
    ChooseWiring,
    CloseStream,
    CompareHits,
    CompareSounds,
    Count,
    HandOver,
    Listen,
    Looked,
    OpenStream,
    RunPass,
    RunStep,
    SkipLine,
    StopPlaying,
    Streaming,
    Watch,
)
from audio.jobs.passes import Passed, run_pass
from audio.jobs.placing import Known
from audio.jobs.setting.steps import run_step
from audio.jobs.snapshots import planned, snapshot
from audio.jobs.telling import Tell, Telling
from audio.session.catalogue import Catalogue
from audio.session.folder import open_session
from audio.session.lock import lock_session
from audio.session.opened import Session
from audio.vocab.errors import DeviceError, SecondpassError, UseError
from audio.vocab.listening import Steer
from audio.vocab.plan import BARE
from audio.vocab.setup import SetupRecord
from audio.vocab.status import Status
from audio.vocab.wiring import Wiring
from audio.work.client import Worker

IDLE_S = 0.1
"""How often the stream is looked at while nothing is asked."""

LET_FINISH_S = 5.0
"""How long a verdict may take when the program is closed; one of an hour's pass is made in less."""

DISK_EVERY = 20
"""Looks between two at the disk."""

LEFT_ROLLING = (
    "the program was left while this line played; the pass is finished and judged without it"
)


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
        self._orders = OrderQueue()
        self._worker = Worker()
        self._looking = Looking(lambda: self._session)
        self._checking = Looking(
            lambda: self._session
        )  # minutes of sound: nobody else waits for it
        self._deck: Deck | None = None
        self._known = Known()
        self._looks = 0
        self._catalogue = Catalogue()
        self._owed = False  # a pass of this sitting may have no verdict yet
        self._disk = DiskWatch(self.folder)
        self._left_rolling = False
        self._broke = ""  # what broke the newest pass off
        self._left = Left(lambda: self._session, self._worker, self._say)
        self._awake = Awake()
        self._runs = DeskRun(self._hands(), self._awake)
        self._blind = DeskBlind()
        self._listening = DeskListening(
            self._orders,
            obey=lambda asked: self._guarded(partial(self._meet, asked)),
            tell=self._say,
        )
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
        self._checking.start(tell)

    # ------------------------------------------------------------ called by the face

    def ask(self, asked: Asked) -> None:
        """Put an order in; it is obeyed when those before it are done."""
        self._orders.put(asked)

    def look(self, looked: Looked) -> None:
        """Put in a question that can be answered beside a pass."""
        checks = isinstance(looked, CheckPart | CompareHits | CompareSounds)
        (self._checking if checks else self._looking).ask(looked)

    def steer(self, asked: Steer) -> None:
        """Change what is listened to, at once; nothing happens where nobody listens."""
        self._listening.steer(asked)

    def stop(self) -> None:
        """Stop what sounds and forget every order put in so far; what was recorded is kept."""
        self._orders.stop()

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
        self._orders.close()
        if self._thread.is_alive():
            self._thread.join(LET_FINISH_S)
        self._worker.close()  # what is still asked of it fails at once
        if deck is not None:
            deck.worker.close()
        if self._thread.is_alive():
            self._thread.join()
        self._looking.close()
        self._checking.close()
        self._lock.release()

    # ------------------------------------------------------------ the thread

    def _run(self) -> None:
        self._guarded(self._begin)
        while self._next():
            pass
        self._guarded(self._runs.running.leave)
        self._awake.rest()
        self._guarded(self._close_deck)

    def _say(self, one: News) -> None:
        self._tell(one)

    def _hands(self) -> Hands:
        """Return what this thread does for a run."""
        return Hands(
            session=lambda: self._session,
            planned=lambda: planned(self._session, self._catalogue),
            deck=self._deck_for_a_pass,
            known=lambda: self._known,
            play=lambda asked: self._played(asked) or self._broke,
            step=lambda asked: self._measured(asked) or self._broke,
            settle=self._settle,
            forget=self._orders.stop,
            tell=self._say,
        )

    def _next(self) -> bool:
        """Obey the next order, or look around where there is none; return whether to go on."""
        try:
            asked = self._orders.next(IDLE_S)
        except queue.Empty:
            self._guarded(self._look_around)
            return True
        if asked is None:
            return False
        self._guarded(partial(self._obey, asked))
        self._guarded(partial(self._tell, news.Idle()))
        return True

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
        self._guarded(self._left.mend)
        self._guarded(self._runs.running.take_up)
        self._guarded(self._show)
        self._tell(news.Ready())

    def _show(self) -> None:
        self._tell(snapshot(self._session, self._catalogue, run=self._runs.running.now))

    def _look_around(self) -> None:
        deck = self._deck
        trouble = deck.trouble() if deck is not None else None
        if trouble is not None and not self._left_rolling:
            self._drop_deck(trouble)
        self._looks += 1
        if self._looks % DISK_EVERY == 1:
            self._see_disk()
        if self._left.have_ended():
            self._left.mend()
            self._show()

    def _see_disk(self) -> None:
        """Tell what room is left; where a verdict found none, write it once there is."""
        free = self._disk.free_bytes()
        if free is None:
            return
        self._tell(news.Disk(free_bytes=free))
        if self._owed and self._disk.is_enough(free):
            self._owed = False
            self._judge_left(None)

    # ------------------------------------------------------------ orders

    def _obey(self, asked: Asked) -> None:
        if not self._orders.refuse_forgotten(asked):
            self._meet(asked)

    def _meet(self, asked: Asked) -> None:
        if isinstance(asked, OF_BLIND):
            self._tell(self._blind.obey(self._session, asked))
        elif isinstance(asked, OfRun):
            self._reread()
            self._runs.obey(asked)
        elif isinstance(asked, Changing):
            self._change(asked)
        elif isinstance(asked, HandOver):
            self._hand_over(asked)
        else:
            self._do(asked)

    def _do(self, asked: Streaming) -> None:
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
                self._measured(asked)
            case RunPass():
                self._pass(asked)
            case Listen():
                self._listen(asked)
            case ChooseWiring():
                self._choose(asked)
            case StopPlaying():
                self._left.stop_playing()
            case Count():
                self._tell(news.Counted(counters=self._need_deck().counters()))
            case _:
                assert_never(asked)

    def _change(self, asked: Changing) -> None:
        self._reread()
        if asked == SkipLine(key=BARE):
            self._runs.running.skip_bare()
            return
        said = change(self._session, self._worker, asked)
        self._show()
        self._runs.running.settle()
        self._tell(news.Said(text=said))

    def _hand_over(self, asked: HandOver) -> None:
        from audio.jobs.handing.desk import hand_over_here  # noqa: PLC0415 - the end of an evening

        self._reread()
        with self._awake.held("handing over"):
            hand_over_here(
                self._session,
                self._worker,
                asked,
                tell=self._say,
                stop=self._orders.stop_asked,
            )

    def _open(self, wiring: Wiring) -> None:
        if self._left.still_play():
            raise UseError(
                "a pass that was left running still plays through this setup; wait until it has ended,"
                " or stop it, then open the stream"
            )
        if self._deck is not None:
            self._close_deck()
            self._tell(news.StreamClosed())  # the next one may not open
        self._known = Known()
        self._deck = Deck(wiring, Telling(self._tell, self._orders.stop_asked))
        self._tell(news.StreamOpened(wiring=wiring, opened=self._deck.opened))
        self._runs.running.settle()  # a new stream has not measured the bare path

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

    def _measured(self, asked: RunStep) -> SetupRecord | None:
        """Measure a step; None where the device failed, which is told."""
        deck = self._need_deck()
        self._reread()
        try:
            record = run_step(deck, self._session, asked.asked, chain=asked.chain)
        except DeviceError as error:
            self._broke = str(error)
            self._drop_deck(self._broke)
            return None
        self._known.learn_step(record)
        self._reread()  # a step may have set a trim
        self._show()
        self._tell(news.StepDone(record=record))
        return record

    def _listen(self, asked: Listen) -> None:
        deck = self._need_deck()
        self._reread()
        try:
            with self._awake.held("listening"):
                self._listening.listen(deck, self._session, asked)
        except DeviceError as error:
            self._drop_deck(str(error))

    def _pass(self, asked: RunPass) -> None:
        done = self._played(asked)
        if done is not None:
            self._settle(done)

    def _deck_for_a_pass(self) -> Deck:
        deck = self._need_deck()
        if deck.wiring != self._session.wiring():
            raise UseError("the stream runs with another wiring than the session's; open it again")
        return deck

    def _played(self, asked: RunPass) -> Passed | None:
        """Run a pass; None where it broke off, which is told."""
        self._need_deck()
        self._reread()
        deck = self._deck_for_a_pass()
        with self._awake.held("pass"):
            done = self._passed(deck, asked)
            self._runs.tell_refusal()
        return done

    def _settle(self, done: Passed) -> None:
        """Tell of a pass; nothing sounds after one that ended as nobody had planned."""
        if done.fault:
            self._drop_deck(done.fault)
        elif done.variant.state != "kept":
            self._orders.stop()
        self._show()
        self._tell(
            news.PassDone(variant=done.variant, fault=done.fault, interrupted=done.interrupted)
        )

    def _passed(self, deck: Deck, asked: RunPass) -> Passed | None:
        """Run a pass; None where it broke off, and what it left has been dealt with."""
        try:
            return run_pass(
                deck,
                self._session,
                part_name=asked.part,
                chain=asked.chain,
                known=self._known,
                section=asked.section,
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
        self._broke = LEFT_ROLLING if self._left_rolling else fault
        if not self._left_rolling:
            self._drop_deck(fault)
            self._judge_left(fault)

    def _judge_left(self, fault: str | None) -> None:
        """Judge what passes of this sitting left that broke off; they may have left nothing."""
        left = self._left.judged()
        self._show()
        for variant in left:
            self._tell(news.PassDone(variant=variant, fault=fault, interrupted=False))

    # ------------------------------------------------------------ the stream

    def _drop_deck(self, reason: str) -> None:
        """Close the stream; nothing sounds before somebody asks for it anew."""
        self._orders.stop()
        self._close_deck()
        self._tell(news.StreamClosed(reason=reason))
        self._runs.running.lost(reason)

    def _close_deck(self) -> None:
        deck, self._deck = self._deck, None
        if deck is not None:
            deck.close()


def _failed(error: Exception) -> str:
    return f"the program failed: {type(error).__name__}: {error}; what was recorded is kept"
