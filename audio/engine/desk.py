"""The engine's desk: takes commands, keeps the state, says what happened.

Runs in the main thread of the engine's process; the only thread that changes the state.
"""

from __future__ import annotations

import queue
from collections import deque
from collections.abc import Callable
from threading import Thread

import numpy as np

from audio.device.factory import open_device
from audio.device.port import Device
from audio.engine.block import LOG_ROWS
from audio.engine.meters import MeterBank
from audio.engine.outlets import Outlets
from audio.engine.states import STATES, Happening, State, after, may
from audio.engine.stream import Stream
from audio.vocab.errors import DeviceError, SecondpassError, UseError
from audio.vocab.messages import (
    Behind,
    Close,
    Closed,
    Command,
    Counters,
    Ended,
    Event,
    Extend,
    Fault,
    Gain,
    Jump,
    Leave,
    Loop,
    Open,
    Opened,
    Patch,
    Plug,
    Refused,
    Report,
    Roll,
    Started,
    Stop,
)
from audio.vocab.status import Status, StatusWriter
from audio.vocab.wiring import Wiring

LOOK_S = 0.05
"""How often the device is looked at."""

WAY_OUT = "what was recorded is kept: check cable and server, then start again"

OPEN_LIMIT_S = 8.0
"""Opening that takes longer hangs in the system."""


class Gone:
    """The face is gone: its end of the pipe was closed."""


class Garbled:
    """Something on the pipe that is no command."""

    def __init__(self, why: str) -> None:
        self.why = why


class Broken:
    """The writing thread failed."""

    def __init__(self, why: str) -> None:
        self.why = why


