"""What every step of the set-up stands on."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from audio.jobs.deck import Deck
from audio.session.opened import Session
from audio.vocab.patching import PatchName
from audio.vocab.setup import Live, Row, SetupRecord
from audio.vocab.step_names import StepName


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """An open stream, the session, and what is plugged in; nothing of it changes while a step runs."""

    deck: Deck
    session: Session
    chain: str
    """As the engineer says; empty where it was not asked."""
    records: tuple[SetupRecord, ...]
    """What was measured before, oldest first."""

    @contextmanager
    def patched(self, patch: PatchName) -> Iterator[None]:
        """Say what is patched, to a room that has nobody to patch it; afterwards it is undone."""
        self.deck.patch(patch)
        try:
            yield
        finally:
            self.deck.patch("amp")

    def show(self, step: StepName, say: str, rows: tuple[Row, ...] = ()) -> None:
        """Show what the step does, and its figures so far."""
        self.deck.listener.live(Live(step=step, say=say, rows=rows))
