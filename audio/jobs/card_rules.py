"""When a press on a card is obeyed: the rules alone, no socket and no clock in them.

Any card may stop, whatever it is. One card at most drives, the others watch; go is obeyed only from the
card that drives, only for the picture that is the newest one, while go is offered there, if it was not long
on its way, and half a second after the last press on any side: so a key that repeats, two people at two
cards, or a press on an old picture never start anything. The desk's own keys ask nobody.

No card ever becomes the driver by itself while another one is there: a go key that comes to life under
somebody's thumb is dangerous.

==============================================  ==================================================
what happens                                    who drives then
==============================================  ==================================================
a card is started, and it is the only one       that card
a card is started beside others                 as before: the driver, or nobody
a card finds the desk again after a break       as before: nobody, if it had been the driver
the driver leaves, or its connection ends       nobody
the driver gives no sign of life for `SILENT_S` nobody, also when it speaks again
a watching card leaves or falls silent          as before
drive is pressed on any card                    that card; whoever drove is told
drive was held up on its way                    as before
go or stop is pressed anywhere                  as before
==============================================  ==================================================
"""

from __future__ import annotations

from audio.vocab.card import CardState, Drive, Go, Role, same_picture

APART_S = 0.5
"""A held key repeats some thirty times a second; nobody means two starts within half a second."""

LONGEST_WAY_S = 1.0
"""A go that was held up longer, behind a program that hung, belongs to a moment that has passed."""


SILENT_S = 4.0
"""A driver that gives so long no sign of life, which comes once a second, may be out of anybody's sight."""

HELD_UP = "was held up on its way and {}; press again"


class CardRules:
    """The newest picture, its number, which card drives, and when a key was last pressed."""

    def __init__(self) -> None:
        self.number = 0
        """Of the newest picture; 0 before there is one."""
        self.state: CardState | None = None
        self._pressed_at_s: float | None = None
        self._driver: int | None = None
        self._heard_s: dict[int, float] = {}  # of every card that is there
        self._lost: dict[int, str] = {}  # of the card that drove last: why no more

    # ------------------------------------------------------------ cards come and go

    @property
    def driver(self) -> int | None:
        """Number of the card that drives."""
        return self._driver

    def come(self, now_s: float, *, new: bool) -> int:
        """Take a card in; return its number, the smallest that is free.

        Parameters
        ----------
        now_s
            Now.
        new
            Whether a person has just started it; not when it found the desk again by itself.

        Returns
        -------
        int
            From 1.
        """
        card = next(n for n in range(1, len(self._heard_s) + 2) if n not in self._heard_s)
        alone = not self._heard_s
        self._heard_s[card] = now_s
        if new and alone:
            self._hand_over(card)
        return card

    def hear(self, card: int, now_s: float) -> None:
        """Take note of a sign of life; it comes too late for a driver that was silent until now."""
        self.look(now_s)
        self._heard_s[card] = now_s

    def leave(self, card: int) -> None:
        """Let a card go; where it drove, nobody does."""
        del self._heard_s[card]
        self._lost.pop(card, None)
        if self._driver == card:
            self._hand_over(None)

    def look(self, now_s: float) -> None:
        """Let nobody drive where the driver has been silent for too long."""
        driver = self._driver
        if driver is not None and now_s - self._heard_s[driver] >= SILENT_S:
            self._hand_over(None, because=f"it fell silent for {SILENT_S:g} s")

    def role(self, card: int) -> Role:
        """Return what a card is told of itself and the others; 0 stands for one that is none yet."""
        lost = self._lost.get(card, "")
        return Role(card=card, cards=len(self._heard_s), driver=self._driver, lost=lost)

    def drive(self, card: int, asked: Drive, now_s: float) -> str:
        """Let a card drive; return why not, one sentence, empty if it does.

        It counts as a press: a go right after it starts nothing.
        """
        self._pressed_at_s = now_s
        if abs(now_s - asked.at_s) > LONGEST_WAY_S:
            return "this " + HELD_UP.format("changed nothing")
        if self._driver != card:
            self._hand_over(card, because=f"card {card} took over")
        return ""

    def _hand_over(self, card: int | None, *, because: str = "") -> None:
        """Let another card drive, or none; the one that drove is told why, if it is there."""
        before = self._driver
        self._lost = {before: because} if before in self._heard_s else {}
        self._driver = card
        self.number += 1  # whoever looked at the picture before looks at another one now

    # ------------------------------------------------------------ pictures and keys

    def show(self, state: CardState) -> None:
        """Take a new state; it gets a new number unless only moving figures changed."""
        if self.state is None or not same_picture(self.state, state):
            self.number += 1
        self.state = state

    def press(self, now_s: float) -> None:
        """Take note that go or stop was pressed, here or at the desk."""
        self._pressed_at_s = now_s

    def refusal(self, card: int, go: Go, now_s: float) -> str:
        """Return why a card's go starts nothing, one sentence; empty if it is to be obeyed.

        Every go of the card that drives counts as a press, obeyed or not: a key that is held down stays
        refused. A watching card's counts for nothing, so that it cannot hold up the one that drives.
        """
        self.look(now_s)
        if card != self._driver:
            return f"this card watches: {self.role(card).watching}; take over first, then look"
        before, self._pressed_at_s = self._pressed_at_s, now_s
        if before is not None and now_s - before < APART_S:
            return "pressed too soon after the last key; wait a moment and press again"
        if abs(now_s - go.at_s) > LONGEST_WAY_S:
            return "this go " + HELD_UP.format("started nothing")
        if go.number != self.number:
            return "the picture had just changed; look and press again"
        if self.state is None or not self.state.may_go:
            return "there is nothing to start now"
        return ""
