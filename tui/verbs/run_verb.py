"""``secondpass run``: the plan, card after card."""

from __future__ import annotations

import argparse
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from audio.jobs.deck import StoppedError
from audio.jobs.orders import AcceptFindings, BeginRun, HoldRun, OpenStream, RunLine, SkipLine
from audio.plan.run import to_do
from audio.vocab.errors import SecondpassError, UseError
from audio.vocab.plan import BARE
from audio.vocab.wiring import SimulatedDevice
from tui.cli import DONE, FAILED_CHECK, INTERRUPTED
from tui.locations import settings_yaml
from tui.present.json import show_json
from tui.present.results import tell_variant
from tui.present.run_cards import card, fitted, needs_hands, summary
from tui.present.terminal import is_terminal, put, say, tell, width
from tui.settings import read_settings
from tui.verbs.run_desk import RunDesk
from tui.verbs.set_prompt import LEAVE, Prompt

FAULT = 3
SKIP, HOLD = "s", "h"


def run(arguments: argparse.Namespace, stop: threading.Event) -> int:
    """Run the plan until it is over, held, or left."""
    attended = is_terminal(sys.stdin)
    settings = read_settings(settings_yaml())
    with _desk(arguments.folder, stop) as desk:
        if arguments.as_it_is:
            _accept(desk)
        _begin(desk, attended=attended, repeat_redo=arguments.repeat_redo)
        hands: Hands = AtTheAmp(desk, stop, settings.countdown_s) if attended else Nobody()
        code = _run(desk, hands, stop, quiet=arguments.json)
        if arguments.json:
            show_json({"run": desk.run, "plan": desk.plan})
        else:
            for line in fitted(summary(desk.run, desk.plan), width(sys.stdout)):
                tell(line)
        return code


@contextmanager
def _desk(folder: Path, stop: threading.Event) -> Iterator[RunDesk]:
    desk = RunDesk(folder, stop)
    try:
        yield desk
    finally:
        desk.close()


def _accept(desk: RunDesk) -> None:
    """Have every DI that is still to be played sent as it is."""
    for part in dict.fromkeys(
        line.wanted.part for line in desk.plan.lines if line.state == "to do"
    ):
        desk.obey(AcceptFindings(part=part))


def _begin(desk: RunDesk, *, attended: bool, repeat_redo: bool) -> None:
    """Open the stream and begin, or go on; nothing sounds yet, and nothing opens that is of no use."""
    wiring = desk.snapshot.wiring
    if not attended and wiring is not None and not isinstance(wiring.device, SimulatedDevice):
        raise UseError(
            "without a terminal nobody can press go beside a real amp; run it in a terminal, or with"
            " secondpass open on the screen"
        )
    if desk.run.state == "held":
        say(f"run {desk.run.number} goes on where it was; it was held: {desk.run.reason}")
    if to_do(desk.plan):
        desk.obey(OpenStream())
    desk.obey(BeginRun(repeat_redo=repeat_redo))


def _run(desk: RunDesk, hands: Hands, stop: threading.Event, *, quiet: bool) -> int:
    """Lead through the cards; return the exit code."""
    try:
        while desk.run.state in ("waiting", "held"):
            if desk.run.state == "held":
                if desk.fault or stop.is_set() or not hands.go_on():
                    break
                desk.obey(BeginRun(repeat_redo=desk.run.repeat_redo))
                continue
            _card(desk, hands, quiet=quiet)
    except StoppedError:
        desk.obey(HoldRun())
        return INTERRUPTED
    if desk.fault:
        say(f"secondpass: {desk.fault}")
        return FAULT
    if stop.is_set():
        return INTERRUPTED
    return FAILED_CHECK if desk.run.state == "held" and not hands.left else DONE


def _card(desk: RunDesk, hands: Hands, *, quiet: bool) -> None:
    """Show one card, and do with it what its answer says."""
    at = desk.run.at
    shown = card(desk.run, desk.plan, desk.chains())
    for line in fitted(shown, width(sys.stderr)):
        put(sys.stderr, f"{line}\n")
    answer = hands.answer()
    if answer == SKIP:
        desk.obey(SkipLine(key=at))
        return
    if answer == HOLD:
        desk.obey(HoldRun())
        return
    try:
        desk.obey(RunLine(key=at))
    except SecondpassError as error:
        if desk.run.state != "held":  # it was refused: who goes on would be refused for ever
            raise
        say(str(error))
    if desk.variant is not None and not quiet:
        tell_variant(desk.variant)


class Nobody:
    """Who answers where nobody can be hurt: each card is played at once, what is held stays held."""

    left = False

    def answer(self) -> str:
        """Play it."""
        return ""

    def go_on(self) -> bool:
        """Leave it to somebody."""
        return False


class AtTheAmp:
    """Somebody at a terminal.

    Parameters
    ----------
    desk
        Whose cards are answered.
    stop
        Set when Ctrl+C was pressed.
    countdown_s
        How long the amp waits after the answer, seconds.
    prompt
        Asks.
    """

    def __init__(
        self,
        desk: RunDesk,
        stop: threading.Event,
        countdown_s: int,
        prompt: Callable[[threading.Event], Prompt] = Prompt,
    ) -> None:
        self._desk = desk
        self._countdown_s = countdown_s
        self._prompt = prompt(stop)
        self._before = ""
        """Key of the card that was played last; empty where a person has to begin."""
        self.left = False

    def answer(self) -> str:
        """Ask what to do with the card; where nothing has to be touched, count down by itself."""
        self._prompt.forget()
        by_itself = self._needs_nobody()
        while True:
            if by_itself:
                say(f"nothing to touch; enter holds, else it plays in {self._countdown_s} s")
            else:
                answer = self._ask(f"enter plays in {self._countdown_s} s, s skips, h holds")
                if answer in (SKIP, HOLD):
                    return answer
            if self._counted_down():
                self._before = self._desk.run.at
                return ""
            say("called off; nothing sounded")
            by_itself = False

    def go_on(self) -> bool:
        """Ask whether to go on with a run that is held."""
        if self.left:
            return False
        self._before = ""
        self._prompt.forget()
        say(f"held: {self._desk.run.reason}")
        return self._ask("enter shows its card again, h leaves") != HOLD

    def _ask(self, question: str) -> str:
        """Return the answer; who leaves, or is there no more, holds."""
        answer = self._prompt.ask(question)
        while answer not in ("", SKIP, HOLD, LEAVE):
            answer = self._prompt.ask(question)
        if answer in (HOLD, LEAVE):
            self.left = True
            return HOLD
        self._before = "" if answer == SKIP else self._before
        return answer

    def _needs_nobody(self) -> bool:
        """Return whether the card may count down by itself: somebody has begun, and all is set."""
        run, line = self._desk.run, self._desk.plan.line(self._desk.run.at)
        if line is None or self._before in ("", BARE):
            return False
        before = self._desk.plan.line(self._before)
        plugged = before.wanted.chain if before else ""
        return run.repeated or not needs_hands(line, self._desk.chains(), plugged=plugged)

    def _counted_down(self) -> bool:
        """Count down aloud; return whether nobody called it off."""
        try:
            for left in range(self._countdown_s, 0, -1):
                put(sys.stderr, f"{left} ")
                if self._prompt.pressed(1.0):
                    return False
        finally:
            put(sys.stderr, "\n")
        return True


Hands = Nobody | AtTheAmp
