"""A run: the line at which it stands is played once somebody said go, judged, and the next card shown.

What a run is at stands in the journal (`audio.session.runs`), what may happen next in `audio.plan.run`.
Here is what only a program that runs knows: whether the stream has measured the bare path, since when a
card has been shown, and whether the line that is started really plays.
"""

from __future__ import annotations

from collections.abc import Callable
from time import monotonic
from typing import Protocol

from msgspec.structs import replace

from audio.jobs.deck import StoppedError
from audio.jobs.passes import Passed
from audio.jobs.snapshots import Planned
from audio.plan.run import UNDER_WAY, after, bare_comes_first, may_repeat, to_do
from audio.session import plans, runs
from audio.session.opened import Session
from audio.vocab.errors import SecondpassError, UseError
from audio.vocab.findings import heaviest_first
from audio.vocab.plan import BARE, RunNow, Wanted
from audio.vocab.variant import Variant

BY_HAND = "stopped by hand"

CLOSED = "the program was closed between two passes; nothing has sounded since"

UNNOTED = "the journal could not be written when the last line had ended; make room, then go on"


class Ground(Protocol):
    """Where a run is run: the desk, or a test."""

    def session(self) -> Session:
        """Return the session as it is now; its lock is held."""

    def planned(self) -> Planned:
        """Return the plan as it stands now."""

    def bare_is_open(self) -> bool:
        """Return whether the stream has still to measure the bare path, where that is of use."""

    def ready(self) -> None:
        """Raise `UseError` where nothing can be played now."""

    def play(self, wanted: Wanted) -> Passed | str:
        """Play a line; return what it left, or what broke it off. Fails as `run_pass` does."""

    def measure_bare(self) -> str:
        """Measure the bare path; return why it is not known then, empty where it is."""

    def settle(self, done: Passed) -> None:
        """Tell of a pass once the run has noted it."""

    def moved(self, planned: Planned, run: RunNow) -> None:
        """Tell where the run stands now."""


