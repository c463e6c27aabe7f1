"""What was said of variants, as the screen needs it: looked up by variant, the discarded ones apart."""

from __future__ import annotations

from dataclasses import dataclass, field

from audio.jobs.news import HistoryRead, Snapshot
from audio.vocab.opinion import Happening, Opinion
from audio.vocab.variant import Summary

_Variants = dict[str, tuple[Summary, ...]]


@dataclass(slots=True)
class Notes:
    """Variants of a snapshot, the newest first, and what was said of them; sorted once a snapshot."""

    show_discarded: bool = False
    history: HistoryRead | None = None
    """Of the variant that was last asked about."""
    keepers: int = 0
    """Of all parts."""
    _all: _Variants = field(default_factory=dict)
    _kept: _Variants = field(default_factory=dict)
    _said: dict[tuple[str, int], Opinion] = field(default_factory=dict)

    def take(self, one: Snapshot) -> None:
        """Take what there is now."""
        self._said = {(said.part, said.number): said for said in one.opinions}
        self.keepers = sum(said.keeper is not None for said in one.opinions)
        out = {key for key, said in self._said.items() if said.discarded}
        all_: dict[str, list[Summary]] = {}
        for variant in reversed(one.variants):
            all_.setdefault(variant.part, []).append(variant)
        self._all = {part: tuple(found) for part, found in all_.items()}
        self._kept = {
            part: tuple(one for one in found if (part, one.number) not in out) if out else found
            for part, found in self._all.items()
        }

    def kept(self, part: str) -> tuple[Summary, ...]:
        """Return a part's variants without those that were discarded, the newest first."""
        return self._kept.get(part, ())

    def listed(self, part: str) -> tuple[Summary, ...]:
        """Return those that are in sight now."""
        return (self._all if self.show_discarded else self._kept).get(part, ())

    def discarded(self, part: str) -> int:
        """Return how many of a part were discarded."""
        return len(self._all.get(part, ())) - len(self._kept.get(part, ()))

    def of(self, part: str, number: int) -> Opinion:
        """Return what was said of a variant; an empty opinion where nothing was."""
        return self._said.get((part, number)) or Opinion(part=part, number=number)

    def chain_of(self, one: Summary) -> str:
        """Return the chain a variant was really made through, as far as anybody has said."""
        said = self._said.get((one.part, one.number))
        return (said.chain if said else "") or one.chain.name

    def happened(self, part: str, number: int) -> tuple[Happening, ...]:
        """Return a variant's history, oldest first; nothing until it was read."""
        read = self.history
        return read.happened if read and (read.part, read.number) == (part, number) else ()
