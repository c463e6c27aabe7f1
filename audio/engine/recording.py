"""What a roll records: its captures, its end, and the places where frames were lost.

Belongs to the writing thread alone, from the roll's first frame to its last.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import msgspec
import numpy as np
from numpy.typing import NDArray

from audio.engine.conditions import Conditions
from audio.engine.program import Program
from audio.files import platform
from audio.files.capture import CaptureFile
from audio.files.lock import FileLock
from audio.files.text import Reserved
from audio.vocab.messages import Capture, Dropout, Ended, EndReason, Roll, encode

MERGE_S = 0.25
"""Flags and clock steps closer than this are one event: a clock step is placed to one stretch."""

STARVED_LIMIT_S = 1.0
"""A send that missed this much of its DI is stopped: its file cannot be read in time. What only people
hear goes on: it comes back by itself."""

RECORD_BYTES = 1 << 16
"""Room kept on the disk for ``roll.json``: sixteen captures and some hundred dropouts."""


@dataclass(frozen=True, slots=True)
class _Track:
    capture: Capture
    file: CaptureFile
    columns: list[int]


class Recording:
    """The capture side of a roll.

    Parameters
    ----------
    roll
        As commanded.
    program
        Its output side; decides where the roll ends.
    rate
        Frames a second.
    inputs
        Inputs of the stream.
    outputs
        Outputs of the stream; they follow the inputs in every block.

    Raises
    ------
    OSError
        If a capture's file cannot be made, or the record finds no room; files made before stay as they
        are, empty.
    audio.vocab.errors.UseError
        If the roll's lock is held by another engine.
    """

    def __init__(
        self, roll: Roll, program: Program, *, rate: int, inputs: int, outputs: int
    ) -> None:
        self.roll = roll
        self.program = program
        self.dropouts: list[Dropout] = []
        self._rate = rate
        self._sends = any(source.reaches_send for source in roll.sources)
        self._reason: EndReason | None = None
        self._note = ""
        self._taken = 0
        self._written = 0
        self._until: int | None = None
        self._files = threading.Lock()
        self._open = True
        self._record: Reserved | None = None
        self._lock = FileLock(Path(roll.lock)) if roll.lock else None
        if self._lock:
            self._lock.acquire(f"the engine, process {os.getpid()}")
        self._conditions = Conditions(
            rate=rate, inputs=inputs, outputs=outputs, quiet=roll.quiet, dead=roll.dead
        )
        now = datetime.now().astimezone()
        self._tracks: list[_Track] = []
        try:
            if roll.record is not None:
                self._record = Reserved(Path(roll.record), size=RECORD_BYTES)
            for capture in roll.captures:
                self._tracks.append(self._track(capture, rate, inputs, now))
            self._hand_over()
        except BaseException:
            self._let_go()
            raise

    def _hand_over(self) -> None:
        """Have every capture on the disk by name and header before a frame is played.

        What a power failure leaves can be repaired then, whichever of its files grew last.
        """
        self.sync()
        for folder in {track.file.path.parent for track in self._tracks}:
            platform.sync_folder(folder)

    def _let_go(self) -> None:
        for track in self._tracks:
            track.file.close()
        if self._record:
            self._record.drop()
        if self._lock:
            self._lock.release()

    @staticmethod
    def _track(capture: Capture, rate: int, inputs: int, now: datetime) -> _Track:
        columns = [*capture.inputs, *(inputs + output for output in capture.outputs)]
        file = CaptureFile(
            Path(capture.path),
            channels=len(columns),
            rate=rate,
            depth=capture.depth,
            time_reference=capture.time_reference,
            description=capture.description,
            made_at=now,
        )
        return _Track(capture, file, columns)

    @property
    def first_frame(self) -> int:
        """Stream frame of roll frame 0."""
        return self.program.start_frame

    def take(self, block: NDArray[np.generic], levels: NDArray[np.float32]) -> None:
        """Write the next frames of the roll.

        Parameters
        ----------
        block
            Shape (frames, inputs + outputs), the device's format.
        levels
            The same, full scale 1.0.
        """
        due = self._conditions.feed(levels)
        if due is not None and self._reason is None:
            if due.reason == "quiet":
                self._until = due.frame
            self.stop(due.reason)
        keep = self._kept(len(block))
        for track in self._tracks:
            skip = min(keep, max(0, track.capture.from_frame - self._written))
            if skip < keep:
                track.file.write(np.ascontiguousarray(block[skip:keep, track.columns]))
        self._taken += len(block)
        self._written += keep
        self._look_for_trouble()

    def _kept(self, frames: int) -> int:
        """Return how many of the next frames are the roll's: to its end, or to where it was quiet."""
        end = self.program.end_frame
        end = end if self._until is None else min(end, self._until)
        return min(frames, max(0, end - self._written))

    def lose(self, frames: int) -> None:
        """Note that frames found no room: put silence where they are gone, so that all stays in place."""
        keep = self._kept(frames)
        if keep:
            self.notice(Dropout(at_frame=self._written, kind="overrun", frames=keep))
        for track in self._tracks:
            skip = min(keep, max(0, track.capture.from_frame - self._written))
            track.file.skip(keep - skip)
        self._taken += frames
        self._written += keep

    def _look_for_trouble(self) -> None:
        if self.program.behind:
            self.stop("slow disk")
        failed = next((t.file.failed for t in self._tracks if t.file.failed), None)
        if failed is not None:
            self.stop("disk", note=os.strerror(failed.errno) if failed.errno else str(failed))
        elif self._sends and self.program.starved_frames > STARVED_LIMIT_S * self._rate:
            self.stop("starved", note="the DI's file could not be read as fast as it plays")

    def notice(self, dropout: Dropout) -> None:
        """Keep a dropout; one close behind another is the same event, and the known size wins."""
        last = self.dropouts[-1] if self.dropouts else None
        if last is None or dropout.at_frame - last.at_frame > MERGE_S * self._rate:
            self.dropouts.append(dropout)
        elif last.frames is None and dropout.frames is not None:
            first = min(last.at_frame, dropout.at_frame)
            self.dropouts[-1] = Dropout(at_frame=first, kind=last.kind, frames=dropout.frames)

    def stop(self, reason: EndReason, *, note: str = "") -> None:
        """Fade out and end; the first reason stays."""
        if self._reason is None:
            # What stopped it first may not have been told yet.
            first: EndReason = "slow disk" if self.program.behind else reason
            self._reason, self._note = first, note if first == reason else ""
        self.program.stop()

    def update_headers(self) -> None:
        """Have the headers say what is written so far."""
        for track in self._tracks:
            track.file.update_header()

    def sync(self) -> None:
        """Hand everything to the disk; from any thread, and of no effect once the roll is closed."""
        with self._files:
            for track in self._tracks if self._open else ():
                track.file.sync_data()

    @property
    def over(self) -> bool:
        """Whether every frame of the roll is written, and nothing of it sounds any more."""
        return self._taken >= self.program.end_frame

    def close(self, *, clock: Callable[[], tuple[float, float] | None]) -> Ended:
        """Close the captures, write the record, let go of the lock."""
        if self.program.starved_at is not None:
            starved = Dropout(
                at_frame=self.program.starved_at, kind="starved", frames=self.program.starved_frames
            )
            self.dropouts.append(starved)
        measured = clock()
        with self._files:
            self._open = False
            recorded = tuple(track.file.close() for track in self._tracks)
        self._look_for_trouble()
        ended = Ended(
            roll_id=self.roll.roll_id,
            reason=self._reason or "complete",
            stream_frame=self.program.start_frame,
            frames=self._written,
            recorded=recorded,
            dropouts=tuple(self.dropouts),
            send_clipped=self.program.timeline.clipped,
            clock_ppm=measured[0] if measured else None,
            clock_plus_minus_ppm=measured[1] if measured else None,
            note=self._note or self._silence(),
        )
        ended = self._keep_record(ended)
        self.program.close()
        if self._lock:
            self._lock.release()
        return ended

    def _silence(self) -> str:
        """Return that a cue was not heard all the time; empty where it was."""
        silent = self.program.timeline.silent()
        if silent is None:
            return ""
        path, frame = silent
        at_s = max(0, frame) / self._rate
        return (
            f"{path} could not be read in time: the cue was silent for a while from {at_s:.1f} s after"
            " the start; nothing of what was sent is missing"
        )

    def _keep_record(self, ended: Ended) -> Ended:
        if self._record is None:
            return ended
        try:
            self._record.write(encode(ended))
        except OSError as error:
            # Without roll.json the pass is found "torn" and repaired from its files.
            note = f"roll.json could not be written: {error.strerror}"
            return msgspec.structs.replace(ended, reason="disk", note=note)
        return ended