class Running:
    """The runs of one session, in the program that holds it.

    Parameters
    ----------
    ground
        Where they are run.
    clock
        Seconds, rising.
    """

    def __init__(self, ground: Ground, *, clock: Callable[[], float] = monotonic) -> None:
        self._ground = ground
        self._clock = clock
        self._plays = False
        self._card = (0, "")  # run and key of the card that is shown
        self._shown_at = 0.0
        self._bare_skipped_in = 0

    def take_up(self) -> None:
        """Hold a run whose program died."""
        runs.take_up(self._ground.session())

    def leave(self) -> None:
        """Hold a run that waits: nobody runs it from now on."""
        runs.take_up(self._ground.session(), CLOSED)

    def lost(self, reason: str) -> None:
        """Hold a run that waits: its stream is lost. One that plays is held by what its pass says."""
        if not self._plays and runs.is_going(self._ground.session()):
            self.hold(reason)

    def now(self, planned: Planned) -> RunNow:
        """Return the run as it stands, its card shown from now on where it is another one."""
        run = runs.run_now(self._ground.session(), planned.plan)
        if run.state == "playing" and not self._plays:
            run = replace(run, state="held", at="", reason=UNNOTED)
        if run.state in ("waiting", "held") and self._bare_first(run, planned):
            run = replace(run, at=BARE, repeated=False)
        if run.state == "waiting" and self._card != (run.number, run.at):
            self._card, self._shown_at = (run.number, run.at), self._clock()
        return run

    def _bare_first(self, run: RunNow, planned: Planned) -> bool:
        return (
            self._bare_skipped_in != run.number
            and self._ground.bare_is_open()
            and bare_comes_first(planned.plan, without_pedals=planned.without_pedals())
        )

    # ------------------------------------------------------------ orders

    def begin(self, *, repeat_redo: bool) -> None:
        """Begin a run, or go on with the one that is held; a card is shown, nothing sounds.

        `UseError` if one is under way already, or there is nothing left to do.
        """
        planned = self._ground.planned()
        run = self.now(planned)
        if after(run.state, "begun") is None:
            raise UseError("the run is under way already; its card is shown")
        if run.state == "held" and self._play_again_what_it_died_over(planned):
            planned = self._ground.planned()
        if not to_do(planned.plan):
            if run.state == "held":
                runs.end(self._ground.session(), run.number)
                self.stand()
                return
            raise UseError(planned.plan.problem or _nothing_left(planned))
        self._card = (0, "")
        runs.begin(self._ground.session(), run, repeat_redo=repeat_redo)
        self.stand()

    def _play_again_what_it_died_over(self, planned: Planned) -> bool:
        """Have lines played once more over which the program died, and which lack something since then.

        What was finished without a closing click is a look for no reason of the amp's.
        """
        lines = map(planned.plan.line, runs.died_over(self._ground.session()))
        doubtful = [one for one in lines if one and one.state == "done" and one.verdict == "look"]
        for one in doubtful:
            plans.again(self._ground.session(), one.wanted.key)
        return bool(doubtful)

    def play(self, key: str) -> None:
        """Play the line at which the run stands; `UseError` if that is another one by now.

        Whatever goes wrong holds the run, then fails as the pass did.
        """
        planned = self._ground.planned()
        run = self.now(planned)
        _refuse_other(run, key)
        self._ground.ready()
        line = planned.plan.line(key)
        wanted = None if key == BARE or line is None else line.wanted
        runs.start_line(self._ground.session(), run.number, key, wanted)
        self._plays = True
        try:
            self.stand()
            self._play(run, wanted)
        except Exception as error:
            self._hold(run, _said(error))
            raise
        finally:
            self._plays, self._card = False, (0, "")
            self.stand()

    def hold(self, reason: str) -> None:
        """Hold the run; one that is held already keeps its reason, one that is over stays so."""
        run = self.now(self._ground.planned())
        if run.state in UNDER_WAY:
            self._hold(run, reason)
        self.stand()

    def end(self) -> None:
        """End the run; what is left to do stays in the plan. `UseError` if there is none."""
        run = self.now(self._ground.planned())
        if after(run.state, "end") is None:
            raise UseError("no run is under way")
        runs.end(self._ground.session(), run.number)
        self.stand()

    def skip_bare(self) -> None:
        """Leave out the measurement of the bare path for this run."""
        self._bare_skipped_in = self.now(self._ground.planned()).number
        self.stand()

    def settle(self) -> None:
        """Tell where a run stands after something else has changed; nothing where there is none."""
        if runs.is_going(self._ground.session()):
            self.stand()

    def stand(self) -> None:
        """Tell where the run stands; with nothing left to do, it is over."""
        planned = self._ground.planned()
        run = self.now(planned)
        if run.state == "waiting" and not run.at:
            runs.end(self._ground.session(), run.number)
            run = self.now(planned)
        self._ground.moved(planned, run)

    # ------------------------------------------------------------ one line

    def _play(self, run: RunNow, wanted: Wanted | None) -> None:
        if wanted is None:
            self._measured(run)
            return
        done = self._ground.play(wanted)
        if isinstance(done, str):
            self._hold(run, done)
            return
        self._judged(run, wanted, done)
        self._ground.settle(done)

    def _measured(self, run: RunNow) -> None:
        """Note that the bare path is measured: the run goes on by it, or is held."""
        problem = self._ground.measure_bare()
        if problem:
            self._hold(run, problem)
        else:
            runs.bare_known(self._ground.session(), run.number)

    def _judged(self, run: RunNow, wanted: Wanted, done: Passed) -> None:
        variant = done.variant
        if variant.state != "kept":
            self._hold(run, BY_HAND if done.interrupted else done.fault or why(variant))
            return
        took_s = self._clock() - self._shown_at
        runs.note_pass(
            self._ground.session(), run.number, wanted, variant=variant, took_s=took_s,
            text=_heaviest(variant),
        )  # fmt: skip
        if done.fault:
            self._hold(run, done.fault)
        elif variant.verdict == "redo" and not may_repeat(run, repeated=run.repeated):
            self._hold(run, why(variant))

    def _hold(self, run: RunNow, reason: str) -> None:
        runs.hold(self._ground.session(), run.number, reason)


def why(variant: Variant) -> str:
    """Return why a pass holds a run: its heaviest finding and what to do about it."""
    name = f"{variant.part} {variant.number:03d} through {variant.chain.name}"
    first = next(iter(heaviest_first(variant.findings)), None)
    if first is None:
        return f"{name} is to be done again"
    return f"{name}: {first.text} {first.advice}".strip()


def _said(error: Exception) -> str:
    """Return what held a run that could not be played on."""
    if isinstance(error, StoppedError):
        return BY_HAND
    if isinstance(error, SecondpassError):
        return str(error)
    return f"the program failed: {type(error).__name__}: {error}; what was recorded is kept"


def _heaviest(variant: Variant) -> str:
    first = next(iter(heaviest_first(variant.findings)), None)
    return first.text if first is not None else ""


def _refuse_other(run: RunNow, key: str) -> None:
    if after(run.state, "go") is None:
        raise UseError(_not_waiting(run))
    if key != run.at:
        raise UseError("the run stands at another line by now; look at its card, then press go")


def _not_waiting(run: RunNow) -> str:
    if run.state == "held":
        return f"the run is held ({run.reason}); go on with it first"
    return "no run waits for a go; begin one first"


def _nothing_left(planned: Planned) -> str:
    lines = planned.plan.lines
    if not lines:
        return "the plan is empty; add passes to it first, in the plan or in plan.yaml"
    stuck = next((line for line in lines if line.state == "cannot"), None)
    if stuck is not None:
        return f"nothing is left that can be played: {stuck.wanted.part}: {stuck.why}"
    return "nothing is left to do in the plan; add passes to it, or have a line played again"
