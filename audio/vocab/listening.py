"""Listening: sounds of one part that roll together, of which one is heard, and what is asked of them."""

from __future__ import annotations

import msgspec

from audio.vocab.balance import Balance
from audio.vocab.layers import Layer
from audio.vocab.matching import SoundLevel
from audio.vocab.messages import Span

BACKING, OTHERS = "backing", "other parts"
"""What may play under the sounds."""

LOWEST_UNDER_DB = -40.0
"""What plays under the sounds is off below this."""

MOST_SOUNDS = 24
"""Variants that roll together at once, beside the originals and the DI."""


class Sound(msgspec.Struct, frozen=True, kw_only=True):
    """One of those that are flipped between."""

    key: str
    """``003`` for a variant, ``original:close`` for an original, ``di`` for the bare DI."""
    title: str
    """Its name for people: chain, or what it was called since."""
    number: int | None = None
    """Of a variant."""
    layers: tuple[Layer, ...]
    """Its microphones; names are those of the returns."""
    outside: str = ""
    """What sets it apart from the whole part, such as ``bars 5-8``."""


class Under(msgspec.Struct, frozen=True, kw_only=True):
    """What plays under all sounds alike: the backing track, or the keepers of the song's other parts."""

    name: str
    """`BACKING`, or `OTHERS`: the keepers of the song's other parts."""
    layers: tuple[Layer, ...]
    db: float | None
    """Its level, `LOWEST_UNDER_DB` to 0 dB; None where it is off."""


class ListeningNow(msgspec.Struct, frozen=True, kw_only=True):
    """All that a face shows of it; changed by `Steer`, and by loudness as it is measured."""

    part: str
    sample_rate: int
    sounds: tuple[Sound, ...]
    heard: str
    """Key of the one that is heard."""
    before: str
    """Key of the one that was heard before it."""
    out: tuple[str, ...] = ()
    """Keys of those that are left out of the comparison: not matched to, not walked through."""
    balances: tuple[tuple[str, Balance], ...] = ()
    """By key; all microphones alike where there is none."""
    under: tuple[Under, ...] = ()
    whole: int
    """Frames of the timeline until the last of it has rung out."""
    span: Span
    """The stretch that goes round, frames of the timeline; compared in loudness, too."""
    matched: bool = True
    """Whether all are turned down to the loudness of the quietest."""
    levels: tuple[tuple[str, SoundLevel], ...] = ()
    """By key; what the passes tell of them until they are measured."""
    cut_matched_db: float = 0.0
    """What everything is turned down by in common, so that nothing goes over −1 dBTP; 0 or less."""
    cut_plain_db: float = 0.0
    """The same where they are not matched."""
    peaks_dbfs: tuple[tuple[str, float], ...] = ()
    """By key: the most its microphones can come to together anywhere in it, as its pass tells; one that is
    not there may reach full scale."""
    measured: bool = False
    """Whether levels and cuts hold for all of it as it stands; until then they are about right."""
    read: int = 0
    """How many of the compared sounds are measured so far, where that is under way."""
    problem: str = ""
    """Why loudness cannot be measured; one sentence."""

    def sound(self, key: str) -> Sound | None:
        """Return the sound of that key; None where there is none."""
        return next((one for one in self.sounds if one.key == key), None)

    def heard_sound(self) -> Sound:
        """Return the sound that is heard."""
        return next(one for one in self.sounds if one.key == self.heard)

    def balance(self, key: str) -> Balance:
        """Return how its microphones are balanced."""
        return dict(self.balances).get(key, Balance())

    def level(self, key: str) -> SoundLevel | None:
        """Return its loudness as far as it is measured."""
        return dict(self.levels).get(key)

    def compared(self) -> tuple[Sound, ...]:
        """Return the sounds that are not left out, in order."""
        return tuple(one for one in self.sounds if one.key not in self.out)


class Flip(msgspec.Struct, frozen=True, kw_only=True):
    """Hear another sound, from the next block on."""

    key: str


class MatchThem(msgspec.Struct, frozen=True, kw_only=True):
    """Match loudness, or hear every sound as loud as it is."""

    on: bool


class SetUnder(msgspec.Struct, frozen=True, kw_only=True):
    """Turn what plays under the sounds up or down, or off."""

    name: str
    db: float | None


class SetBalance(msgspec.Struct, frozen=True, kw_only=True):
    """Balance the microphones of a sound."""

    key: str
    balance: Balance


class GoRound(msgspec.Struct, frozen=True, kw_only=True):
    """Let another stretch go round; what is elsewhere goes on at its start."""

    span: Span


class LeaveOut(msgspec.Struct, frozen=True, kw_only=True):
    """Leave a sound out of the comparison, or take it in again."""

    key: str
    out: bool


Steer = Flip | MatchThem | SetUnder | SetBalance | GoRound | LeaveOut
"""What may be asked while it rolls; nothing of it waits for an order under way."""
