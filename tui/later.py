"""What the session is told, one thing after the other: what is typed meanwhile waits its turn."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import TYPE_CHECKING

from audio.jobs.orders import Asked

if TYPE_CHECKING:
    from tui.app import Desk


class Later:
    """The orders that wait.

    Parameters
    ----------
    desk
        The program.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._waiting: deque[Callable[[], Asked | None]] = deque()

    def tell(self, asked: Callable[[], Asked | None]) -> None:
        """Tell the session something now, or once it has taken in what it was told before.

        While something else is under way it is told nothing, and that is said.

        Parameters
        ----------
        asked
            Returns the order when its turn has come, by how things stand then; None where there is none.
        """
        desk = self._desk
        if desk.model.doing == "session":
            self._waiting.append(asked)
        elif desk.model.busy:
            self.not_now("the plan is changed when that is over")
        else:
            desk.notice = ""
            self._ask(asked)

    def not_now(self, then: str) -> None:
        """Say that something is under way, and what can be done when that is over."""
        self._desk.model.said = self._desk.notice = f"something is under way; {then}"
        self._desk.changed()

    def go_on(self) -> None:
        """Tell what waits, now that nothing is under way; where that went wrong, forget it."""
        if self._desk.model.troubles:
            self.forget()
        while self._waiting and not self._desk.model.busy:
            self._ask(self._waiting.popleft())

    def forget(self) -> None:
        """Forget what waits: somebody pressed stop."""
        self._waiting.clear()

    def _ask(self, asked: Callable[[], Asked | None]) -> None:
        order = asked()
        if order is not None:
            self._desk.ask(order, "session")
