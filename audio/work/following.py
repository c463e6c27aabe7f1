"""Measures a pass in a thread of its own while it is recorded, so that little is left at its end."""

from __future__ import annotations

import threading

from audio.vocab.requests import Follow
from audio.vocab.results import PassMeasures
from audio.work.loading import LOADING

_LOOK_AGAIN_S = 0.2


class Following:
    """One pass being measured, from its making until `finish` or `abandon`.

    Parameters
    ----------
    asked
        Which captures, and the DI beside them.
    """

    def __init__(self, asked: Follow) -> None:
        self._asked = asked
        self._closed = threading.Event()
        self._abandoned = False
        self._outcome: PassMeasures | Exception | None = None
        self._thread = threading.Thread(target=self._run, name="following", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Measure what is left of the captures, which are closed now; nobody waits for it yet."""
        self._closed.set()

    def finish(self) -> PassMeasures | None:
        """Measure what is left of the closed captures and return everything; None once abandoned.

        Raises what stopped the measuring: `UseError` where a file cannot be read, or is not what
        was asked to be followed.
        """
        self._closed.set()
        self._thread.join()
        if isinstance(self._outcome, Exception):
            raise self._outcome
        return self._outcome

    def abandon(self) -> None:
        """Stop measuring; what was measured is let go."""
        self._abandoned = True
        self._closed.set()

    def _run(self) -> None:
        try:
            self._outcome = self._measure()
        except Exception as fault:  # noqa: BLE001 - a thread has no caller: `finish` raises it
            self._outcome = fault

    def _measure(self) -> PassMeasures | None:
        # Loads scipy, for a second or more: whoever asked to follow does not wait for that.
        with LOADING:
            from audio.work.passes import PassSound  # noqa: PLC0415

        with PassSound(self._asked) as sound:
            for _ in sound.take_di():
                sound.take_captures(closed=False)
                if self._abandoned:
                    return None
            while not self._abandoned:
                # Asked before looking: what is written later than this is not left behind.
                closed = self._closed.is_set()
                if sound.take_captures(closed=closed):
                    continue
                if closed:
                    return sound.measures()
                self._closed.wait(_LOOK_AGAIN_S)
            return None
