"""The card in the amp room: a program of its own that shows what the desk does and offers go and stop.

Once a second it tells the desk that it is here, and asks its terminal where the cursor stands: any terminal
answers that (ECMA-48, device status report). A phone that sleeps or lost its network does not, though ssh
keeps this program alive for hours; then the desk hears nothing more of this card either.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from time import monotonic
from typing import ClassVar, Protocol

from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.events import CursorPosition, Resize
from textual.message import Message

from audio.jobs.card_client import CardNews, Lost
from audio.vocab.card import NotTaken, Role, Shown
from tui.actions import label
from tui.present import card
from tui.present.card import Picture
from tui.present.letters import large
from tui.present.theme import LOOK
from tui.present.top import key_line
from tui.screens.face import bindings
from tui.settings import Settings
from tui.timing import GUARD_S, Guard
from tui.widgets.banner import Banner
from tui.widgets.lines import Lines

ROOMY_ROWS = 24
"""From here on the chain stands in large letters, too, while no time does."""

ROWS_AROUND = 6
"""Rows around a chain that is to be set by hand: head, name, keys, margins."""

TALL_ROWS = 48
"""From here on letters are twice as high."""

LOOK_FOR_END_S = 0.2
"""Between two looks at whether the process was asked to end."""

SIGN_S = 1.0
"""Between two signs of life to the desk."""

SEEN_S = 3.0
"""A terminal that has answered before and not for so long may be seen by nobody."""

ASK_TERMINAL = "\x1b7\x1b[H\x1b[6n\x1b8"
"""Keep the cursor, put it at the first cell, ask where it is, put it back (DEC VT100; ECMA-48 CUP, DSR)."""

ANSWER_KEYS = frozenset({"[", "left_square_bracket", "1", ";", "semicolon", "R", "upper_r"})
"""What an answer torn by a slow line would be taken for; where one of these is a key, nothing is asked."""

WATCHES = "this card watches; {key} takes over, then look and press again"
ASLEEP = "this terminal was out of reach for a moment; look and press again"
CHANGED = "the picture had just changed; look and press again"
NO_DESK = "not sent: look at the desk"


class Wire(Protocol):
    """The way to the desk; `audio.jobs.card_client.CardClient` is one."""

    def start(self, heard: Callable[[CardNews], None]) -> None:
        """Hand news on from now on, from a thread."""

    def go(self, number: int) -> bool:
        """Ask for what a picture named as next; return whether that could be sent."""

    def stop(self) -> bool:
        """Ask for a stop; return whether that could be sent."""

    def drive(self) -> bool:
        """Ask to be the card whose go starts passes; return whether that could be sent."""

    def here(self) -> bool:
        """Give a sign of life; return whether that could be sent."""

    def close(self) -> None:
        """Part."""


class Heard(Message):
    """News from the wire's thread."""

    def __init__(self, news: CardNews) -> None:
        super().__init__()
        self.news = news


