"""The desk's side of the second terminal: shows cards what happens, and hears what is pressed on them.

Which press is obeyed, and which card drives, says `audio.jobs.card_rules`. One thread serves all cards. It
waits for no card and for nobody at the desk: a card that reads slowly misses pictures, and gets the newest
one when it reads again.
"""

from __future__ import annotations

import math
import os
import selectors
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Literal, Self

import msgspec

from audio.files import peer
from audio.files.lock import FileLock
from audio.jobs.card_rules import CardRules
from audio.session import layout
from audio.vocab.card import (
    MOST_PRESSED_BYTES,
    VERSION,
    AnyPressed,
    CardState,
    Drive,
    Go,
    Hello,
    Here,
    Lines,
    NotTaken,
    Shown,
    Stop,
    decode_pressed,
    encode,
    fitted,
)

MOST_CARDS = 16
"""Each holds a descriptor of the desk; a further one is turned away."""

PICTURES_APART_S = 0.1
"""A person reads no faster, and ssh over a phone carries this easily."""

SIGN_OF_LIFE_S = 1.0
"""Between two lines to a card, at most: a card that hears less says so."""

_SEND_BUFFER_BYTES = 4096
"""Small, so that a card that reads slowly does not read the past."""

_READ_BYTES = 4096


class CardServer:
    """Serves the cards of one session from its making until `close`.

    Parameters
    ----------
    folder
        The session's folder.
    asked
        Called with ``go`` or ``stop`` from the server's thread; must return at once and not raise. The
        desk looks at its own state again before it obeys a go, and counts down before anything sounds.
    clock
        Seconds, the monotonic clock of this machine.

    Raises
    ------
    UseError
        If another program serves this session's cards, or its disk cannot hold a socket.
    """

    def __init__(
        self,
        folder: Path,
        *,
        asked: Callable[[Literal["go", "stop"]], None],
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._asked = asked
        self._clock = clock
        self._rules = CardRules()
        self._guard = threading.Lock()  # over the rules and the line
        self._pictures = 0  # how often what cards are shown has changed
        self._closing = False
        self._cards: list[_Card] = []
        self._path = layout.card_socket(folder.absolute())
        peer.make_private(self._path.parent)
        self._lock = FileLock(self._path.with_suffix(".lock"))
        self._lock.acquire(f"a program that shows its card, process {os.getpid()}")
        try:
            self._listener = peer.listen(self._path)
        except BaseException:
            self._lock.release()
            raise
        self._wake, self._woken = socket.socketpair()
        self._wake.setblocking(False)
        self._thread = threading.Thread(target=self._serve, name="cards", daemon=True)
        self._thread.start()

    def publish(self, state: CardState) -> None:
        """Show a state from now on; from any thread, without waiting for a card."""
        with self._guard:
            fits = fitted(state)
            if fits == self._rules.state:
                return
            self._rules.show(fits)
            self._pictures += 1
        self._wake_up()

    def pressed(self) -> None:
        """Take note that go or stop was pressed at the desk: a card's go just after it starts nothing."""
        with self._guard:
            self._rules.press(self._clock())

    def close(self) -> None:
        """Part from all cards and remove the socket; a second time does nothing."""
        if self._closing:
            return
        self._closing = True
        self._wake_up()
        if threading.current_thread() is not self._thread:
            self._thread.join()
        self._wake.close()
        with suppress(OSError):  # the session may have been moved or its disk taken away
            self._path.unlink(missing_ok=True)
        with suppress(OSError):
            self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _wake_up(self) -> None:
        with suppress(OSError):  # full is awake already; closed needs no waking
            self._wake.send(b"!")

    def _serve(self) -> None:
        with selectors.DefaultSelector() as selector:
            try:
                selector.register(self._listener, selectors.EVENT_READ, self._accept)
                selector.register(self._woken, selectors.EVENT_READ, self._awake)
                while not self._closing:
                    self._turn(selector)
            finally:
                for sock in (self._listener, self._woken, *(card.socket for card in self._cards)):
                    sock.close()

    def _turn(self, selector: selectors.BaseSelector) -> None:
        now = time.monotonic()
        picture = self._show(now)
        self._part(selector)
        for card in self._cards:
            events = selectors.EVENT_READ | (selectors.EVENT_WRITE if card.unsent else 0)
            selector.modify(card.socket, events, card)
        due = min((card.due_s(picture) for card in self._cards), default=math.inf)
        for key, events in selector.select(min(max(0.0, due - now), SIGN_OF_LIFE_S)):
            if isinstance(key.data, _Card):
                self._hear(key.data, events)
            else:
                key.data(selector)

    def _show(self, now_s: float) -> int:
        """Send each card what it may do and the newest state; return which picture that is."""
        with self._guard:
            with self._changing():
                self._rules.look(self._clock())
            state, picture = self._rules.state, self._pictures
            line = encode(Hello(version=VERSION))
            if state is not None:
                line = encode(Shown(number=self._rules.number, state=state))
            roles = [encode(self._rules.role(card.number)) for card in self._cards]
        for card, role in zip(self._cards, roles, strict=True):
            card.show(role + line, picture, now_s)
        return picture

    @contextmanager
    def _changing(self) -> Iterator[None]:
        """Draw a new picture for all cards where another one drives afterwards."""
        before = self._rules.driver
        yield
        self._pictures += self._rules.driver != before

    def _awake(self, _: selectors.BaseSelector) -> None:
        self._woken.recv(_READ_BYTES)

    def _accept(self, selector: selectors.BaseSelector) -> None:
        try:
            connection, _ = self._listener.accept()
        except OSError:  # it left again
            return
        if len(self._cards) >= MOST_CARDS or not peer.same_user(connection):
            connection.close()
            return
        connection.setblocking(False)
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _SEND_BUFFER_BYTES)
        card = _Card(connection)
        selector.register(connection, selectors.EVENT_READ, card)
        self._cards.append(card)

    def _part(self, selector: selectors.BaseSelector) -> None:
        for card in [card for card in self._cards if card.gone]:
            selector.unregister(card.socket)
            card.socket.close()
            self._cards.remove(card)
            if card.number:
                with self._guard:
                    self._rules.leave(card.number)
                    self._pictures += 1

    def _hear(self, card: _Card, events: int) -> None:
        if events & selectors.EVENT_WRITE:
            card.flush()
        if events & selectors.EVENT_READ:
            for press in card.read():
                self._obey(card, press)

    def _obey(self, card: _Card, press: AnyPressed) -> None:
        now = self._clock()
        with self._guard, self._changing():
            self._know(card, press, now)
            reason = self._reason(card, press, now)
        if reason:
            card.answer(NotTaken(reason=reason))
        elif isinstance(press, Go | Stop):
            self._asked("stop" if isinstance(press, Stop) else "go")

    def _know(self, card: _Card, press: AnyPressed, now: float) -> None:
        """Take a card in at the first thing it says; after that everything is a sign of life."""
        if card.number:
            self._rules.hear(card.number, now)
        else:
            card.number = self._rules.come(now, new=isinstance(press, Here) and press.new)
            self._pictures += 1

    def _reason(self, card: _Card, press: AnyPressed, now: float) -> str:
        """Return why a press is not obeyed; empty if it is."""
        match press:
            case Go():
                return self._rules.refusal(card.number, press, now)
            case Drive():
                return self._rules.drive(card.number, press, now)
            case Stop():
                self._rules.press(now)
                return ""
            case Here():
                return ""


