"""The deck: one engine with the stream of one wiring, and one worker, for as long as a job needs them."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from time import monotonic
from types import TracebackType
from typing import Self

from audio.engine.client import Engine
from audio.jobs.talk import Listener
from audio.vocab.errors import DeviceError, UseError
from audio.vocab.messages import (
    Capture,
    Counters,
    DeadEnd,
    Ended,
    Event,
    Fault,
    Open,
    Opened,
    Plug,
    QuietEnd,
    Refused,
    Report,
    Roll,
    Source,
    Started,
    Stop,
)
from audio.vocab.wiring import Wiring
from audio.work.client import Worker

OPEN_LIMIT_S = 15.0
LOOK_S = 0.05

STOP_LIMIT_S = 10.0
"""An engine that was told to stop and has not ended its roll by then does not answer any more."""

UNANSWERED = (
    "the audio engine does not answer and was ended; what was recorded is kept:"
    " start again to have it mended"
)


class StoppedError(Exception):
    """The engineer asked to stop before anything was recorded that is worth keeping."""


class Deck:
    """An open stream and a worker.

    Opening it raises `UseError` if the wiring does not fit the device, `DeviceError` if the engine or the
    device cannot be started.

    Parameters
    ----------
    wiring
        What to open.
    listener
        Asked whether to stop, and shown what rolls.
    """

    def __init__(self, wiring: Wiring, listener: Listener) -> None:
        self.wiring = wiring
        self.listener = listener
        self.worker = Worker()
        self.fault: str | None = None
        self._rolls = 0
        with ExitStack() as undo:
            undo.callback(self.worker.close)
            self.worker.start()  # it loads what it needs while the device opens
            self._engine = Engine()
            undo.callback(self._engine.close)
            self.opened = self._open(wiring)
            undo.pop_all()

    def _open(self, wiring: Wiring) -> Opened:
        self._engine.send(Open(wiring=wiring))
        event = self._engine.event(OPEN_LIMIT_S)
        if isinstance(event, Opened):
            return event
        if isinstance(event, Refused):
            raise _refusal(event)
        raise DeviceError("the audio device did not open in time; check its driver or server")

    @property
    def engine_pid(self) -> int:
        """Process id of the engine."""
        return self._engine.pid

    def plug(self, chain: str) -> None:
        """Tell the simulated room which chain is plugged in; a real device ignores it."""
        self._engine.send(Plug(chain=chain))

    def counters(self) -> Counters:
        """Ask the engine what its callback did so far."""
        self._engine.send(Report())
        event = self._engine.event(OPEN_LIMIT_S)
        if not isinstance(event, Counters):
            raise DeviceError("the audio engine gave no counters")
        return event

    def play(
        self,
        *,
        length_frames: int,
        sources: tuple[Source, ...] = (),
        captures: tuple[Capture, ...] = (),
        quiet: QuietEnd | None = None,
        dead: DeadEnd | None = None,
        record: str | None = None,
        lock: str | None = None,
        started: Callable[[], None] | None = None,
    ) -> Ended:
        """Run one roll to its end; `UseError` if it is refused, `DeviceError` if the engine dies.

        Parameters
        ----------
        length_frames
            Longest it may be, frames.
        sources
            What it plays.
        captures
            What it records.
        quiet
            When it ends because the returns are quiet.
        dead
            When it ends because nothing answers.
        record
            File for the engine's own record.
        lock
            File the engine holds locked meanwhile.
        started
            Called once when the captures exist.

        Returns
        -------
        Ended
            How it ended; reason ``stopped`` when the listener asked for it. After a fault of the
            device, `fault` says what happened and the deck can only be closed.
        """
        self._rolls += 1
        roll = Roll(
            roll_id=self._rolls,
            sources=sources,
            captures=captures,
            length_frames=length_frames,
            quiet=quiet,
            dead=dead,
            record=record,
            lock=lock,
        )
        self.listener.begins(self.wiring, frames=quiet.after_frame if quiet else length_frames)
        self._engine.send(roll)
        try:
            return self._wait(roll, started)
        finally:
            self.listener.ends()

    def _wait(self, roll: Roll, started: Callable[[], None] | None) -> Ended:
        asked_at: float | None = None
        while True:
            event = self._event()
            match event:
                case Ended() if event.roll_id == roll.roll_id:
                    return event
                case Refused():
                    raise _refusal(event)
                case Fault():
                    self.fault = event.reason
                case Started():
                    if started is not None:
                        started()
                case _:
                    pass
            self._show()
            if asked_at is None and self.listener.stop_asked():
                asked_at = monotonic()
                self._engine.send(Stop())
            if asked_at is not None and monotonic() - asked_at > STOP_LIMIT_S:
                raise DeviceError(UNANSWERED)

    def _event(self) -> Event | None:
        try:
            return self._engine.event(LOOK_S)
        except DeviceError as error:
            # What the engine said before it ended tells more than that it ended.
            raise DeviceError(self.fault or str(error)) from error

    def _show(self) -> None:
        status = self._engine.status()
        if status is not None and status.roll_id == self._rolls:
            self.listener.rolling(status)

    def close(self) -> None:
        """Let go of the device and end both processes; bounded to some seconds."""
        self._engine.close()
        self.worker.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _refusal(event: Refused) -> Exception:
    return UseError(event.reason) if event.use else DeviceError(event.reason)
