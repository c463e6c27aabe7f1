"""The runs of a session at the desk: orders in, and what the desk's one thread lends a run."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import assert_never

from audio.files.awake import Awake
from audio.jobs import news
from audio.jobs.deck import Deck
from audio.jobs.news import News
from audio.jobs.orders import BeginRun, EndRun, HoldRun, RunLine, RunPass, RunStep
from audio.jobs.passes import Passed
from audio.jobs.placing import Known
from audio.jobs.running import Running
from audio.jobs.snapshots import Planned
from audio.plan.run import UNDER_WAY
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.names import BARE_PATH
from audio.vocab.plan import RunNow, Wanted
from audio.vocab.setup import AskDelay, SetupRecord

OfRun = BeginRun | RunLine | HoldRun | EndRun

STAY_AWAKE = (
    "the system cannot be asked to stay awake; set its sleep and screen lock off for the evening"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hands:
    """What the desk does for a run; all of it in the desk's thread."""

    session: Callable[[], Session]
    """As it is now."""
    planned: Callable[[], Planned]
    deck: Callable[[], Deck]
    """Fails with `UseError` where no pass can be played now."""
    known: Callable[[], Known]
    """What the open stream has measured."""
    play: Callable[[RunPass], Passed | str]
    step: Callable[[RunStep], SetupRecord | str]
    settle: Callable[[Passed], None]
    forget: Callable[[], None]
    """Forget orders that sound and wait: nobody has seen the card that comes now."""
    tell: Callable[[News], None]


class DeskRun:
    """A `Ground` for runs, and who obeys their orders.

    Parameters
    ----------
    hands
        What the desk does for it.
    awake
        Kept while a run goes.
    """

    def __init__(self, hands: Hands, awake: Awake) -> None:
        self._hands = hands
        self._awake = awake
        self.running = Running(self)

    def obey(self, asked: OfRun) -> None:
        """Obey one order; `UseError` where it cannot be, and else what a pass fails with."""
        match asked:
            case BeginRun():
                self.running.begin(repeat_redo=asked.repeat_redo)
            case RunLine():
                try:
                    self.running.play(asked.key)
                finally:
                    self._hands.forget()
            case HoldRun():
                self.running.hold(asked.reason)
            case EndRun():
                self.running.end()
            case _:
                assert_never(asked)

    def tell_refusal(self) -> None:
        """Tell once that the system does not let itself be kept awake."""
        if self._awake.refused():
            self._hands.tell(news.Said(text=STAY_AWAKE))

    # ------------------------------------------------------------ the ground

    def session(self) -> Session:
        """Return the session as it is now."""
        return self._hands.session()

    def planned(self) -> Planned:
        """Return the plan as it stands now."""
        return self._hands.planned()

    def bare_is_open(self) -> bool:
        """Return whether the stream has still to measure the bare path.

        Aligned to the converters alone, nothing is placed by it.
        """
        if self._hands.known().bare is not None:
            return False
        try:
            return self._hands.session().wiring().align_to != "live"
        except UseError:  # what is wrong with the wiring is said where it is shown
            return False

    def ready(self) -> None:
        """Raise `UseError` where nothing can be played now."""
        self._hands.deck()

    def play(self, wanted: Wanted) -> Passed | str:
        """Play a line."""
        return self._hands.play(
            RunPass(part=wanted.part, chain=wanted.chain, section=wanted.section)
        )

    def measure_bare(self) -> str:
        """Measure the round trip without a pedal by the test click."""
        record = self._hands.step(RunStep(asked=AskDelay(), chain=BARE_PATH))
        if isinstance(record, str):
            return record
        return "" if self._hands.known().bare is not None else f"bare path: {_why(record)}"

    def settle(self, done: Passed) -> None:
        """Tell of a pass."""
        self._hands.settle(done)

    def moved(self, planned: Planned, run: RunNow) -> None:
        """Tell where the run stands, and keep the system awake while it goes."""
        self._awake.keep("run", run.state in UNDER_WAY)
        self.tell_refusal()
        self._hands.tell(news.RunStands(plan=planned.plan, run=run))


def _why(record: SetupRecord) -> str:
    first = next(iter(record.outcome.findings), None)
    return f"{first.text} {first.advice}".strip() if first else record.outcome.headline
