"""The deck: one engine with the stream of one wiring, and one worker, for as long as a job needs them."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from datetime import datetime
from time import monotonic
from typing import Self

from audio.engine.client import Engine
from audio.jobs.beside import Beside
from audio.jobs.talk import Listener, Rolling, RollKind
from audio.vocab.errors import DeviceError, UseError
from audio.vocab.messages import (
    Behind,
    Capture,
    Counters,
    DeadEnd,
    Ended,
    Event,
    Fault,
    Gain,
    Loop,
    Open,
    Opened,
    Patch,
    Plug,
    QuietEnd,
    Refused,
    Report,
    Roll,
    Source,
    Span,
    Started,
    Stop,
)
from audio.vocab.patching import PatchName
from audio.vocab.status import Status
from audio.vocab.wiring import Wiring
from audio.work.client import Worker

OPEN_LIMIT_S = 15.0
LOOK_S = 0.05

LOOKS_A_SECOND = 4
"""What is measured beside a roll is begun so often at most: to follow a hand on a knob."""

STOP_LIMIT_S = 10.0
"""An engine that was told to stop and has not ended its roll by then does not answer any more."""

WRITE_LIMIT_S = 60.0
"""The same for one that said its disk is slow: what it recorded is being written."""

SLOW_DISK = (
    "the disk takes the recording too slowly: the sound was stopped; nothing is lost, what was recorded"
    " is being written"
)

UNANSWERED = "the audio engine does not answer and was ended; what was recorded is kept"


SILENT_LOOKS = 8
"""Looks at `LOOK_S` at an engine that counts no frame before that is told: it notices a dead device sooner,
so it is held itself, as by a machine that sleeps."""

SILENT = (
    "the audio engine has not answered for half a second; frames are lost here, if anything plays:"
    " wait, or stop the pass"
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
        self._frame = -1
        self._silent = 0
        with ExitStack() as undo:
            undo.callback(self.worker.close)
            self.worker.start()  # it loads what it needs while the device opens
            self._engine = Engine()
            undo.callback(self._engine.close)
            self.opened = self._open(wiring)
            self.opened_at = datetime.now().astimezone().isoformat(timespec="milliseconds")
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

    def status(self) -> Status | None:
        """Return the newest picture of the engine, if there is one; from any thread."""
        return self._engine.status()

    def trouble(self) -> str | None:
        """Return what became of the stream while nothing rolled: a sentence, or None while it is well."""
        try:
            event = self._event(0.0)
        except DeviceError as error:
            return str(error)
        if isinstance(event, Fault):
            self.fault = event.reason
        return self.fault

    def leave_rolling(self) -> None:
        """Let go of an engine that rolls a pass: it finishes the pass without a face.

        The worker stays: a verdict may be in the making. Close it when that is done.
        """
        self._engine.leave_alone()

    def plug(self, chain: str) -> None:
        """Tell the simulated room which chain is plugged in; a real device ignores it."""
        self._engine.send(Plug(chain=chain))

    def patch(self, patch: PatchName) -> None:
        """Tell the simulated room which cables the engineer has plugged; a real device ignores it."""
        self._engine.send(Patch(patch=patch))

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
        what: RollKind,
        length_frames: int,
        sources: tuple[Source, ...] = (),
        captures: tuple[Capture, ...] = (),
        quiet: QuietEnd | None = None,
        dead: DeadEnd | None = None,
        loop: Span | None = None,
        from_frame: int = 0,
        meanwhile: Callable[[], None] | None = None,
        between: Callable[[], None] | None = None,
        record: str | None = None,
        lock: str | None = None,
        started: Callable[[], None] | None = None,
        lead_in_frames: int = 0,
        shift_frames: int = 0,
        di_from_frame: int = 0,
    ) -> Ended:
        """Run one roll to its end; `UseError` if it is refused, `DeviceError` if the engine dies.

        `StoppedError`, and nothing rolls, if the listener wants to stop already.

        Parameters
        ----------
        what
            What it is, for the listener.
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
        loop
            What repeats until the roll ends.
        from_frame
            Frame of the sources' timeline that plays first.
        meanwhile
            Called some times a second while the roll runs, in a thread of its own and never twice at once:
            what takes longer holds up neither the sound nor a stop.
        between
            Called some twenty times a second while the roll runs, in this thread: what takes longer holds
            up a stop.
        record
            File for the engine's own record.
        lock
            File the engine holds locked meanwhile.
        started
            Called once when the captures exist.
        lead_in_frames
            Frame at which the DI leaves, for the listener.
        shift_frames
            Frames after which it comes back, for the listener.
        di_from_frame
            The DI's frame that leaves first, for the listener.

        Returns
        -------
        Ended
            How it ended; reason ``stopped`` when the listener asked for it. After a fault of the
            device, `fault` says what happened and the deck can only be closed.
        """
        if self.listener.stop_asked():
            raise StoppedError
        self._rolls += 1
        roll = Roll(
            roll_id=self._rolls,
            sources=sources,
            captures=captures,
            length_frames=length_frames,
            quiet=quiet,
            dead=dead,
            loop=loop,
            from_frame=from_frame,
            record=record,
            lock=lock,
        )
        shown = Rolling(
            wiring=self.wiring,
            what=what,
            plays_until=quiet.after_frame if quiet else length_frames,
            length_frames=length_frames,
            lead_in_frames=lead_in_frames,
            shift_frames=shift_frames,
            cue_outputs=_heard_on(sources),
            di_from_frame=di_from_frame,
        )
        beside = Beside(meanwhile, every=self.opened.sample_rate // LOOKS_A_SECOND)
        self.listener.begins(shown)
        self._engine.send(roll)
        try:
            return self._wait(roll, started, beside, between or _nothing)
        finally:
            self.listener.ends()
            beside.join()

    def turn(self, gains: tuple[tuple[int, int, float], ...]) -> None:
        """Fade gains of the roll under way from the next block on; from any thread.

        Parameters
        ----------
        gains
            (source, output from 0, linear gain 0 to 1); what is not named stays.
        """
        if gains:
            self._engine.send(Gain(roll_id=self._rolls, gains=gains))

    def go_round(self, span: Span) -> None:
        """Let another stretch of the roll under way repeat; from any thread."""
        self._engine.send(Loop(roll_id=self._rolls, span=span))

    def _wait(
        self,
        roll: Roll,
        started: Callable[[], None] | None,
        beside: Beside,
        between: Callable[[], None],
    ) -> Ended:
        asked_at: float | None = None
        limit_s = STOP_LIMIT_S
        while True:
            event = self._event()
            match event:
                case Ended() if event.roll_id == roll.roll_id:
                    return event
                case Refused():
                    raise _refusal(event)
                case Fault():
                    self.fault = event.reason
                    self.listener.step(event.reason)  # the rest of the pass takes its time
                case Behind():
                    limit_s = WRITE_LIMIT_S
                    self.listener.step(SLOW_DISK)
                case Started():
                    if started is not None:
                        started()
                case _:
                    pass
            self._show(beside)
            between()
            if asked_at is None and self.listener.stop_asked():
                asked_at = monotonic()
                self._engine.send(Stop())
            if asked_at is not None and monotonic() - asked_at > limit_s:
                raise DeviceError(UNANSWERED)

    def _event(self, limit_s: float = LOOK_S) -> Event | None:
        try:
            return self._engine.event(limit_s)
        except DeviceError as error:
            # What the engine said before it ended tells more than that it ended.
            raise DeviceError(self.fault or str(error)) from error

    def _show(self, beside: Beside) -> None:
        status = self._engine.status()
        if status is not None and status.roll_id == self._rolls:
            self.listener.rolling(status)
            self._look_for_silence(status)
            beside.nudge(status.roll_frame)

    def _look_for_silence(self, status: Status) -> None:
        """Say once that a stream which runs by a clock stands still."""
        still = self.opened.paced and status.stream_frame == self._frame
        self._silent = self._silent + 1 if still else 0
        self._frame = status.stream_frame
        if self._silent == SILENT_LOOKS:
            self.listener.step(SILENT)

    def close(self) -> None:
        """Let go of the device and end both processes; bounded to some seconds."""
        self._engine.close()
        self.worker.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _nothing() -> None:
    """Do nothing between two looks."""


def _heard_on(sources: tuple[Source, ...]) -> tuple[int, ...]:
    """Return the outputs, from 1, of what plays for people's ears alone."""
    beside = [source for source in sources if not source.reaches_send]
    return tuple(sorted({output + 1 for source in beside for output, _ in source.outputs}))


def _refusal(event: Refused) -> Exception:
    return UseError(event.reason) if event.use else DeviceError(event.reason)
