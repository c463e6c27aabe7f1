"""Plain progress for a terminal or a log, on standard error."""

from __future__ import annotations

import sys
import threading

from audio.jobs.talk import Heard, Rolling
from audio.vocab.setup import Live
from audio.vocab.status import Status
from audio.vocab.units import clock_time, db_from_ratio, signed
from audio.vocab.wiring import Wiring
from tui.present.moving import MovingLine
from tui.present.terminal import clean, put, say, width, wrapped

SHOW_EVERY = 4
"""Pictures of the engine between two lines of progress: about five lines a second."""

NO_LEVEL_DBFS = -150.0
"""Under this, nothing arrives at all."""


def level(dbfs: float) -> str:
    """Return a level in six characters with a true minus sign: `` −12.3``, ``  −inf``."""
    return f"{'−inf' if dbfs <= NO_LEVEL_DBFS else signed(dbfs, digits=1):>6}"


def progress(status: Status, *, wiring: Wiring, frames: int, columns: int) -> str:
    """Return how far a roll is, the peaks of the last 50 ms, and what was lost, in one line.

    Parameters
    ----------
    status
        A picture of the engine while it rolls.
    wiring
        Names the send's and the returns' channels.
    frames
        Roll frame at which nothing plays any more; 0 where nothing does.
    columns
        Longest the line may be; returns that do not fit are left out, the last first.

    Returns
    -------
    str
        Such as ``0:04 of 0:21  send  −12.3  close  −20.1  room  −25.0  nothing lost``.
    """
    send = status.outputs.peak[wiring.send_output - 1 : wiring.send_output]
    head = f"  {_position(status, wiring.sample_rate, frames)}  send {_peak(send)}"
    lost = f"  {status.dropouts} dropouts" if status.dropouts else "  nothing lost"
    for one in wiring.returns:
        more = f"  {clean(one.name)} {_peak(status.inputs.peak[one.input - 1 : one.input])}"
        if len(head) + len(more) + len(lost) > columns:
            break
        head += more
    return (head + lost)[:columns]


def _position(status: Status, rate: int, frames: int) -> str:
    at = clock_time(status.roll_frame / rate)
    if not frames:
        return f"listening {at}"
    if status.roll_frame > frames:
        return f"tail {clock_time((status.roll_frame - frames) / rate)}"
    return f"{at} of {clock_time(frames / rate)}"


def _peak(peaks: tuple[float, ...]) -> str:
    return level(db_from_ratio(max(peaks, default=0.0)))


class Plain:
    """A listener that writes lines; on a terminal the last one moves while a roll runs.

    Parameters
    ----------
    stop
        Set when the engineer pressed Ctrl+C.
    """

    def __init__(self, stop: threading.Event) -> None:
        self._stop = stop
        self._stop_said = False
        self._line = MovingLine()
        self._said = ""
        self._pictures = 0
        self._roll: Rolling | None = None

    def heading(self, text: str) -> None:
        """Write one line."""
        self._line.end()
        say(text)

    def step(self, text: str) -> None:
        """Write it under the heading."""
        self._line.end()
        lines = wrapped(text, columns=width(sys.stderr), indent=2)
        put(sys.stderr, "".join(f"{line}\n" for line in lines))

    def claimed(self, part: str, number: int, chain: str) -> None:
        """Leave it to the heading."""

    def measured(self, heard: Heard) -> None:
        """Leave it to the steps and the result."""

    def live(self, live: Live) -> None:
        """Write what to do, each time it is something else."""
        if live.say != self._said:
            self._said = live.say
            self.step(live.say)

    def begins(self, roll: Rolling) -> None:
        """Remember what rolls."""
        self._roll = roll

    def rolling(self, status: Status) -> None:
        """Move the line of progress along, where there is a terminal that can."""
        self._pictures += 1
        columns = self._line.columns()
        if self._roll is None or self._pictures % SHOW_EVERY or not columns:
            return
        roll = self._roll
        self._line.show(
            progress(status, wiring=roll.wiring, frames=roll.plays_until, columns=columns)
        )

    def ends(self) -> None:
        """Take the line of progress away."""
        self._line.end()

    def stop_asked(self) -> bool:
        """Return whether Ctrl+C was pressed, and say once that it was heard."""
        asked = self._stop.is_set()
        if asked and not self._stop_said:
            self._stop_said = True
            self.step("stopping; what was recorded is kept")
        return asked
