"""What the program at the desk and a card in the amp room say to each other: one JSON object a line.

The desk sends `Hello` first, then `Role` and `Shown` whenever either changes and once a second besides;
`NotTaken` answers what was refused. The card sends `Here` once a second while somebody can see it, and
`Go`, `Stop` and `Drive` as they are pressed; a connection that only reads is no card. Both ends are on one
machine, so a monotonic clock means the same to both. `decode_told` and `decode_pressed` refuse anything
else (``msgspec.ValidationError``).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

import msgspec

from audio.vocab import strict_json
from audio.vocab.findings import Verdict

VERSION = 4
"""Of what is said here; a card and a desk of different versions part at once."""

CardWord = Literal[
    "stand by",
    "by hand",
    "opening",
    "countdown",
    "click",
    "setting",
    "waiting",
    "comparing",
    "rolling",
    "tail",
    "closing",
    "judging",
    "verdict",
    "fault",
]
"""What the desk does: nothing; waits for a chain to be set by hand; reads the DI and opens the device;
counts down to the start; measures with test clicks; sets something up by a tone or a stretch of the DI;
listens until the returns are quiet; plays variants to people, the send silent; plays the DI; records what
rings on after it; clicks again; measures and judges; shows what the pass was worth; has met a fault."""

MOST_PRESSED_BYTES = 256
"""Longest line a card may send."""

MOST_TOLD_BYTES = 256 * 1024
"""Longest line a desk may send: the texts of a `fitted` state fit in it whatever they are made of."""

_MOST_CHARACTERS = 500
"""Of one text; a character takes at most six bytes of JSON."""


MOST_LINES, MOST_SETTINGS, MOST_WORDS = 30, 16, 60
"""Lines of a card, settings of one, characters of a setting: more are cut."""


class CardLine(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One thing of a chain that is set by hand."""

    word: str
    """What is to be done with it: ``new``, ``moved``, ``out``, ``turn``; empty where it stays."""
    name: str
    settings: tuple[str, ...] = ()
    """How it is set, each such as ``gain 2:30``."""
    changed: tuple[str, ...] = ()
    """Those of them that stand otherwise than before."""
    was: str = ""
    """What was, or where it goes."""


