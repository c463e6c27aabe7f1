"""What the screen knows of DIs that were checked; news folded in, no widgets, no clock."""

from __future__ import annotations

from dataclasses import dataclass, field

from msgspec.structs import replace

from audio.jobs.news import DiChecked, HitsCompared, Snapshot
from audio.vocab.checked import Checked, HitsAsked
from audio.vocab.readiness import DiFinding

Stand = tuple[object, ...]
"""All that what is said of a part's DI depends on, besides the sound."""


@dataclass(slots=True)
class Checks:
    """The newest check of each part."""

    read: dict[str, DiChecked] = field(default_factory=dict)
    beside: HitsCompared | None = None
    """A part's hits beside another recording's, as last compared."""
    _asked: dict[str, HitsAsked] = field(default_factory=dict)
    _stands: dict[str, Stand] = field(default_factory=dict)

    def take(self, one: DiChecked | HitsCompared) -> None:
        """Fold news in; an answer to a question that was asked otherwise since is none."""
        if isinstance(one, HitsCompared):
            self.beside = one
        elif one.asked == self.asked(one.part):
            self.read[one.part] = one

    def asked(self, part: str) -> HitsAsked:
        """Return what a part's hits are held against."""
        return self._asked.get(part, HitsAsked())

    def ask(self, part: str, asked: HitsAsked) -> None:
        """Hold a part's hits against something else from now on."""
        self._asked[part] = asked

    def of(self, part: str) -> Checked | None:
        """Return the check of a part's newest DI; None while there is none."""
        one = self.read.get(part)
        return one.checked if one is not None else None

    def problem(self, part: str) -> str:
        """Return why a part could not be checked; empty where it could, or was not yet."""
        one = self.read.get(part)
        return one.problem if one is not None else ""

    def open_worst(self, part: str) -> tuple[DiFinding, ...]:
        """Return findings of a part that will spoil a pass and that nobody has accepted."""
        checked = self.of(part)
        return checked.open_worst if checked is not None else ()

    def accept(self, part: str) -> None:
        """Take the open findings of a part as accepted."""
        one, codes = self.read.get(part), {found.code for found in self.open_worst(part)}
        if one is not None and one.checked is not None:
            accepted = replace(one.checked, accepted=one.checked.accepted | codes)
            self.read[part] = replace(one, checked=accepted)

    def to_be_asked(self, snapshot: Snapshot) -> list[str]:
        """Return the parts of which something changed that a check depends on; each is told once."""
        due = []
        for song in snapshot.file.songs:
            for part in song.parts:
                stand = (replace(song, parts=()), part.revisions, snapshot.wiring, snapshot.tempos)
                if self._stands.get(part.name) != stand:
                    self._stands[part.name] = stand
                    due.append(part.name)
        return due