class CardApp(App[None]):
    """Shows one picture of the desk.

    Parameters
    ----------
    wire
        The way to the desk, connected; closed with the program.
    settings
        The user's own keys.
    end
        Set when the process was asked to end.
    clock
        Seconds, rising; for the guard of keys.
    """

    TITLE = "secondpass card"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings("go", "stop", "drive", "choose_up", "choose_down", "quit"),
        Binding("ctrl+c", "quit", show=False),
    ]
    CSS = """
    Screen { background: $background; layout: vertical; }
    Banner { height: 5; }
    #figure, #large-chain, #chain, #told { margin-top: 1; }
    #told { height: 1fr; }
    #by-hand { height: auto; margin-top: 1; }
    #keys { height: 1; dock: bottom; }
    .roomy #word { margin-top: 1; }
    .tall Banner { height: 10; }
    """

    def __init__(
        self,
        wire: Wire,
        *,
        settings: Settings,
        end: threading.Event,
        clock: Callable[[], float] = monotonic,
    ) -> None:
        super().__init__()
        self._wire = wire
        self._settings = settings
        self._end = end
        self._clock = clock
        self._picture = Picture()
        self._number = 0
        self._guard = Guard()
        self._since = clock() - GUARD_S
        self._first = 0  # how far somebody has walked down a chain that does not fit
        self._answered_s: float | None = None  # by the terminal; None while it never has

    def compose(self) -> ComposeResult:
        """Make the view: from what is read farthest to what is read nearest."""
        yield Lines(id="top")
        yield Banner(id="word")
        yield Banner(id="figure")
        yield Banner(id="large-chain")
        yield Lines(id="chain")
        yield Lines(id="by-hand")
        yield Lines(id="told")
        yield Lines(id="ahead")
        yield Lines(id="keys")

    def on_mount(self) -> None:
        """Begin to listen."""
        self.register_theme(LOOK)
        self.theme = LOOK.name
        self.set_keymap({name: ",".join(keys) for name, keys in self._settings.keys.items()})
        self.set_interval(LOOK_FOR_END_S, self._leave_if_asked)
        self._wire.start(self._hear)
        self._give_sign()
        self.set_interval(SIGN_S, self._give_sign)

    def _give_sign(self) -> None:
        """Tell the desk that this card is here, unless nobody may be seeing it; ask the terminal again."""
        if self._is_seen():
            self._wire.here()
        taken = {key for keys in self._settings.keys.values() for key in keys}
        if self._driver is not None and not taken & ANSWER_KEYS:
            self._driver.write(ASK_TERMINAL)

    def _is_seen(self) -> bool:
        """Return whether the terminal answers, or is one that never does."""
        return self._answered_s is None or self._clock() - self._answered_s < SEEN_S

    def on_cursor_position(self, _: CursorPosition) -> None:
        """Take note that the terminal answered."""
        self._answered_s = self._clock()

    def _hear(self, news: CardNews) -> None:
        self.post_message(Heard(news))  # from the wire's thread: never a widget

    def on_unmount(self) -> None:
        """Part from the desk, which goes on."""
        self._wire.close()

    def on_resize(self, event: Resize) -> None:
        """Draw again at the new size."""
        self.screen.set_class(event.size.height >= ROOMY_ROWS, "roomy")
        self.screen.set_class(event.size.height >= TALL_ROWS, "tall")
        self.call_after_refresh(self._draw)

    def on_heard(self, message: Heard) -> None:
        """Show what is known now."""
        match message.news:
            case Role() if message.news == self._picture.role:
                return
            case Role():
                self._picture.role, self._since = message.news, self._clock()
            case Shown(number=number, state=state):
                if number != self._number or self._picture.state is None:
                    self._number, self._since, self._first = number, self._clock(), 0
                    self._picture.notice = ""
                self._picture.state, self._picture.lost = state, ""
            case NotTaken(reason=reason):
                self._picture.notice = f"not taken: {reason}"
            case Lost(reason=reason):
                self._picture.state, self._picture.role, self._picture.lost = None, None, reason
        self._draw()

    def action_go(self) -> None:
        """Start what is next; where something sounds or is about to, stop it."""
        now, state, role = self._clock(), self._picture.state, self._picture.role
        if not self._guard.press(now):
            return
        if state is None:
            self._note(NO_DESK)
        elif state.may_stop or state.sounding:
            self.action_stop()
        elif not state.may_go:
            self._note("there is nothing to start now")
        elif role is None or not role.card:  # the desk has not said yet what this card may do
            self._note(CHANGED)
        elif not role.drives:
            self._note(WATCHES.format(key=label(self._settings.keys_of("drive")[0])))
        elif now - self._since < GUARD_S:
            self._note(CHANGED)
        elif not self._is_seen():
            self._note(ASLEEP)  # the key may have been pressed long ago, on another picture
        else:
            self._note("go sent" if self._wire.go(self._number) else NO_DESK)

    def action_stop(self) -> None:
        """Ask for a stop, whatever the picture says."""
        self._guard.press(self._clock())
        sent = self._wire.stop()
        unsure = "; no answer yet: look at the desk" if self._picture.state is None else ""
        self._note(f"stop sent{unsure}" if sent else NO_DESK)

    def action_drive(self) -> None:
        """Let this card's go start passes; nothing is started by it."""
        role = self._picture.role
        if not self._guard.press(self._clock()):
            return
        if role is not None and role.drives:
            self._note("this card drives already")
        elif not self._is_seen():
            self._note(ASLEEP)
        else:
            self._note("asked to drive" if role is not None and self._wire.drive() else NO_DESK)

    def action_choose_up(self) -> None:
        """See what stands above in a chain that does not fit."""
        self._first = max(self._first - 1, 0)
        self._draw()

    def action_choose_down(self) -> None:
        """See what stands below in a chain that does not fit."""
        self._first += 1
        self._draw()

    async def action_quit(self) -> None:
        """Leave the card; the desk goes on."""
        self.exit()

    def _leave_if_asked(self) -> None:
        if self._end.is_set():
            self.exit()

    def _note(self, words: str) -> None:
        self._picture.notice = words
        self._draw()

    def _draw(self) -> None:
        picture, columns = self._picture, self.size.width
        large_chain = self._large_chain()
        told, ahead = card.told(picture, columns), card.ahead(picture, columns)
        rows = self.size.height - len(told) - len(ahead) - ROWS_AROUND
        rows, key = max(rows, 3), label(self._settings.keys_of("choose_down")[0])
        self._first = min(self._first, card.beyond(picture, columns, rows))
        by_hand = card.by_hand(picture, columns, rows, first=self._first, key=key)
        self.query_one("#word", Banner).say(*card.word(picture))
        # A card is read by somebody whose hands are on the pedals: it takes the large word's place.
        self.query_one("#word").display = not by_hand
        self.query_one("#by-hand").display = bool(by_hand)
        self.query_one("#by-hand", Lines).put(by_hand)
        self._say_if_any("figure", card.figure(picture))
        self._say_if_any("large-chain", large_chain)
        self.query_one("#chain").display = not large_chain
        self.query_one("#top", Lines).put([card.top(picture, columns)])
        self.query_one("#chain", Lines).put(card.chain(picture, columns))
        self.query_one("#told", Lines).put(told)
        self.query_one("#ahead", Lines).put(ahead)
        keys = key_line(card.keys(picture), self._settings, columns)
        self.query_one("#keys", Lines).put([keys])

    def _say_if_any(self, name: str, words: str) -> None:
        banner = self.query_one(f"#{name}", Banner)
        banner.say(words)
        banner.display = bool(words)

    def _large_chain(self) -> str:
        """Return the chain's name where large letters have the room for it and nothing needs it more."""
        picture, state = self._picture, self._picture.state
        crowded = self.size.height < ROOMY_ROWS
        if state is None or card.figure(picture) or state.finding or state.card or crowded:
            return ""
        return state.chain if large(state.chain, columns=self.size.width - 2, rows=5) else ""
