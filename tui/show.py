"""Running the screen, and leaving the terminal as it was."""

from __future__ import annotations

import gc
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

from audio.vocab.errors import DeviceError
from tui.settings import Settings

if TYPE_CHECKING:
    from audio.jobs.runner import Runner


def show(bring: Callable[[], Runner], *, settings: Settings, end: threading.Event) -> None:
    """Run the screen to its end.

    Parameters
    ----------
    bring
        Makes the runner; called in a thread of its own.
    settings
        The user's own.
    end
        Set when the system wants the program to end.

    Raises
    ------
    SecondpassError
        If there was no session to show, or the screen failed, which the library has told then; the
        terminal is as it was by then.
    """
    gc.disable()  # until the session stands: what is made while starting stays
    from tui.app import Desk  # noqa: PLC0415 - half a second that a refusal need not wait for

    desk = Desk(bring, settings=settings, end=end)
    error = desk.run()
    if error is not None:
        raise error
    if desk.return_code:
        raise DeviceError("the screen failed and was closed; what was recorded is kept")