class CardState(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the desk is doing, as a person in the amp room needs it."""

    session: str
    song: str = ""
    part: str = ""
    chain: str = ""
    """What is, or is to be, plugged in."""
    word: CardWord
    number: int | None = None
    """Of the pass that runs or was judged."""
    sounding: bool
    """Whether anything may leave the send now; True wherever that is not known."""
    left_s: float | None = None
    """Seconds of the pass to come, tail not counted."""
    countdown_s: float | None = None
    """Seconds until it starts."""
    verdict: Verdict | None = None
    finding: str = ""
    """The heaviest finding, one line."""
    advice: str = ""
    """What to do about it."""
    card: tuple[CardLine, ...] = ()
    """What is to be set by hand for the next pass, along the signal."""
    place: str = ""
    """Which card of how many."""
    next: str = ""
    """What go would start, one line."""
    may_go: bool = False
    may_stop: bool = False
    said: str = ""
    """The last line of progress."""


class Told(
    msgspec.Struct,
    frozen=True,
    tag_field="tell",
    tag=True,
    forbid_unknown_fields=True,
    kw_only=True,
):
    """Base of what the desk tells a card."""


class Hello(Told, frozen=True, kw_only=True, forbid_unknown_fields=False):
    """The first line, and a sign of life until there is a state."""

    version: int


class Role(Told, frozen=True, kw_only=True):
    """What the card that is told may do, and which of the cards may start a pass."""

    card: int
    """Its own number, from 1; 0 before it has said that it is here."""
    cards: int
    """How many are connected."""
    driver: int | None
    """Number of the card whose go starts a pass; None while no card's does."""
    lost: str = ""
    """Why this card drives no more, where it did before; one clause."""

    @property
    def drives(self) -> bool:
        """Whether this card's go starts a pass."""
        return self.driver is not None and self.driver == self.card

    @property
    def watching(self) -> str:
        """Why this card only watches, one clause; empty where it drives."""
        if self.drives:
            return ""
        return (
            self.lost or ("no card" if self.driver is None else f"card {self.driver}") + " drives"
        )


class Shown(Told, frozen=True, kw_only=True):
    """The newest state."""

    number: int
    """Counts the pictures a person decides on: states that differ in moving figures only share one; where
    another card drives, or none, it is another picture."""
    state: CardState


class NotTaken(Told, frozen=True, kw_only=True):
    """A go started nothing, or a card does not drive though it asked to."""

    reason: str


class Pressed(
    msgspec.Struct,
    frozen=True,
    tag_field="press",
    tag=True,
    forbid_unknown_fields=True,
    kw_only=True,
):
    """Base of what a card asks of the desk."""


class Go(Pressed, frozen=True, kw_only=True):
    """Start what the picture named as next."""

    number: int
    """Of the picture the person saw."""
    at_s: float
    """When it was pressed, monotonic clock of this machine: a go held up on its way starts nothing."""


class Stop(Pressed, frozen=True, kw_only=True):
    """Stop whatever sounds; what was recorded is kept."""


class Drive(Pressed, frozen=True, kw_only=True):
    """Let this card's go start passes from now on, and no other card's."""

    at_s: float
    """When it was pressed, as of `Go`."""


class Here(Pressed, frozen=True, kw_only=True):
    """A sign of life: this card runs, and as far as it can tell its terminal is being seen."""

    new: bool = False
    """Whether this is the card's first connection: a person has just started it."""


AnyTold = Hello | Role | Shown | NotTaken
AnyPressed = Go | Stop | Drive | Here

_encoder = msgspec.json.Encoder()
_told: msgspec.json.Decoder[AnyTold] = msgspec.json.Decoder(AnyTold)
_pressed: msgspec.json.Decoder[AnyPressed] = msgspec.json.Decoder(AnyPressed)


def encode(message: AnyTold | AnyPressed) -> bytes:
    """Return a message as one line of JSON, newline included."""
    return _encoder.encode(message) + b"\n"


def decode_told(line: bytes) -> AnyTold:
    """Return what the desk told in one line."""
    return strict_json.decode(_told, line)


def decode_pressed(line: bytes) -> AnyPressed:
    """Return what a card asked in one line."""
    return strict_json.decode(_pressed, line)


def fitted(state: CardState) -> CardState:
    """Return a state that fits a line: texts cut to 500 characters, what is no text or number left out."""
    changes = {name: _fitted(getattr(state, name)) for name in state.__struct_fields__}
    return msgspec.structs.replace(state, **changes)


def _fitted(value: object) -> object:
    if isinstance(value, str):
        cut = value if len(value) <= _MOST_CHARACTERS else value[: _MOST_CHARACTERS - 1] + "…"
        return cut.encode("utf-8", "replace").decode()  # a name may hold bytes that are no text
    if isinstance(value, tuple):
        return tuple(_short(one) for one in value[:MOST_LINES])
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def _short(line: CardLine) -> CardLine:
    def words(one: str) -> str:
        return str(_fitted(one[:MOST_WORDS]))

    return CardLine(
        word=words(line.word),
        name=words(line.name),
        settings=tuple(words(one) for one in line.settings[:MOST_SETTINGS]),
        changed=tuple(words(one) for one in line.changed[:MOST_SETTINGS]),
        was=words(line.was),
    )


def same_picture(one: CardState, other: CardState) -> bool:
    """Return whether two states ask a person the same thing: all but moving figures and progress agree."""
    return _standing(one) == _standing(other)


def _standing(state: CardState) -> CardState:
    return msgspec.structs.replace(state, left_s=None, countdown_s=None, said="")


class Lines:
    """Bytes as they arrive, given back as whole lines.

    Parameters
    ----------
    longest
        Bytes a line may have.
    """

    def __init__(self, *, longest: int) -> None:
        self._longest = longest
        self._rest = b""

    def feed(self, data: bytes) -> Iterator[bytes]:
        """Yield each line that is whole now, without its newline; `ValueError` at one that is too long."""
        self._rest += data
        while b"\n" in self._rest:
            line, _, self._rest = self._rest.partition(b"\n")
            yield self._short(line)
        self._short(self._rest)

    def _short(self, line: bytes) -> bytes:
        if len(line) > self._longest:
            raise ValueError(f"a line is longer than {self._longest} bytes")
        return line
