"""The program with a screen: takes news, starts and stops passes, shows one view or another."""

from __future__ import annotations

import gc
import threading
from collections.abc import Callable, Iterable
from time import monotonic
from typing import ClassVar, Literal

from textual.app import App, SystemCommand
from textual.binding import BindingType
from textual.message import Message
from textual.screen import Screen

from audio.jobs import news
from audio.jobs.cards import CardServer
from audio.jobs.news import News
from audio.jobs.orders import (
    Asked,
    CloseStream,
    CloseUp,
    LookAtDi,
    Looked,
    LookForDevices,
    OpenStream,
    Outline,
    RunPass,
    StopPlaying,
    TestClick,
)
from audio.jobs.runner import Runner
from audio.plan.path import StageName
from audio.vocab.errors import SecondpassError
from audio.vocab.names import chain_problem
from audio.vocab.status import Status
from audio.vocab.variant import Variant
from audio.vocab.wiring import SimulatedDevice
from tui.actions import ACTIONS
from tui.model import Model, Trouble
from tui.present.carded import card_state
from tui.present.theme import LOOK
from tui.screens.asking import KeysScreen, LeavingScreen, NameScreen
from tui.screens.evidence import EvidenceScreen
from tui.screens.face import Face
from tui.screens.path import PathScreen
from tui.screens.roll import RollScreen
from tui.settings import Settings
from tui.waves import Waves

PICTURES = 30
"""Pictures a second while something moves."""

CARD_EVERY = 6
"""Pictures between two for the second terminal."""

GUARD_S = 0.5
"""A key that starts or stops is deaf for so long after it was last pressed: holding it repeats it."""


class Told(Message):
    """News from a thread."""

    def __init__(self, one: News) -> None:
        super().__init__()
        self.news = one


class CardAsked(Message):
    """Go or stop from the second terminal."""

    def __init__(self, what: Literal["go", "stop"]) -> None:
        super().__init__()
        self.what = what


class Brought(Message):
    """A session that was opened in a thread of its own."""

    def __init__(self, runner: Runner) -> None:
        super().__init__()
        self.runner = runner


class Failed(Message):
    """There is no session to show."""

    def __init__(self, error: SecondpassError) -> None:
        super().__init__()
        self.error = error


