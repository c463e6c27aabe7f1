"""How a blind sitting begins: which way, who listens, how many answers."""

from __future__ import annotations

from functools import partial

from audio.jobs.orders import BeginBlind
from audio.plan.blind import least_planned, planned_problem, proposed_planned
from audio.vocab.blind import LONGEST_LISTENER, Mode, listener_problem, mode_problem
from audio.vocab.listening import Flip, MatchThem
from tui.screens.asking import NameScreen
from tui.screens.stretch_keys import StretchKeys

WHO = "Who listens blind? A name; each has their own answers"
HOW_OFTEN = "How many answers? At least {least}; nothing is told before all of them are in"

MODES: tuple[Mode, ...] = ("pairs", "ranking", "apart")


class BlindKeys(StretchKeys):
    """Asks what has to be known, then shows the view without names."""

    _mode: Mode = "pairs"
    _listener = ""

    def _ask_who(self) -> None:
        """Ask who listens blind, then how often."""
        now = self.now()
        if now is None:
            return
        mode, sounds = self._mode, tuple(one.key for one in now.compared())
        if problem := mode_problem(mode, len(sounds)):
            self.desk.notice = f"{problem}; {self.key('take_out')} leaves a sound out"
            return
        self.desk.push_screen(
            NameScreen(
                WHO,
                first=self._listener,
                problem=listener_problem,
                named=partial(self._ask_how_often, mode, sounds),
                longest=LONGEST_LISTENER,
            )
        )

    def _ask_how_often(self, mode: Mode, sounds: tuple[str, ...], listener: str) -> None:
        self._listener = listener
        asks = HOW_OFTEN.format(least=least_planned(mode, len(sounds)))
        screen = NameScreen(
            asks,
            first=f"{proposed_planned(mode, len(sounds))}",
            problem=partial(_no_number, mode, len(sounds)),
            named=partial(self._begin_blind, mode, sounds),
            longest=3,
        )
        self.desk.push_screen(screen)

    def _begin_blind(self, mode: Mode, sounds: tuple[str, ...], planned: str) -> None:
        from tui.screens.blind import BlindScreen  # noqa: PLC0415 - most evenings never need it

        self.steer(MatchThem(on=True))
        self.desk.model.blind = None
        asked = BeginBlind(
            part=self.part,
            mode=mode,
            sounds=sounds,
            listener=self._listener,
            planned=int(planned),
        )
        self.desk.link.ask(asked)
        self.desk.push_screen(BlindScreen(self))

    def hear_first(self) -> None:
        """Hear the first sound of the list."""
        now = self.now()
        if now is not None:
            self.steer(Flip(key=now.compared()[0].key))


def _no_number(mode: Mode, sounds: int, typed: str) -> str | None:
    if not (typed.isascii() and typed.isdigit()):
        return (
            f"{typed!r} is no number of answers; type one such as {proposed_planned(mode, sounds)}"
        )
    return planned_problem(mode, sounds, int(typed))
