"""Blind sittings at the desk: begun, answered and ended while the sounds roll, each noted as it happens."""

from __future__ import annotations

from random import SystemRandom

from audio.jobs import news
from audio.jobs.orders import AnswerBlind, BeginBlind, EndBlind
from audio.plan.blind_result import comparisons
from audio.session.blind import Sittings, answer, begin, end, sittings
from audio.session.opened import Session
from audio.vocab.blind import Sitting, SittingNow, same_listener

OF_BLIND = (BeginBlind, AnswerBlind, EndBlind)


class DeskBlind:
    """Sittings of one session, for one thread; of the journal only what is new is read."""

    def __init__(self) -> None:
        self._remembered = Sittings()

    def obey(
        self, session: Session, asked: BeginBlind | AnswerBlind | EndBlind
    ) -> news.BlindStands:
        """Do it; return how the sitting stands. `UseError` where it cannot be; nothing is noted then.

        Parameters
        ----------
        session
            Locked by the caller.
        asked
            What is asked.

        Returns
        -------
        news.BlindStands
            With the result once it is over.
        """
        match asked:
            case BeginBlind():
                return self._told(
                    session, self._open(session, asked) or self._begun(session, asked)
                )
            case AnswerBlind():
                return self._told(
                    session,
                    answer(
                        session,
                        asked.number,
                        asked.trial,
                        asked.said,
                        remembered=self._remembered,
                    ),
                )
            case EndBlind():
                return self._told(session, end(session, asked.number, remembered=self._remembered))

    def _begun(self, session: Session, asked: BeginBlind) -> SittingNow:
        return begin(
            session,
            asked.part,
            mode=asked.mode,
            sounds=asked.sounds,
            listener=asked.listener,
            planned=asked.planned,
            dice=SystemRandom(),
            remembered=self._remembered,
        )

    def _open(self, session: Session, asked: BeginBlind) -> SittingNow | None:
        """Return the sitting that this listener has left open over the same sounds."""
        for one in self._alike(session, asked):
            if one.state == "open" and same_listener(one.sitting.listener, asked.listener):
                return one
        return None

    def _alike(self, session: Session, of: BeginBlind | Sitting) -> list[SittingNow]:
        """Return the sittings that compare the same sounds of a part the same way."""
        found = sittings(session, part=of.part, remembered=self._remembered)
        return [
            one
            for one in found
            if one.sitting.mode == of.mode and set(one.sitting.sounds) == set(of.sounds)
        ]

    def _told(self, session: Session, now: SittingNow) -> news.BlindStands:
        if now.state == "open":
            return news.BlindStands(now=now)
        return news.BlindStands(now=now, told=comparisons(self._alike(session, now.sitting)))