class Desk(App[SecondpassError | None]):
    """The screen of one session.

    Parameters
    ----------
    bring
        Makes the runner; called in a thread, as making a demo takes a moment.
    settings
        The user's own.
    clock
        Seconds, rising; for the guard of keys.
    """

    ENABLE_COMMAND_PALETTE = True
    BINDINGS: ClassVar[list[BindingType]] = []
    CSS = "Screen { background: $background; } Toast { display: none; }"

    def __init__(
        self,
        bring: Callable[[], Runner],
        *,
        settings: Settings,
        clock: Callable[[], float] = monotonic,
    ) -> None:
        super().__init__()
        self.model = Model()
        self.settings = settings
        self.notice = ""
        self.outcome: Literal["verdict", "stopped", "failed"] | None = None
        self.leaving = False
        self.path_screen = PathScreen()
        self.roll_screen = RollScreen()
        self._bring = bring
        self._runner: Runner | None = None
        self._cards: CardServer | None = None
        self._pictures = 0
        self._clock = clock
        self._pressed = -GUARD_S
        self._counting_until: float | None = None
        self._waves = Waves(self)
        self._running_pass = False

    # ------------------------------------------------------------ beginning and end

    def on_mount(self) -> None:
        """Show the path at once; the session comes when it is there."""
        self.register_theme(LOOK)
        self.theme = LOOK.name
        self.set_keymap({name: ",".join(keys) for name, keys in self.settings.keys.items()})
        self.push_screen(self.path_screen)
        self.set_interval(1 / PICTURES, self._tick)
        threading.Thread(target=self._fetch, name="bringing", daemon=True).start()

    def _fetch(self) -> None:
        try:
            runner = self._bring()
        except SecondpassError as error:
            self.post_message(Failed(error))
            return
        self.post_message(Brought(runner))

    def on_brought(self, message: Brought) -> None:
        """Take the session."""
        self._runner = message.runner
        self._runner.start(lambda one: self._thread_says(Told(one)))
        self._serve_cards(message.runner)
        # What was made until now lives as long as the program: the collector need not look at it.
        gc.collect()
        gc.freeze()

    def _serve_cards(self, runner: Runner) -> None:
        """Let a second terminal watch; without it the desk works as well, and says why it is missing."""
        try:
            self._cards = CardServer(
                runner.folder, asked=lambda what: self._thread_says(CardAsked(what))
            )
        except SecondpassError as error:
            self.say(f"no second terminal can watch: {error}")

    def _thread_says(self, message: Message) -> None:
        self.post_message(message)

    def on_card_asked(self, message: CardAsked) -> None:
        """Obey the second terminal: stop always, go only where space would start a pass."""
        if message.what == "stop":
            self.stop()
        elif self._may_go():
            self._begin_countdown()

    def _may_go(self) -> bool:
        model = self.model
        return not model.busy and model.countdown_s is None and model.hindrance() is None

    def on_failed(self, message: Failed) -> None:
        """Leave: there is nothing to show."""
        self.exit(message.error)

    def on_unmount(self) -> None:
        """Let go of everything, whichever way the program ends."""
        cards, self._cards = self._cards, None
        if cards is not None:
            cards.close()
        runner, self._runner = self._runner, None
        if runner is not None:
            runner.close()

    # ------------------------------------------------------------ news

    def on_told(self, message: Told) -> None:
        """Fold news in and draw what changed."""
        one = message.news
        self.model.take(one)
        match one:
            case news.Ready():
                self._ready()
            case news.StreamOpened() | news.StreamClosed():
                self.path_screen.arrange()
            case news.RollBegins() if one.roll.what == "pass":
                self.roll_screen.begin()
            case news.PassDone():
                self.outcome = "verdict"
            case news.Stopped() if self._running_pass:
                self.outcome = "stopped"
            case news.Idle():
                self._idle()
            case news.Outlined() | news.Closeup():
                self._waves.take(one)
            case news.Snapshot():
                self._read_new_dis()
            case news.Devices():
                self._offer_devices()
            case _:
                pass
        self.changed()

    def _ready(self) -> None:
        self.show_di()
        wiring = self.model.wiring()
        if wiring is not None and isinstance(wiring.device, SimulatedDevice):
            self.ask(OpenStream())  # nothing can thump, nobody can be startled

    def _idle(self) -> None:
        if self._running_pass and self.outcome is None:
            self.outcome = "failed"
        self._running_pass = False
        if self.leaving:
            self.exit()

    def _read_new_dis(self) -> None:
        for _, part in self.model.parts():
            read = self.model.dis.get(part.name)
            newest = part.revisions[-1].file_sha256
            if read is None or read.facts is None or read.facts.file_sha256 != newest:
                self.runner_look(LookAtDi(part=part.name))

    def _offer_devices(self) -> None:
        offered = getattr(self.screen, "offered", None)
        if offered is not None:
            offered()

    def say(self, words: str) -> None:
        """Show a message until it was read."""
        self.model.troubles.append(Trouble(words))
        self.changed()

    def changed(self) -> None:
        """Draw the view that is shown, here and at the second terminal."""
        self._publish()
        screen = self.screen
        if isinstance(screen, Face):
            screen.draw()

    def _tick(self) -> None:
        status = self.status()
        self.model.see(status)
        self._count_down()
        self._pictures += 1
        if self._pictures % CARD_EVERY == 0:
            self._publish()
        screen = self.screen
        if isinstance(screen, Face):
            screen.tick(status)

    def _publish(self) -> None:
        if self._cards is not None:
            self._cards.publish(card_state(self.model, self.status(), self.outcome))

    def status(self) -> Status | None:
        """Return the engine's newest picture."""
        return self._runner.status() if self._runner is not None else None

    # ------------------------------------------------------------ orders

    def ask(self, asked: Asked) -> None:
        """Put an order in."""
        if self._runner is not None:
            self.model.busy = True
            self._runner.ask(asked)
            self.changed()

    def runner_look(self, looked: Looked) -> None:
        """Put a question in that plays nothing."""
        if self._runner is not None:
            self._runner.look(looked)

    def _deaf(self) -> bool:
        """Return whether a starting or stopping key repeats itself; note that it was pressed."""
        now = self._clock()
        deaf = now - self._pressed < GUARD_S
        self._pressed = now
        return deaf

    def go(self) -> None:
        """Start the countdown; call it off; or stop what rolls and keep it."""
        if self._deaf():
            return
        if self._cards is not None:
            self._cards.pressed()
        if self.model.countdown_s is not None:
            self.call_off()
        elif self.model.busy:
            self.stop()
        elif self.model.hindrance() is not None:
            self.back_to_path(None)
        else:
            self._begin_countdown()

    def path_or_roll_go(self) -> None:
        """Start from whichever view is shown now."""
        if isinstance(self.screen, PathScreen):
            self.screen.action_go()
        else:
            self.go()

    def _begin_countdown(self) -> None:
        self.outcome = None
        self.notice = ""
        self.model.countdown_s = float(self.settings.countdown_s)
        self._counting_until = self._clock() + self.settings.countdown_s
        if not isinstance(self.screen, RollScreen):
            self.push_screen(self.roll_screen)
        self.call_after_refresh(self.roll_screen.begin)
        self.changed()

    def call_off(self) -> None:
        """Call the countdown off: nothing has sounded."""
        self._counting_until = self.model.countdown_s = None
        self.outcome = None
        self.notice = "called off; nothing sounded"
        self.back_to_path(None)

    def _count_down(self) -> None:
        if self._counting_until is None:
            return
        left = self._counting_until - self._clock()
        if left > 0:
            shown = float(int(left) + 1)
            if shown != self.model.countdown_s:
                self.model.countdown_s = shown
                self.changed()
            return
        self._counting_until = self.model.countdown_s = None
        if self.model.part is not None and self.model.hindrance() is None:
            self._running_pass = True
            self.ask(RunPass(part=self.model.part, chain=self.model.chain))
        else:
            self.back_to_path(None)

    def stop(self) -> None:
        """Stop whatever sounds or is about to."""
        if self._cards is not None:
            self._cards.pressed()
        if self.model.countdown_s is not None:
            self.call_off()
        elif self._runner is not None and self.model.busy:
            self.model.stopping = True
            self._runner.stop()
        elif self.model.snapshot is not None and self.model.snapshot.playing:
            self.ask(StopPlaying())
        self.changed()

    def click(self) -> None:
        """Send the test click; the stream must be open."""
        if self._deaf() or self.model.busy:
            return
        if self.model.opened is None:
            self.notice = "the stream is closed: open it here first"
            self.path_screen.walk_to("send")
            return
        self.path_screen.walk_to("returns")
        self.ask(TestClick())

    def toggle_stream(self) -> None:
        """Open the stream, or let go of the device."""
        if self._deaf() or self.model.busy:
            return
        self.ask(CloseStream() if self.model.opened is not None else OpenStream())

    # ------------------------------------------------------------ views

    def back_to_path(self, name: StageName | None) -> None:
        """Show the path, at a stage."""
        while not isinstance(self.screen, PathScreen) and len(self.screen_stack) > 1:
            self.pop_screen()
        if name is not None:
            self.path_screen.here = name
        self.path_screen.arrange()
        self.changed()

    def put_away(self) -> None:
        """Put the oldest message away: it was read."""
        if self.model.troubles:
            self.model.troubles.pop(0)
        self.notice = ""
        self.changed()

    def name_chain(self) -> None:
        """Ask for the name of what is plugged in."""
        if self.model.busy:
            return
        asks = "What is plugged in? A name you will know next week, such as: fuzz into delay"
        screen = NameScreen(asks, first="", problem=chain_problem, named=self._named)
        self.push_screen(screen)

    def _named(self, name: str) -> None:
        self.model.chain = name
        self.back_to_path("chain")

    def wire(self) -> None:
        """Choose device, send and returns."""
        from tui.screens.wiring import WiringScreen  # noqa: PLC0415 - most evenings never need it

        if self.model.busy:
            return
        self.runner_look(LookForDevices())
        self.push_screen(WiringScreen())

    def show_evidence(self, variant: Variant) -> None:
        """Show what a verdict rests on."""
        self.push_screen(EvidenceScreen(variant))

    def show_keys(self, here: Iterable[tuple[str, str]]) -> None:
        """List the keys of a view."""
        there = getattr(self.screen, "ACTIONS", ())
        self.push_screen(KeysScreen(tuple(here), there))

    def show_di(self) -> None:
        """Show the chosen part's waveform."""
        self._waves.show(self.path_screen)

    def ahead(self, path: str, *, trim_db: float) -> Callable[[float, float], float] | None:
        """Return how loud a DI will be between two times, linear, None while it was not read."""
        return self._waves.ahead(path, trim_db=trim_db)

    def outline(self, path: str, channel: int) -> None:
        """Ask for a waveform."""
        self.runner_look(Outline(path=path, channel=channel))

    def close_up(self, path: str, channel: int, at_frame: int, frames: int) -> None:
        """Ask for single samples."""
        self.runner_look(CloseUp(path=path, channel=channel, at_frame=at_frame, frames=frames))

    # ------------------------------------------------------------ leaving

    def ask_to_leave(self) -> None:
        """Leave; where something is under way, ask how."""
        if self.model.countdown_s is not None:
            self.call_off()
        elif self.model.busy and self._running_pass:
            self.push_screen(LeavingScreen())
        else:
            self.exit()

    def may_leave_alone(self) -> bool:
        """Return whether the DI rolls: only then has the engine something to finish alone."""
        roll = self.model.roll
        return roll is not None and roll.what == "pass"

    def leave_when_done(self) -> None:
        """Leave when the pass is judged."""
        self.leaving = True
        if not self.model.busy:
            self.exit()

    def leave_alone(self) -> None:
        """Leave at once and let the engine finish the pass."""
        runner, self._runner = self._runner, None
        if runner is not None:
            runner.leave_rolling()
        self.exit()

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Return the actions of the view that is shown, for the palette."""
        there = getattr(screen, "ACTIONS", ())
        for action in ACTIONS:
            method = getattr(screen, f"action_{action.name}", None)
            if action.name in there and method is not None and action.name != "palette":
                yield SystemCommand(action.short, action.says, method)
