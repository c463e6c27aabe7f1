"""The program with a screen: takes news, starts and stops passes, shows one view or another."""

from __future__ import annotations

import gc
import threading
from collections.abc import Callable, Iterable
from functools import cached_property
from time import monotonic
from typing import TYPE_CHECKING, ClassVar

from textual.app import App, SystemCommand
from textual.binding import BindingType
from textual.screen import Screen

from audio.jobs import news
from audio.jobs.orders import (
    Asked,
    CheckPart,
    LookAtDi,
    LookAtVariant,
    Looked,
    LookForDevices,
    OpenStream,
)
from audio.plan.path import StageName
from audio.vocab.errors import SecondpassError
from audio.vocab.layers import SoundName
from audio.vocab.status import Status
from audio.vocab.step_names import StepName
from audio.vocab.variant import Summary
from audio.vocab.wiring import SimulatedDevice
from tui.actions import ACTIONS, label
from tui.control import Control
from tui.later import Later
from tui.link import Link
from tui.messages import Brought, CardAsked, Failed, Told
from tui.model import Doing, Model, Trouble
from tui.present.theme import LOOK
from tui.run_control import RunControl
from tui.screens.asking import KeysScreen, LeavingScreen
from tui.screens.face import Face
from tui.screens.path import PathScreen
from tui.settings import Settings
from tui.waves import Waves

if TYPE_CHECKING:
    from audio.jobs.runner import Runner
    from tui.screens.roll import RollScreen

PICTURES = 30
"""Pictures a second while something moves."""

CARD_EVERY = 6
"""Pictures between two for the second terminal."""