class Desk:
    """Commands, state, stream.

    Parameters
    ----------
    send
        Says an event to the face.
    status
        The status block.
    """

    def __init__(self, *, send: Callable[[Event], None], status: StatusWriter) -> None:
        self.inbox: queue.SimpleQueue[Command | Ended | Gone | Garbled | Broken] = (
            queue.SimpleQueue()
        )
        self._send = send
        self._status = status
        self._state: State = "closed"
        self._stream: Stream | None = None
        self._waiting: deque[Roll] = deque()
        self._alone = False
        self._behind: int | None = None

    def run(self) -> None:
        """Obey until the state is ``left``."""
        try:
            while self._state != "left":
                self._next()
        except Exception as error:  # noqa: BLE001 -- whatever it was, the face must hear of it
            why = f"the engine failed: {type(error).__name__}: {error}"
            self._fault(why, why)
        finally:
            if self._stream is not None:
                self._stream.close()

    def _next(self) -> None:
        try:
            item = self.inbox.get(timeout=LOOK_S)
        except queue.Empty:
            item = None
        if self._stream is not None and self._state != "faulty":
            trouble = self._stream.trouble()
            if trouble is not None:
                self._fault(trouble, f"{trouble}; {WAY_OUT}")
        self._say_if_behind()
        match item:
            case None:
                pass
            case Ended():
                self._roll_ended(item)
            case Gone():
                self._face_gone()
            case Broken():
                self._writer_failed(item.why)
            case Garbled():
                self._send(Refused(reason=f"not a command: {item.why}"))
            case _:
                self._obey(item)

    def _happen(self, happening: Happening) -> None:
        self._state = after(self._state, happening)

    # ------------------------------------------------------------ commands

    def _obey(self, command: Command) -> None:
        try:
            self._do(command)
        except UseError as error:
            self._refuse(command, str(error), use=True)
        except (SecondpassError, OSError) as error:
            self._refuse(command, str(error), use=False)

    def _refuse(self, command: Command, reason: str, *, use: bool) -> None:
        roll_id = command.roll_id if isinstance(command, Roll) else None
        self._send(Refused(reason=reason, roll_id=roll_id, use=use))

    def _do(self, command: Command) -> None:
        match command:
            case Open():
                self._open(command.wiring)
            case Roll():
                self._roll(command)
            case Leave():
                self._leave()
            case Report():
                self._send(self._counters(self._running()))
            case Plug():
                self._running().device.plug(command.chain)
            case Patch():
                self._running().device.patch(command.patch)
            case Close():
                self._close()
            case Stop():
                self._stop(self._running())
            case Extend() | Loop() | Jump() | Gain():
                self._steer(command)

    def _steer(self, command: Extend | Loop | Jump | Gain) -> None:
        stream = self._running()
        recording = stream.recording
        if recording is None or command.roll_id != recording.roll.roll_id:
            return
        if isinstance(command, Extend):
            stream.extend(command.length_frames)
        elif isinstance(command, Loop):
            stream.loop(command.span)
        elif isinstance(command, Jump):
            stream.jump(command.to_frame)
        else:
            stream.gain(command)

    def _running(self) -> Stream:
        if self._stream is None:
            raise DeviceError("no stream is open")
        return self._stream

    def _open(self, wiring: Wiring) -> None:
        if not may(self._state, "opened"):
            raise DeviceError("a stream is open already; close it first")
        device = _open_bounded(wiring)
        stream = Stream(
            device,
            outlets=Outlets.of(wiring),
            publish=self._publish,
            ended=self.inbox.put,
            broken=lambda why: self.inbox.put(Broken(why)),
        )
        self._stream = stream
        try:
            stream.start()
        except BaseException:
            self._stream = None
            stream.close()
            raise
        self._happen("opened")
        self._send(
            Opened(
                sample_rate=device.rate,
                block_frames=device.block_frames,
                inputs=device.inputs,
                outputs=device.outputs,
                sample_format=device.sample_format,
                paced=device.paced,
            )
        )

    def _roll(self, roll: Roll) -> None:
        stream = self._running()
        if self._state == "stopping":
            raise UseError("a stop is under way; start the next roll when it has ended")
        if not may(self._state, "started"):
            self._waiting.append(roll)
            return
        start = stream.roll(roll)
        self._happen("started")
        self._send(Started(roll_id=roll.roll_id, stream_frame=start))

    def _stop(self, stream: Stream) -> None:
        # Also where the roll has just ended: what waits must not start behind a stop.
        self._drop_waiting("stop was asked for before this roll began; start it again")
        if may(self._state, "stop"):
            self._happen("stop")
            stream.stop("stopped")

    def _drop_waiting(self, why: str) -> None:
        while self._waiting:
            self._refuse(self._waiting.popleft(), why, use=False)

    def _say_if_behind(self) -> None:
        """Say once that the disk holds a roll up; the callback has stopped it already."""
        behind = self._stream.behind if self._stream is not None else None
        if behind is not None and behind != self._behind:
            self._behind = behind
            if may(self._state, "stop"):
                self._happen("stop")
            self._send(Behind(roll_id=behind))

    def _roll_ended(self, ended: Ended) -> None:
        self._happen("ended")
        self._send(ended)
        if not ended.went_on:  # a person decides what comes next
            self._drop_waiting(
                "the roll before did not end by itself; see why, then start this one"
            )
        if self._state == "faulty" or (self._alone and not self._waiting):
            self._state = "left"
        elif self._waiting:
            self._obey(self._waiting.popleft())

    def _close(self) -> None:
        if self._state == "standby" and self._stream is not None:
            self._stream.close()
            self._stream = None
            self._happen("closed")
            self._send(Closed())
        elif self._state != "closed":
            raise DeviceError("a roll is under way; stop it first")

    # ------------------------------------------------------------ ends

    def _leave(self) -> None:
        if self._state in ("rolling", "stopping") and self._stream is not None:
            self._alone = True
            self._stop(self._stream)
        else:
            self._state = "left"

    def _face_gone(self) -> None:
        self._alone = True
        self._waiting.clear()
        recording = self._stream.recording if self._stream else None
        if recording is None or self._stream is None:
            self._state = "left"
        elif recording.roll.record is None or recording.roll.loop is not None:
            self._stop(self._stream)

    def _fault(self, why: str, said: str) -> None:
        rolling = self._stream is not None and self._stream.recording is not None
        self._state = "faulty"
        self._send(Fault(reason=said))
        if rolling and self._stream is not None:
            self._stream.abandon(why)
        else:
            self._state = "left"

    def _writer_failed(self, why: str) -> None:
        """Stop the sound and leave: without `Ended`, whoever opens the session mends what there is."""
        if self._stream is not None:
            self._stream.stop("closed")
        self._send(Fault(reason=f"the recording failed ({why}); what was recorded is kept"))
        self._state = "left"

    # ------------------------------------------------------------ what is shown

    def _publish(self, meters: MeterBank) -> None:
        stream = self._stream
        if stream is None:
            return
        place, inputs = stream.place(), stream.device.inputs
        self._status.write(
            Status(
                stream_frame=place.stream_frame,
                roll_frame=place.roll_frame,
                timeline_frame=place.timeline_frame,
                roll_length=place.roll_length,
                roll_id=place.roll_id,
                state=STATES.index(self._state),
                dropouts=place.dropouts,
                flagged=place.flagged,
                inputs=meters.read(0, inputs),
                outputs=meters.read(inputs, inputs + stream.device.outputs),
            )
        )

    @staticmethod
    def _counters(stream: Stream) -> Counters:
        log = stream.callback.log
        period = stream.device.block_frames / stream.device.rate
        took = log.took[: min(log.count, LOG_ROWS)] / period
        shares = (
            [float(np.quantile(took, q)) for q in (0.5, 0.999, 1.0)] if len(took) else [0.0] * 3
        )
        return Counters(
            callbacks=log.count,
            flagged=log.flagged,
            share_median=shares[0],
            share_p999=shares[1],
            share_worst=shares[2],
        )


def _open_bounded(wiring: Wiring) -> Device:
    """Open the device in a thread of its own: the system's call may hang."""
    result: list[Device | BaseException] = []

    def attempt() -> None:
        try:
            result.append(open_device(wiring))
        except BaseException as error:  # noqa: BLE001 -- handed to the waiting thread
            result.append(error)

    thread = Thread(target=attempt, name="opening", daemon=True)
    thread.start()
    thread.join(OPEN_LIMIT_S)
    if not result:
        raise DeviceError(
            f"the audio device did not open within {OPEN_LIMIT_S:.0f} s; check its driver or server"
        )
    if isinstance(result[0], BaseException):
        raise result[0]
    return result[0]
