"""What starts, stops and ends a sitting: the guard of the keys, the countdown, the ways to leave."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from audio.jobs.orders import CloseStream, Listen, OpenStream, RunPass, RunStep, StopPlaying
from audio.plan.path import CLOSED
from audio.vocab.setup import AskDelay, Asked
from tui.screens.asking import LeavingScreen
from tui.timing import Countdown, Guard

if TYPE_CHECKING:
    from tui.app import Desk


class Control:
    """The keys that matter.

    Parameters
    ----------
    desk
        The program.
    clock
        Seconds, rising.
    """

    def __init__(self, desk: Desk, *, clock: Callable[[], float]) -> None:
        self._desk = desk
        self._model = desk.model
        self._clock = clock
        self._guard = Guard()
        self._countdown = Countdown()
        self._then: Callable[[], None] = self._run_pass
        self._called_off: Callable[[], None] = lambda: None
        self.leaving = False
        """The program ends when the pass that rolls is judged."""

    def _counts(self) -> bool:
        """Return whether a starting or stopping key was pressed anew, not held."""
        return self._guard.press(self._clock())

    def go(self) -> None:
        """Start the countdown; call it off; or stop what rolls and keep it."""
        if not self._counts():
            return
        self._desk.link.pressed()
        if self._model.countdown_s is not None:
            self.call_off()
        elif self._model.busy:
            self.stop()
        elif not self._desk.runs.take():
            self._start()

    def go_from_card(self) -> None:
        """Start the countdown where space would; a card's go never stops anything."""
        idle = not self._model.busy and self._model.countdown_s is None
        if idle and not self._desk.runs.take():
            self._start()

    def _start(self) -> None:
        """Begin the countdown; where something is missing, go there and say it."""
        hindrance = self._model.hindrance()
        if hindrance is None:
            self.once_ready(self._begin_countdown)
        else:
            self._desk.not_yet(hindrance.name, hindrance.why)

    def once_ready(self, then: Callable[[], None]) -> None:
        """Do what sends the chosen part's DI; where it is not ready to be sent, ask once."""
        part = self._model.part
        if part is None or not self._model.checks.open_worst(part):
            then()
            return
        from tui.screens.as_it_is import AsItIsScreen  # noqa: PLC0415 - most DIs are ready

        if not isinstance(self._desk.screen, AsItIsScreen):
            self._desk.push_screen(AsItIsScreen(part, then))

    def _begin_countdown(self) -> None:
        self.count_down(self._run_pass, called_off=partial(self._desk.back_to_path, None))
        self._desk.show_roll()
        self._desk.changed()

    def count_down(self, then: Callable[[], None], *, called_off: Callable[[], None]) -> None:
        """Count down, then do something; nothing sounds before, and it can be called off."""
        self._model.outcome = None
        self._desk.notice = ""
        self._then, self._called_off = then, called_off
        self._model.countdown_s = self._desk.settings.countdown_s
        self._countdown.begin(self._clock(), self._desk.settings.countdown_s)

    def step(self, asked: Asked, *, sounds: bool) -> None:
        """Begin a step of the set-up, after the countdown where it sounds; or say that it is enough."""
        if not self._counts():
            return
        if self._model.countdown_s is not None:
            self.call_off()
        elif self._model.busy:
            self.stop()
        elif self._model.opened is None:
            self._desk.not_yet("send", CLOSED)
        elif sounds:
            self.count_down(partial(self._run_step, asked), called_off=lambda: None)
            self._desk.changed()
        else:
            self._run_step(asked)

    def _run_step(self, asked: Asked) -> None:
        self._model.live = self._model.record = None
        self._desk.ask(RunStep(asked=asked, chain=self._model.chain), "step")

    def call_off(self) -> None:
        """Call the countdown off: nothing has sounded."""
        self._countdown.call_off()
        self._model.countdown_s = None
        self._model.outcome = None
        self._called_off()
        self._desk.notice = "called off; nothing sounded"
        self._desk.changed()

    def tick(self) -> None:
        """Count down, and start when it is time."""
        left = self._countdown.left_s(self._clock())
        if left is None:
            return
        if left:
            if left != self._model.countdown_s:
                self._model.countdown_s = left
                self._desk.changed()
            return
        self._model.countdown_s = None
        self._then()

    def _run_pass(self) -> None:
        hindrance = self._model.hindrance()
        if hindrance is not None or self._model.part is None:
            name, why = (hindrance.name, hindrance.why) if hindrance else ("DI", "there is no part")
            self._desk.not_yet(name, why)
            return
        asked = RunPass(
            part=self._model.part, chain=self._model.chain, section=self._model.section()
        )
        self._desk.ask(asked, "pass")

    def stop(self) -> None:
        """Stop whatever sounds or is about to."""
        self._desk.link.pressed()
        self._desk.later.forget()
        if self._model.countdown_s is not None:
            self.call_off()
        elif self._model.busy:
            self._model.stopping = True
            self._desk.link.stop()
        elif self._model.playing:
            self._desk.ask(StopPlaying(), "stream")
        self._desk.changed()

    def click(self) -> None:
        """Send the test click; the stream must be open."""
        if not self._counts() or self._model.busy:
            return
        if self._model.opened is None:
            self._desk.not_yet("send", CLOSED)
            return
        self._desk.path_screen.walk_to("returns")
        self._desk.ask(RunStep(asked=AskDelay(), chain=self._model.chain), "click")

    def listen(self, asked: Listen) -> None:
        """Let the sounds of a part roll for people to hear, or stop them; nothing is sent."""
        if not self._counts():
            return
        self._desk.link.pressed()
        if self._model.countdown_s is not None:
            self.call_off()
        elif self._model.busy:
            self.stop()
        elif self._model.opened is None:
            self._desk.not_yet("send", CLOSED)
        else:
            self._desk.ask(asked, "sounds")

    def toggle_stream(self) -> None:
        """Open the stream, or let go of the device."""
        if not self._counts() or self._model.busy:
            return
        self._desk.notice = ""
        runs = self._model.opened is not None and self._model.stream_wiring == self._model.wiring()
        self._desk.ask(CloseStream() if runs else OpenStream(), "stream")

    # ------------------------------------------------------------ leaving

    def ask_to_leave(self) -> None:
        """Leave; where something is under way, ask how."""
        if self._model.countdown_s is not None:
            self.call_off()
        elif self._model.doing == "pass":
            self._desk.push_screen(LeavingScreen())
        else:
            self._desk.exit()

    def may_leave_alone(self) -> bool:
        """Return whether the DI rolls: only then has the engine something to finish alone."""
        roll = self._model.roll
        return roll is not None and roll.what == "pass"

    def leave_when_done(self) -> None:
        """Leave when the pass is judged."""
        self.leaving = True
        self._desk.changed()
        self.over()

    def over(self) -> None:
        """Leave if that was wanted, now that nothing is under way."""
        if self.leaving and not self._model.busy:
            self._desk.exit()

    def leave_alone(self) -> None:
        """Leave at once; where the DI rolls, the engine finishes the pass."""
        if self.may_leave_alone():
            self._desk.link.leave_rolling()
        self._desk.exit()