class Desk(App[SecondpassError | None]):
    """The screen of one session.

    Parameters
    ----------
    bring
        Makes the runner; called in a thread, as making a demo takes a moment.
    settings
        The user's own.
    end
        Set when the system wants the program to end: a pass that rolls is then finished by the engine.
    clock
        Seconds, rising; for the guard of keys, and what falls on a meter.
    """

    TITLE = "secondpass"
    ENABLE_COMMAND_PALETTE = True
    BINDINGS: ClassVar[list[BindingType]] = []
    CSS = """
    Screen { background: $background; }
    Toast, SearchIcon { display: none; }
    """

    def __init__(
        self,
        bring: Callable[[], Runner],
        *,
        settings: Settings,
        end: threading.Event | None = None,
        clock: Callable[[], float] = monotonic,
    ) -> None:
        super().__init__()
        self.register_theme(LOOK)
        self.theme = LOOK.name  # before there is anything to restyle
        self._end = end or threading.Event()
        self.model = Model()
        self.settings = settings
        self.notice = ""
        self.path_screen = PathScreen()
        self.clock = clock
        self._bring = bring
        self.link = Link(self.post_message)
        self._pictures = 0
        self.later = Later(self)
        self.control = Control(self, clock=clock)
        self.runs = RunControl(self)
        self.waves = Waves(self)

    # ------------------------------------------------------------ beginning and end

    def on_mount(self) -> None:
        """Show the path at once; the session comes when it is there."""
        self.set_keymap({name: ",".join(keys) for name, keys in self.settings.keys.items()})
        self.install_screen(self.path_screen, "path")
        self.push_screen("path")
        self.set_interval(1 / PICTURES, self._tick)
        self.path_screen.call_after_refresh(self.link.fetch, self._bring)

    @cached_property
    def roll_screen(self) -> RollScreen:
        """The view of a pass, made once there is a session: the first picture need not wait for it."""
        from tui.screens.roll import RollScreen  # noqa: PLC0415 - see above

        return RollScreen()

    def on_brought(self, message: Brought) -> None:
        """Take the session."""
        self.install_screen(self.roll_screen, "roll")
        if problem := self.link.take(message.runner):
            self.say(problem)
        # What was made until now lives as long as the program: the collector need not look at it.
        gc.collect()
        gc.freeze()
        gc.enable()

    def on_card_asked(self, message: CardAsked) -> None:
        """Obey the second terminal: stop always, go only where space would start a pass."""
        if message.what == "stop":
            self.control.stop()
        else:
            self.control.go_from_card()

    def on_failed(self, message: Failed) -> None:
        """Leave: there is nothing to show."""
        self.exit(message.error)

    def on_unmount(self) -> None:
        """Let go of everything, whichever way the program ends."""
        self.link.close()

    # ------------------------------------------------------------ news

    def on_told(self, message: Told) -> None:  # noqa: C901 - one match over the news
        """Fold news in and draw what changed."""
        one, was = message.news, self.model.doing
        played = self.model.playing
        self.model.take(one)
        match one:
            case news.Ready():
                self._take_session()
            case news.StreamOpened() | news.StreamClosed():
                self.path_screen.lay_out()
            case news.RollBegins() if one.roll.what == "pass":
                self.roll_screen.begin()
            case news.Stopped() if was in ("click", "step"):
                self.notice = "it was stopped; what stands here is of an earlier measurement"
            case news.Mended():
                self.notice = one.text
            case news.Idle():
                self._idle(was)
            case news.Outlined() | news.Closeup():
                self.waves.take(one)
            case news.Snapshot():
                self._read_new_dis()
                self._check_dis(one)
                if played and not self.model.playing:
                    self._open_simulated()
            case news.Devices():
                self._offer_devices()
            case _:
                pass
        self.changed()

    def _take_session(self) -> None:
        self.show_di()
        self._open_simulated()

    def _open_simulated(self) -> None:
        """Open the stream of a simulated room unasked: nothing can thump, nobody can be startled."""
        snapshot = self.model.snapshot
        if snapshot is None or snapshot.wiring is None or snapshot.playing:
            return
        if isinstance(snapshot.wiring.device, SimulatedDevice) and self.model.opened is None:
            self.ask(OpenStream(), "stream")

    def _idle(self, was: Doing | None) -> None:
        if isinstance(self.screen, LeavingScreen):
            self.pop_screen()  # there is nothing left to decide
        if was in ("wiring", "session") and not self.model.troubles:
            self.notice = self.model.said
        self.control.over()
        self.runs.settled(was)
        self.later.go_on()

    def _read_new_dis(self) -> None:
        for _, part in self.model.parts():
            read = self.model.dis.get(part.name)
            newest = part.revisions[-1].file_sha256
            if read is None or read.facts is None or read.facts.file_sha256 != newest:
                self.runner_look(LookAtDi(part=part.name))

    def _check_dis(self, snapshot: news.Snapshot) -> None:
        """Have every DI checked of which something is other than it was."""
        checks = self.model.checks
        for part in checks.to_be_asked(snapshot):
            self.runner_look(CheckPart(part=part, asked=checks.asked(part)))

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
        face = self._face()
        if face is not None:
            face.draw()

    def _tick(self) -> None:
        if self._end.is_set():
            self.control.leave_alone()
            return
        status = self.status()
        self.model.see(status)
        self.control.tick()
        self._pictures += 1
        if self._pictures % CARD_EVERY == 0:
            self._publish()
        face = self._face()
        if face is not None:
            face.tick(status)
        if self.model.doing == "pass" and face is not self.roll_screen:
            self.roll_screen.tick(status)  # its lanes go on filling behind a question

    def _face(self) -> Face | None:
        """Return the view that is shown, once it is made; the palette is none of ours."""
        screen = self.screen_stack[-1] if self.screen_stack else None
        return screen if isinstance(screen, Face) and screen.is_mounted else None

    def _publish(self) -> None:
        if self.link.is_up:
            from tui.present.carded import card_state  # noqa: PLC0415 - nobody watches the first picture

            self.link.publish(card_state(self.model, self.status()))

    def status(self) -> Status | None:
        """Return the engine's newest picture."""
        return self.link.status()

    # ------------------------------------------------------------ orders

    def ask(self, asked: Asked, doing: Doing) -> None:
        """Put an order in."""
        if self.link.is_up:
            self.model.doing, self.model.said = doing, ""
            self.link.ask(asked)
            self.changed()

    def runner_look(self, looked: Looked) -> None:
        """Put a question in that plays nothing."""
        self.link.look(looked)

    # ------------------------------------------------------------ views

    def back_to_path(self, name: StageName | None) -> None:
        """Show the path, at a stage."""
        while not isinstance(self.screen, PathScreen) and len(self.screen_stack) > 1:
            self.pop_screen()
        if name is not None:
            self.path_screen.here = name
        self.path_screen.lay_out()
        self.changed()

    def not_yet(self, name: StageName, why: str) -> None:
        """Go to the stage that keeps something from starting, and say why."""
        self.back_to_path(None)
        self.path_screen.walk_to(name)
        self.notice = f"not yet: {why}"
        self.changed()

    def put_away(self) -> None:
        """Put the oldest message away: it was read."""
        if self.model.troubles:
            self.model.troubles.pop(0)
        self.notice = ""
        self.changed()

    def show_roll(self) -> None:
        """Show the view of a pass."""
        if self.screen is not self.roll_screen:
            self.back_to_path(None)
            self.push_screen("roll")
        self.call_after_refresh(self.roll_screen.begin)

    def show_chain_card(self) -> None:
        """Show the card at which the run stands."""
        from tui.screens.chain_card import ChainCardScreen  # noqa: PLC0415 - most evenings begin without

        if not isinstance(self.screen, ChainCardScreen):
            self.back_to_path(None)
            self.push_screen(ChainCardScreen())
        self.changed()

    def show_plan(self) -> None:
        """Show the plan."""
        from tui.screens.plan import PlanScreen  # noqa: PLC0415 - see above

        if not isinstance(self.screen, PlanScreen):
            self.push_screen(PlanScreen())

    def show_note_values(self) -> None:
        """Show note values at the tempo of the chosen part's song."""
        from tui.screens.times import TimesScreen  # noqa: PLC0415 - see above

        self.push_screen(TimesScreen())

    def show_ready(self) -> None:
        """Show whether the chosen part's DI is ready."""
        from tui.screens.ready import ReadyScreen  # noqa: PLC0415 - see above

        self.push_screen(ReadyScreen())

    def show_listening(self) -> None:
        """Show what there is to listen to of the chosen part."""
        from tui.screens.listening import ListeningScreen  # noqa: PLC0415 - there is nothing at first

        if self.model.part is not None and not self.model.busy:
            self.push_screen(ListeningScreen(self.model.part))

    def set_up(self, step: StepName) -> None:
        """Show a step of the set-up."""
        from tui.screens.step import StepScreen  # noqa: PLC0415 - the first picture need not wait for it

        if not self.model.busy:
            self.push_screen(StepScreen(step))

    def wire(self) -> None:
        """Choose device, send and returns."""
        from tui.screens.wiring import WiringScreen  # noqa: PLC0415 - most evenings never need it

        if self.model.busy:
            return
        self.runner_look(LookForDevices())
        self.push_screen(WiringScreen())

    def show_evidence(self, variant: Summary) -> None:
        """Show what a verdict rests on, as soon as it is read."""
        from tui.screens.evidence import EvidenceScreen  # noqa: PLC0415 - there is none at first

        self.runner_look(LookAtVariant(part=variant.part, number=variant.number))
        self.push_screen(EvidenceScreen(variant.part, variant.number))

    def show_handover(self) -> None:
        """Show what would be handed over."""
        from tui.screens.handover import HandoverScreen  # noqa: PLC0415 - the end of an evening

        if not self.model.busy:
            self.push_screen(HandoverScreen())

    def show_differences(self, part: str, a: SoundName, b: SoundName = "") -> None:
        """Show what is different between two sounds; a second one is found where none is named."""
        from tui.screens.differ import DifferScreen, other_than  # noqa: PLC0415 - as above

        last = self.model.apart
        if not b and last is not None and last.part == part:
            b = last.b
        self.push_screen(DifferScreen(part, a, other_than(self.model.sounds(part), a, last=b)))

    def show_keys(self, here: Iterable[tuple[str, str]]) -> None:
        """List the keys of a view."""
        face = self._face()
        there = face.actions_here() if face is not None else ()
        self.push_screen(KeysScreen(tuple(here), there))

    def show_di(self) -> None:
        """Show the chosen part's waveform."""
        self.waves.show(self.path_screen)

    # ------------------------------------------------------------ the library's own keys

    async def action_quit(self) -> None:
        """Leave as `q` does, whichever of the library's own keys was pressed."""
        self.control.ask_to_leave()

    def action_help_quit(self) -> None:
        """Take Ctrl+C for the wish to leave: a pass that rolls is asked about."""
        self.control.ask_to_leave()

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Return the actions of the view that is shown, for the palette."""
        there = getattr(screen, "ACTIONS", ())
        for action in ACTIONS:
            method = getattr(screen, f"action_{action.name}", None)
            if action.name in there and method is not None and action.name != "palette":
                keys = label(self.settings.keys_of(action.name)[0])
                yield SystemCommand(action.says, f"key: {keys}", method)
