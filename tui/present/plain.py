"""Plain text for a terminal or a log: progress on standard error, results on standard output."""

from __future__ import annotations

import sys
import threading

from audio.vocab.status import Status
from audio.vocab.units import db_from_ratio

SHOW_EVERY = 4
"""Pictures of the engine between two lines of progress: about five lines a second."""


def clean(text: str) -> str:
    """Return text a terminal cannot be steered by: control characters become visible escapes."""
    return "".join(c if c.isprintable() or c == "\n" else f"\\x{ord(c):02x}" for c in text)


def say(text: str) -> None:
    """Print a line of messages or progress on standard error."""
    print(clean(text), file=sys.stderr, flush=True)  # noqa: T201 - this is the place that prints


def tell(text: str) -> None:
    """Print a line of results on standard output."""
    print(clean(text), flush=True)  # noqa: T201 - this is the place that prints


def minutes(seconds: float) -> str:
    """Return a time as ``m:ss``."""
    whole = max(0, int(seconds))
    return f"{whole // 60}:{whole % 60:02d}"


def level(dbfs: float) -> str:
    """Return a level in six characters with a true minus sign: ``−12.3``, ``  −inf``."""
    return f"{'−inf' if dbfs <= -150 else f'{dbfs:.1f}'.replace('-', '−'):>6}"


class Plain:
    """A listener that writes lines; on a terminal the last one moves while a roll runs.

    Parameters
    ----------
    stop
        Set when the engineer pressed Ctrl+C.
    """

    def __init__(self, stop: threading.Event) -> None:
        self._stop = stop
        self._moving = False
        self._shown = 0

    def step(self, text: str) -> None:
        """Write one line."""
        self._end_moving_line()
        say(text)

    def rolling(self, status: Status, *, rate: int) -> None:
        """Move the line of progress along, where there is a terminal."""
        self._shown += 1
        if not sys.stderr.isatty() or self._shown % SHOW_EVERY:
            return
        sent = max((peak for peak in status.outputs.peak), default=0.0)
        back = max((peak for peak in status.inputs.peak), default=0.0)
        lost = "nothing lost" if not status.dropouts else f"dropouts {status.dropouts}"
        line = (
            f"  {minutes(max(0, status.roll_frame) / rate)}"
            f"   out {level(db_from_ratio(sent))}   in {level(db_from_ratio(back))}   {lost}"
        )
        sys.stderr.write(f"\r\x1b[K{line}")
        sys.stderr.flush()
        self._moving = True

    def stop_asked(self) -> bool:
        """Return whether Ctrl+C was pressed."""
        return self._stop.is_set()

    def _end_moving_line(self) -> None:
        if self._moving:
            sys.stderr.write("\r\x1b[K")
            self._moving = False
