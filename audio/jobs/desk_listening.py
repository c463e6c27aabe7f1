"""Listening at the desk: the roll, what may be said meanwhile, and the balances that are kept of it."""

from __future__ import annotations

from collections.abc import Callable
from functools import reduce
from time import monotonic

from audio.jobs.deck import Deck
from audio.jobs.listening import Listening
from audio.jobs.listening_ground import listening_ground
from audio.jobs.order_queue import OrderQueue
from audio.jobs.orders import AnswerBlind, BeginBlind, EndBlind, Listen, SayOfVariant
from audio.jobs.telling import Tell
from audio.plan.listening import steered
from audio.session.opened import Session
from audio.vocab.balance import Balance
from audio.vocab.listening import ListeningNow, Steer

Meanwhile = SayOfVariant | BeginBlind | AnswerBlind | EndBlind
MEANWHILE: tuple[type[Meanwhile], ...] = (SayOfVariant, BeginBlind, AnswerBlind, EndBlind)
"""Orders that are obeyed while it rolls: they take no time, and nothing sounds of them."""

SETTLED_S = 2.0
"""A fader that was not moved for so long stands where somebody wants it: it is noted in the journal."""


class DeskListening:
    """What a runner's thread does while people listen, and how a face steers it.

    Parameters
    ----------
    orders
        Looked at while it rolls: what changes the session is obeyed beside it, anything else ends it.
    obey
        Obeys one of these orders.
    tell
        Given how it stands.
    clock
        Seconds, rising.
    """

    def __init__(
        self,
        orders: OrderQueue,
        *,
        obey: Callable[[Meanwhile], None],
        tell: Tell,
        clock: Callable[[], float] = monotonic,
    ) -> None:
        self._orders = orders
        self._obey = obey
        self._tell = tell
        self._clock = clock
        self._listening: Listening | None = None
        self._noted: tuple[tuple[str, Balance], ...] = ()
        self._moved: tuple[tuple[tuple[str, Balance], ...], float] = ((), 0.0)

    def steer(self, asked: Steer) -> None:
        """Change what is listened to at once, from any thread; nothing happens where nobody listens."""
        listening = self._listening
        if listening is not None:
            listening.steer(asked)

    def listen(self, deck: Deck, session: Session, asked: Listen) -> None:
        """Let the sounds of a part roll until somebody stops it.

        Parameters
        ----------
        deck
            An open stream.
        session
            Its part.
        asked
            What is listened to.

        Raises
        ------
        audio.vocab.errors.UseError
            If there is nothing to listen to, or it cannot be heard here.
        audio.vocab.errors.DeviceError
            If the device goes.
        """
        ground = listening_ground(session, deck.worker, deck.wiring, part_name=asked.part)
        for line in ground.said:
            deck.listener.step(line)
        self._noted = ground.now.balances
        self._moved = (self._noted, self._clock())
        now = reduce(steered, asked.steers, ground.now)
        listening = self._listening = Listening(deck, now, self._tell)
        try:
            listening.run(between=self._between)
        finally:
            self._listening = None
            self._note(listening.now)

    def _between(self) -> None:
        """Obey what may be obeyed meanwhile, and note balances that stand."""
        asked = self._orders.beside(MEANWHILE)
        if asked is not None:
            self._obey(asked)
        listening = self._listening
        if listening is None:
            return
        balances, at = self._moved
        if balances != listening.now.balances:
            self._moved = (listening.now.balances, self._clock())
        elif self._clock() - at > SETTLED_S:
            self._note(listening.now)

    def _note(self, now: ListeningNow) -> None:
        """Write down the balances that are not what was written last."""
        before, self._noted = dict(self._noted), now.balances
        for key, balance in now.balances:
            sound = now.sound(key)
            if balance == before.get(key, Balance()) or sound is None or sound.number is None:
                continue
            self._obey(SayOfVariant(part=now.part, number=sound.number, balance=balance))
