"""Pictures of the desk, and a desk and cards that tests can wait for."""

from __future__ import annotations

import queue
from collections.abc import Callable
from pathlib import Path
from typing import Any, Self, TypeVar

import msgspec

from audio.files import peer
from audio.jobs.card_client import CardNews
from audio.session import layout
from audio.session.folder import create
from audio.vocab.card import AnyTold, CardState, Here, Role, decode_told, encode

LONGEST_S = 10.0
"""Far more than anything here takes: a test that waits so long has failed."""

STANDING_BY = CardState(
    session="harbour lights",
    song="low water",
    part="rhythm-left",
    chain="fuzz into delay",
    word="stand by",
    number=None,
    sounding=False,
    next="rhythm-left through fuzz into delay",
    may_go=True,
)

ROLLING = msgspec.structs.replace(
    STANDING_BY, word="rolling", number=7, sounding=True, left_s=72.4, may_go=False, may_stop=True
)

T = TypeVar("T")


def changed(state: CardState, **fields: Any) -> CardState:
    return msgspec.structs.replace(state, **fields)


def make_session(folder: Path) -> Path:
    create(folder, name="harbour lights", song="low water")
    return folder


class Heard(queue.SimpleQueue[T]):
    """What came, in order; waits for what is still to come."""

    def next(self) -> T:
        return self.get(timeout=LONGEST_S)

    def until(self, right: Callable[[T], bool]) -> T:
        """Return the first that is right, dropping those before it."""
        while True:
            if right(one := self.next()):
                return one


class RawCard:
    """A card that may say anything, and reads only when told to."""

    def __init__(self, folder: Path) -> None:
        self.socket = peer.connect(layout.card_socket(folder), within_s=LONGEST_S)
        self.socket.settimeout(LONGEST_S)
        self._lines = self.socket.makefile("rb")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._lines.close()
        self.socket.close()

    def say(self, data: bytes) -> None:
        self.socket.sendall(data)

    def joined(self) -> Role:
        """Say that this card is here, just started; return what it may do."""
        self.say(encode(Here(new=True)))
        role: Role = self.hear_until(lambda told: isinstance(told, Role) and told.card)
        return role

    def hear(self) -> AnyTold:
        return decode_told(self._lines.readline())

    def hear_until(self, right: Callable[[Any], bool]) -> Any:
        while True:
            if right(told := self.hear()):
                return told

    def was_left(self) -> bool:
        """Return, once it is so, whether the other side ended the connection."""
        try:
            return self._lines.read() is not None
        except ConnectionResetError:
            return True


def is_state(state: CardState) -> Callable[[CardNews | AnyTold], bool]:
    return lambda told: getattr(told, "state", None) == state
