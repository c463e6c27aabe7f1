"""The desk as the command line has it: one order after the other, its news told in plain lines."""

from __future__ import annotations

import queue
import threading
from pathlib import Path

from audio.jobs import news
from audio.jobs.news import News, Snapshot
from audio.jobs.orders import Asked
from audio.jobs.runner import Runner
from audio.vocab.chain import Chain
from audio.vocab.errors import DeviceError, SecondpassError, UseError
from audio.vocab.plan import PlanNow, RunNow
from audio.vocab.variant import Variant
from tui.present.plain import Plain

LOOK_S = 0.05


class RunDesk:
    """A session held for a run; `UseError` if it is none, or another program holds it.

    Parameters
    ----------
    folder
        The session's folder.
    stop
        Set when Ctrl+C was pressed: what sounds is stopped then, and kept.
    """

    def __init__(self, folder: Path, stop: threading.Event) -> None:
        self._stop = stop
        self._plain = Plain(stop)
        self._runner = Runner(folder, program="secondpass run")
        self._news: queue.SimpleQueue[News] = queue.SimpleQueue()
        self._rolls = self._stopping = False
        self._trouble: SecondpassError | None = None
        self._snapshot: Snapshot | None = None
        self.plan = PlanNow()
        self.run = RunNow()
        self.fault = ""
        """Why the stream is lost; empty while it is not."""
        self.variant: Variant | None = None
        """What the newest order left."""
        self._runner.start(self._news.put)
        self._until(news.Ready)

    @property
    def snapshot(self) -> Snapshot:
        """The session as it was shown last."""
        if self._snapshot is None:
            raise self._trouble or UseError("the session cannot be read; look at its folder")
        return self._snapshot

    def chains(self) -> dict[str, Chain]:
        """Return the chains that have files, by name."""
        return {one.chain.name: one.chain for one in self.snapshot.chains}

    def obey(self, asked: Asked) -> None:
        """Put an order in and wait until it is obeyed; what hinders it is raised."""
        self._trouble = self.variant = None
        self._runner.ask(asked)
        self._until(news.Idle)
        if self._trouble is not None:
            raise self._trouble

    def close(self) -> None:
        """Let go of device and session."""
        self._runner.close()

    def _until(self, kind: type[news.Ready | news.Idle]) -> None:
        while True:
            self._look()
            try:
                one = self._news.get(timeout=LOOK_S)
            except queue.Empty:
                continue
            self._take(one)
            if isinstance(one, kind):
                return

    def _look(self) -> None:
        """Show how far a roll is; stop what sounds once Ctrl+C was pressed."""
        status = self._runner.status() if self._rolls else None
        if status is not None and status.roll_id >= 0:
            self._plain.rolling(status)
        if self._stop.is_set() and not self._stopping:
            self._stopping = True
            self._plain.stop_asked()  # says that it was heard
            self._runner.stop()

    def _take(self, one: News) -> None:
        match one:
            case news.Snapshot():
                self._snapshot, self.plan, self.run = one, one.plan, one.run
            case news.RunStands():
                self.plan, self.run = one.plan, one.run
            case news.Said():
                self._plain.step(one.text)
            case news.Mended():
                self._plain.heading(one.text)
            case news.RollBegins():
                self._rolls = True
                self._plain.begins(one.roll)
            case news.RollEnds():
                self._rolls = False
                self._plain.ends()
            case news.PassDone():
                self.variant = one.variant
            case news.StreamClosed():
                self.fault = one.reason
            case news.Trouble():
                error = DeviceError if one.kind == "device" else UseError
                self._trouble = error(one.text)
            case _:
                pass