class _Card:
    """One connection."""

    def __init__(self, connection: socket.socket) -> None:
        self.socket = connection
        self.number = 0
        """What the rules call it; 0 while it has not said anything."""
        self.gone = False
        self.unsent = encode(Hello(version=VERSION))
        self._lines = Lines(longest=MOST_PRESSED_BYTES)
        self._picture = 0
        self._sent_s = time.monotonic() - SIGN_OF_LIFE_S

    def due_s(self, picture: int) -> float:
        """Return when the next line is due; never while the last one has not left."""
        if self.unsent:
            return math.inf
        return self._sent_s + (SIGN_OF_LIFE_S if self._picture == picture else PICTURES_APART_S)

    def show(self, line: bytes, picture: int, now_s: float) -> None:
        """Send the newest line if it is due and the one before has left."""
        if now_s >= self.due_s(picture):
            self._picture, self._sent_s = picture, now_s
            self.unsent = line
        self.flush()

    def answer(self, message: NotTaken) -> None:
        """Tell this card alone, behind what is being sent; a card that does not read misses it."""
        if len(self.unsent) < _READ_BYTES:
            self.unsent += encode(message)
            self.flush()

    def flush(self) -> None:
        """Send what the system takes now."""
        if not self.unsent or self.gone:
            return
        try:
            self.unsent = self.unsent[self.socket.send(self.unsent) :]
        except BlockingIOError:
            pass
        except OSError:
            self.gone = True

    def read(self) -> Iterator[AnyPressed]:
        """Yield what was pressed; who says anything else is parted from, with no effect."""
        try:
            data = self.socket.recv(_READ_BYTES)
            self.gone = not data
            for line in self._lines.feed(data):
                yield decode_pressed(line)
        except BlockingIOError:
            return
        except (OSError, ValueError, msgspec.MsgspecError):
            self.gone = True
