"""A run at the desk: its cards shown in turn, each played when somebody says go."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from audio.jobs.orders import AgainLine, BeginRun, EndRun, HoldRun, RunLine, SkipLine
from audio.plan.path import CLOSED
from audio.vocab.names import BARE_PATH
from audio.vocab.plan import BARE
from tui.present.run_cards import needs_hands

if TYPE_CHECKING:
    from audio.vocab.plan import PlanLine, RunNow
    from tui.app import Desk
    from tui.model import Doing

CALLED_OFF = "the countdown was called off"


class RunControl:
    """The keys of a run.

    Parameters
    ----------
    desk
        The program.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._model = desk.model
        self._by_itself = False  # the countdown that goes was begun by nobody

    @property
    def now(self) -> RunNow:
        """How the run stands."""
        return self._model.run()

    def _idle(self) -> bool:
        """Return whether nothing is under way and nothing counts down."""
        return not self._model.busy and self._model.countdown_s is None

    def line(self) -> PlanLine | None:
        """Return the line whose card is shown."""
        return self._model.plan().line(self.now.at)

    def key(self) -> None:
        """Begin a run, go on with one that is held, or show the card of one that waits."""
        if not self._idle():
            return
        if self.now.state == "waiting":
            self.show_card()
        elif self._model.opened is None:
            self._desk.not_yet("send", CLOSED)
        elif not self._model.plan().lines:
            problem = self._model.plan().problem
            self._desk.say(problem) if problem else self._desk.show_plan()
        else:
            self._desk.ask(BeginRun(repeat_redo=self._model.repeats()), "run")

    def take(self) -> bool:
        """Take a go where a card is shown; return whether one is."""
        if not self._model.card_shown:
            return False
        if self.now.state == "waiting" and self.now.at == BARE:
            self._count_down(by_itself=False)
        elif self.now.state == "waiting":
            self._desk.control.once_ready(partial(self._count_down, by_itself=False))
        elif self.now.state == "held":
            self._desk.ask(BeginRun(repeat_redo=self._model.repeats()), "run")
        return True

    def _count_down(self, *, by_itself: bool) -> None:
        self._by_itself = by_itself
        self._desk.control.count_down(partial(self._play, self.now.at), called_off=self._called_off)
        if self.now.at != BARE:
            self._desk.show_roll()
        self._desk.changed()

    @property
    def counts_by_itself(self) -> bool:
        """Whether a countdown goes that nobody began."""
        return self._by_itself and self._model.countdown_s is not None

    def rest(self) -> bool:
        """Hold the run where a countdown that nobody began goes, and return whether one did."""
        goes = self.counts_by_itself
        if goes:
            self._desk.control.stop()
        return goes

    def _play(self, key: str) -> None:
        self._by_itself = False
        doing: Doing = "click" if key == BARE else "pass"
        self._desk.ask(RunLine(key=key), doing)

    def _called_off(self) -> None:
        """Show the card again; who calls off a countdown that began by itself wants a rest."""
        self.show_card()
        rests, self._by_itself = self._by_itself, False
        if rests:
            self._desk.ask(HoldRun(reason=CALLED_OFF), "run")

    def settled(self, was: Doing | None) -> None:
        """Show the card that comes, now that what was asked is over; go on where no hand is needed."""
        if self.now.state in ("none", "playing") or was not in ("run", "pass", "click"):
            return
        if was == "run" or self._model.card_shown:
            self.show_card()
        if was == "pass" and self._goes_on():
            self._count_down(by_itself=True)

    def _goes_on(self) -> bool:
        """Return whether the next line needs nobody: the same chain, the last pass worth keeping."""
        line, done = self.line(), self._model.judged()
        if not self._model.card_shown or self.now.state != "waiting" or line is None:
            return False
        if done is None or done.verdict == "redo" or self.now.repeated:
            return False
        if self._model.checks.open_worst(line.wanted.part):
            return False
        return not needs_hands(line, self._model.chain_files(), plugged=done.chain.name)

    def show_card(self) -> None:
        """Show the card at which the run stands; what it names is what would be played next."""
        line = self.line()
        if line is not None:
            self._model.part, self._model.chain = line.wanted.part, line.wanted.chain
        elif self.now.at == BARE:
            self._model.chain = BARE_PATH
        self._model.card_shown = True
        self._desk.show_chain_card()

    # ------------------------------------------------------------ other keys of the card

    def hold(self) -> None:
        """Hold the run."""
        if self._idle() and self.now.state == "waiting":
            self._desk.ask(HoldRun(), "run")

    def skip(self) -> None:
        """Leave the line out that the card is of."""
        if self._idle() and self.now.at:
            self._desk.ask(SkipLine(key=self.now.at), "run")

    def again(self) -> None:
        """Have the line that was played last once more."""
        done = self._model.judged()
        lines = self._model.plan().lines
        key = next(
            (
                x.wanted.key
                for x in lines
                if done and (x.wanted.part, x.number) == (done.part, done.number)
            ),
            None,
        )
        if self._idle() and key is not None:
            self._desk.ask(AgainLine(key=key), "run")

    def repeat(self) -> None:
        """Have a pass to be done again repeated once, or not, from the next time somebody goes on."""
        self._model.repeat_redo = not self._model.repeats()
        self._desk.changed()

    def end(self) -> None:
        """End the run; what is left stays in the plan."""
        if self._idle() and self.now.state in ("waiting", "held"):
            self._desk.ask(EndRun(), "run")

    def put_away(self) -> None:
        """Leave the card; the run stays where it is."""
        self._model.card_shown = False
        self._desk.back_to_path(None)
        self._desk.path_screen.walk_to("chain")
        if self.now.state in ("waiting", "held"):
            self._desk.notice = (
                f"run {self.now.number} waits; its card comes back with the same key"
            )
            self._desk.changed()
