"""When a press of go or stop on a card is obeyed: the rules alone, no socket and no clock in them.

Stop is always obeyed. Go is obeyed only for the picture that is the newest one, while go is offered there,
if it was not long on its way, and half a second after the last press of either key on any side: so a
key that repeats, two people at two cards, or a press on an old picture never start anything.
"""

from __future__ import annotations

from audio.vocab.card import CardState, Go, same_picture

APART_S = 0.5
"""A held key repeats some thirty times a second; nobody means two starts within half a second."""

LONGEST_WAY_S = 1.0
"""A go that was held up longer, behind a program that hung, belongs to a moment that has passed."""


class CardRules:
    """The newest picture, its number, and when a key was last pressed."""

    def __init__(self) -> None:
        self.number = 0
        """Of the newest picture; 0 before there is one."""
        self.state: CardState | None = None
        self._pressed_at_s: float | None = None

    def show(self, state: CardState) -> None:
        """Take a new state; it gets a new number unless only moving figures changed."""
        if self.state is None or not same_picture(self.state, state):
            self.number += 1
        self.state = state

    def press(self, now_s: float) -> None:
        """Take note that go or stop was pressed, here or at the desk."""
        self._pressed_at_s = now_s

    def refusal(self, go: Go, now_s: float) -> str:
        """Return why a go starts nothing, one sentence; empty if it is to be obeyed.

        Every go counts as a press, obeyed or not: a key that is held down stays refused.
        """
        before, self._pressed_at_s = self._pressed_at_s, now_s
        if before is not None and now_s - before < APART_S:
            return "pressed too soon after the last key; wait a moment and press again"
        if abs(now_s - go.at_s) > LONGEST_WAY_S:
            return "this go was held up on its way and started nothing; press again"
        if go.number != self.number:
            return "the picture had just changed; look and press again"
        if self.state is None or not self.state.may_go:
            return "there is nothing to start now"
        return ""
