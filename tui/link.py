"""The screen's side of what runs beside it: the session at the desk, and its second terminals."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

from textual.message import Message

from audio.jobs.orders import Asked, Looked
from audio.vocab.card import CardState
from audio.vocab.errors import SecondpassError
from audio.vocab.listening import Steer
from audio.vocab.status import Status
from tui.messages import Brought, CardAsked, Failed, Told

if TYPE_CHECKING:
    from audio.jobs.cards import CardServer
    from audio.jobs.runner import Runner


class Link:
    """What there is of runner and card server; does nothing while they are not there.

    Parameters
    ----------
    post
        Gives a message to the screen, from any thread.
    """

    def __init__(self, post: Callable[[Message], object]) -> None:
        self._post = post
        self._runner: Runner | None = None
        self._cards: CardServer | None = None

    def fetch(self, bring: Callable[[], Runner]) -> None:
        """Make the runner in a thread of its own; `Brought` or `Failed` says how that went."""

        def run() -> None:
            try:
                self._post(Brought(bring()))
            except SecondpassError as error:
                self._post(Failed(error))

        threading.Thread(target=run, name="bringing", daemon=True).start()

    def take(self, runner: Runner) -> str:
        """Start a runner, and let second terminals watch; return why they cannot, empty when they can."""
        from audio.jobs.cards import CardServer  # noqa: PLC0415 - the first picture need not wait for it

        self._runner = runner
        runner.start(lambda one: self._tell(Told(one)))
        try:
            self._cards = CardServer(runner.folder, asked=lambda what: self._tell(CardAsked(what)))
        except SecondpassError as error:
            return f"no second terminal can watch: {error}"
        return ""

    def _tell(self, message: Message) -> None:
        self._post(message)

    @property
    def is_up(self) -> bool:
        """Whether there is a session."""
        return self._runner is not None

    def ask(self, asked: Asked) -> None:
        """Put an order in."""
        if self._runner is not None:
            self._runner.ask(asked)

    def steer(self, asked: Steer) -> None:
        """Change what is listened to, at once."""
        if self._runner is not None:
            self._runner.steer(asked)

    def look(self, looked: Looked) -> None:
        """Put a question in that plays nothing."""
        if self._runner is not None:
            self._runner.look(looked)

    def stop(self) -> None:
        """Stop what sounds."""
        if self._runner is not None:
            self._runner.stop()

    def status(self) -> Status | None:
        """Return the engine's newest picture."""
        return self._runner.status() if self._runner is not None else None

    def publish(self, state: CardState) -> None:
        """Show a state at the second terminals."""
        if self._cards is not None:
            self._cards.publish(state)

    def pressed(self) -> None:
        """Take note that go or stop was pressed here."""
        if self._cards is not None:
            self._cards.pressed()

    def leave_rolling(self) -> None:
        """Let the engine finish the pass alone."""
        runner, self._runner = self._runner, None
        if runner is not None:
            runner.leave_rolling()

    def close(self) -> None:
        """Let go of everything."""
        cards, self._cards = self._cards, None
        if cards is not None:
            cards.close()
        runner, self._runner = self._runner, None
        if runner is not None:
            runner.close()
