"""What people said of a variant afterwards: never in ``variant.json``, always in the journal."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import msgspec

from audio.vocab.balance import Balance, of_microphones
from audio.vocab.choice import Choice


class Keeper(msgspec.Struct, frozen=True, kw_only=True):
    """Why and how a variant was chosen."""

    reason: str
    """One line; empty where nobody gave one."""
    balance: Balance
    """Of its microphones when it was kept: a blend is a keeper, too."""


class Opinion(msgspec.Struct, frozen=True, kw_only=True):
    """All that was said of one variant, the last word of each kind; its number and files never change."""

    part: str
    number: int
    rating: int | None = None
    """1 to 5; None where nobody rated it, or the rating was taken back."""
    words: tuple[str, ...] = ()
    """In the order they were said."""
    photos: tuple[str, ...] = ()
    """File names."""
    called: str = ""
    """Another name for it; its files keep theirs."""
    chain: str = ""
    """The chain it was really made through, where that was corrected afterwards."""
    chain_content: dict[str, Any] | None = None
    """That chain as it was set, where it is known."""
    discarded: bool = False
    """Put out of sight; nothing is deleted, and it can be taken back. A keeper never is."""
    balance: Balance = Balance()
    """How its microphones were last balanced while somebody listened."""
    keeper: Keeper | None = None
    """None where it was not chosen, or not any more; several of a part may be."""
    choices: tuple[Choice, ...] = ()
    """Who chose it of a hand-over, the newest last; of one listener and hand-over the last word. Nothing
    becomes a keeper by it."""

    @property
    def blend(self) -> Balance:
        """The balance that counts: the one it is kept with, else the one it was listened to at last."""
        return self.keeper.balance if self.keeper is not None else self.balance

    def held_to(self, names: Collection[str]) -> Opinion:
        """Return the same with balances of the variant's own microphones alone, whose names are given."""
        balance, keeper = of_microphones(self.balance, names), self.keeper
        if keeper is not None:
            kept = of_microphones(keeper.balance, names)
            keeper = msgspec.structs.replace(keeper, balance=kept)
        return msgspec.structs.replace(self, balance=balance, keeper=keeper)


class Happening(msgspec.Struct, frozen=True, kw_only=True):
    """One line of a variant's history."""

    at: str
    """As the journal has it: local time with offset, ISO 8601."""
    text: str
    """What happened or was said, in words; from outside, as all the journal is."""
