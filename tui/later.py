"""What the session is told, one thing after the other: what is typed meanwhile waits its turn."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tui.app import Desk

UNDER_WAY = "something is under way; the plan is changed when that is over"


class Later:
    """The orders that wait.

    Parameters
    ----------
    desk
        The program.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._waiting: deque[Callable[[], None]] = deque()

    def tell(self, tell: Callable[[], None]) -> None:
        """Tell the session something now, or once it has taken in what it was told before.

        While something sounds it is told nothing, and that is said.
        """
        desk = self._desk
        if desk.model.doing == "session":
            self._waiting.append(tell)
        elif desk.model.busy:
            desk.model.said = desk.notice = UNDER_WAY
            desk.changed()
        else:
            desk.notice = ""
            tell()

    def go_on(self) -> None:
        """Tell what waits, now that nothing is under way; where that went wrong, forget it."""
        if self._desk.model.troubles:
            self.forget()
        while self._waiting and not self._desk.model.busy:
            self._waiting.popleft()()

    def forget(self) -> None:
        """Forget what waits: somebody pressed stop."""
        self._waiting.clear()
