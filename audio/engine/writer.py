"""The writing thread: drains the capture ring into files, meters, end conditions, the status block."""

from __future__ import annotations

import threading
from collections.abc import Callable
from time import monotonic

import numpy as np
from numpy.typing import NDArray

from audio.device.port import INPUT_OVERFLOW
from audio.engine.block import LOG_ROWS, Callback
from audio.engine.clock import ClockWatch
from audio.engine.meters import MeterBank
from audio.engine.recording import Recording
from audio.engine.syncing import Syncer
from audio.vocab.messages import Dropout, Ended

CHUNK = 8192
"""Frames drained at a time."""

POLL_S = 0.008
SYNC_S = 1.0
"""How often headers are rewritten: a killed engine loses at most this much of a header, no audio."""


class Writer:
    """Runs from the opening of the stream to its end.

    Parameters
    ----------
    callback
        Whose ring is drained.
    rate
        Frames a second.
    block_frames
        Frames of a callback.
    progress
        Notified when frames were drained: a device that does not run by a clock waits for it.
    publish
        Called with the meters about every 25 ms of sound, and once when a roll has ended.
    ended
        Called with the result when a roll is written and closed.
    broken
        Called with the reason when this thread itself fails; nothing is written from then on.
    """

    def __init__(
        self,
        callback: Callback,
        *,
        rate: int,
        block_frames: int,
        progress: threading.Condition,
        publish: Callable[[MeterBank], None],
        ended: Callable[[Ended], None],
        broken: Callable[[str], None],
    ) -> None:
        self._callback = callback
        self._rate = rate
        self._publish = publish
        self._ended = ended
        self._broken = broken
        self._clock = ClockWatch(rate=rate, block_frames=block_frames)
        self._seen = 0
        self._synced = 0.0
        self._scale = np.float32(1.0 / (1 << 31)) if callback.integer else None
        channels = callback.captured.channels + callback.sent.channels
        self.meters = MeterBank(rate=rate, channels=channels)
        self.recording: Recording | None = None
        self._progress = progress
        self._wake = threading.Event()
        self._leave = False
        self._abandon: str | None = None
        self._syncer = Syncer()
        self._thread = threading.Thread(target=self._run, name="writer", daemon=True)

    def start(self) -> None:
        """Start the thread."""
        self._syncer.start()
        self._thread.start()

    def begin(self, recording: Recording) -> None:
        """Take over a recording whose first frame has not been captured yet."""
        self.meters.reset_holds()
        self.recording = recording

    def hurry(self) -> None:
        """Drain now instead of at the next look."""
        self._wake.set()

    def abandon(self, note: str) -> None:
        """Close what there is: the device is gone."""
        self._abandon = note
        self._wake.set()

    def close(self, *, timeout_s: float) -> bool:
        """Drain what is there, close a recording, end; return whether that was done in time."""
        self._leave = True
        self._wake.set()
        self._thread.join(timeout_s)
        self._syncer.close()
        return not self._thread.is_alive()

    def rate_error(self) -> tuple[float, float] | None:
        """Return (ppm, ±ppm) of the stream so far, or None when it is too short to say."""
        error = self._clock.rate_error()
        return (error.ppm, error.plus_minus_ppm) if error else None

    # ------------------------------------------------------------ the thread

    def _run(self) -> None:
        try:
            while not self._look():
                self._wake.wait(POLL_S)
        except Exception as error:  # noqa: BLE001 - whatever it was, a pass must not go on unwritten
            self._broken(f"{type(error).__name__}: {error}")

    def _look(self) -> bool:
        leaving = self._leave
        self._wake.clear()
        while self._drain():
            pass
        self._finish_if_over(leaving)
        return leaving

    def _drain(self) -> bool:
        callback = self._callback
        start, now = callback.drained, callback.frame
        held = callback.held_up
        if held is not None:
            now = held
            if self.recording is None:
                callback.drained = held  # nobody asked for these frames: empty the rings at once
                return False
        elif callback.gap_from == start < callback.gap_until:
            return self._skip(start, callback.gap_until)
        frames = min(CHUNK, now - start)
        if frames <= 0:
            return False
        block = np.hstack(
            (callback.captured.copy(start, frames), callback.sent.copy(start, frames))
        )
        levels = block.astype(np.float32)
        if self._scale is not None:
            levels *= self._scale
        self._read_log(start + frames)
        self._record(start, block, levels)
        callback.drained = start + frames
        if self.meters.feed(levels):
            self._publish(self.meters)
        with self._progress:
            self._progress.notify_all()
        return start + frames < callback.frame

    def _skip(self, start: int, until: int) -> bool:
        """Go on behind frames that found no room in the rings."""
        self._callback.drained = until
        recording = self.recording
        if recording is not None and until > recording.first_frame:
            recording.lose(until - max(start, recording.first_frame))
        return True

    def _record(self, start: int, block: NDArray[np.generic], levels: NDArray[np.float32]) -> None:
        recording = self.recording
        if recording is None:
            return
        skip = max(0, recording.first_frame - start)
        if skip < len(block):
            recording.take(block[skip:], levels[skip:])
        if monotonic() - self._synced > SYNC_S:
            recording.update_headers()
            self._syncer.ask(recording.sync)
            self._synced = monotonic()

    def _read_log(self, until: int) -> None:
        log = self._callback.log
        self._seen = max(self._seen, log.count - LOG_ROWS + 1)
        while self._seen < log.count:
            row = self._seen & (LOG_ROWS - 1)
            frame, flags = int(log.frame[row]), int(log.flags[row])
            if frame >= until:
                return
            self._seen += 1
            if flags:
                overflow = bool(flags & INPUT_OVERFLOW)
                self._notice(
                    Dropout(
                        at_frame=frame, kind="input overflow" if overflow else "output underflow"
                    )
                )
            step = self._clock.note(frame, float(log.when[row]))
            if step is not None:
                self._notice(Dropout(at_frame=step.at_frame, kind="clock step", frames=step.frames))

    def _notice(self, dropout: Dropout) -> None:
        recording = self.recording
        if recording is None:
            return
        at = dropout.at_frame - recording.first_frame
        if at >= 0:
            recording.notice(Dropout(at_frame=at, kind=dropout.kind, frames=dropout.frames))

    def _finish_if_over(self, leaving: bool) -> None:
        recording = self.recording
        if recording is None:
            return
        if self._abandon is not None:
            recording.stop("device", note=self._abandon)
        elif leaving:
            recording.stop("closed")
        if recording.over or leaving or self._abandon is not None:
            step = self._clock.unconfirmed()
            if step is not None:
                self._notice(Dropout(at_frame=step.at_frame, kind="clock step", frames=step.frames))
            self.recording = None
            if recording.program.is_over(self._callback.frame):
                self._callback.program = None  # else it fades out, should the device still call
            ended = recording.close(clock=self.rate_error)
            self._publish(self.meters)
            self._ended(ended)
