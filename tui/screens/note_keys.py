"""The keys by which something is said of a variant, for the views that show one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from audio.jobs.orders import LookAtHistory, SayOfVariant
from audio.vocab.saying import LONGEST_WORDS, reason_problem, words_problem
from audio.vocab.variant import Summary
from tui.screens.face import Face
from tui.timing import Guard

if TYPE_CHECKING:
    from audio.jobs.news import Snapshot

ACTIONS = ("rate_1", "rate_2", "rate_3", "rate_4", "rate_5", "keep", "words", "note", "discard")


class NoteKeys(Face):
    """Rates, keeps, says words, discards; none of it starts or stops anything."""

    _discards: Guard | None = None
    _keeps: Guard | None = None
    _told_of: tuple[str, int, Snapshot | None] | None = None

    def noted(self) -> Summary | None:
        """Return the variant that is spoken of; None where there is none here."""
        return None

    def want_history(self, one: Summary | None) -> None:
        """Ask for a variant's history, once for each picture of the session."""
        snapshot = self.desk.model.snapshot
        if one is None:
            return
        told_of, asked = self._told_of, (one.part, one.number, snapshot)
        if told_of is None or told_of[:2] != asked[:2] or told_of[2] is not snapshot:
            self._told_of = asked
            self.desk.runner_look(LookAtHistory(part=one.part, number=one.number))

    def say(self, **said: Any) -> None:
        """Say something of it, where nothing else is under way; that a pass goes on is told."""
        one, desk = self.noted(), self.desk
        if one is None:
            return
        if desk.model.busy:
            desk.later.not_now("say it when that is over")
            return
        desk.notice = ""
        desk.ask(SayOfVariant(part=one.part, number=one.number, **said), "session")

    def _rate(self, rating: int) -> None:
        one = self.noted()
        if one is not None and self.desk.model.notes.of(one.part, one.number).rating != rating:
            self.say(rating=rating)

    def action_rate_1(self) -> None:
        """Rate it 1 of 5."""
        self._rate(1)

    def action_rate_2(self) -> None:
        """Rate it 2 of 5."""
        self._rate(2)

    def action_rate_3(self) -> None:
        """Rate it 3 of 5."""
        self._rate(3)

    def action_rate_4(self) -> None:
        """Rate it 4 of 5."""
        self._rate(4)

    def action_rate_5(self) -> None:
        """Rate it 5 of 5."""
        self._rate(5)

    def action_keep(self) -> None:
        """Ask why it is kept, and keep it; or take that back. A key that is held counts once."""
        one = self.noted()
        self._keeps = self._keeps or Guard()
        if not self._keeps.press(self.desk.clock()) or one is None:
            return
        if self.desk.model.notes.of(one.part, one.number).keeper is not None:
            self.say(keeper=False)
        else:
            self.ask_reason()

    def ask_reason(self) -> None:
        """Ask why it is a keeper; of one that is kept already the answer changes the reason alone."""
        from tui.screens.asking import NameScreen  # noqa: PLC0415 - it imports the views' own ground

        one = self.noted()
        if one is None:
            return
        said = self.desk.model.notes.of(one.part, one.number)
        back = "; it comes back into sight" if said.discarded else ""
        kept = said.keeper is not None
        self.desk.push_screen(
            NameScreen(
                f"What makes it a keeper? One line, or leave it empty{back}",
                first=said.keeper.reason if said.keeper is not None else "",
                problem=reason_problem,
                named=lambda why: self.say(keeper=None if kept else True, reason=why),
                longest=LONGEST_WORDS,
            )
        )

    def action_words(self) -> None:
        """Say words of it."""
        from tui.screens.asking import NameScreen  # noqa: PLC0415 - it imports the views' own ground

        if self.noted() is None:
            return
        self.desk.push_screen(
            NameScreen(
                "What do you hear? One line, added to what was said before",
                first="",
                problem=words_problem,
                named=lambda words: self.say(words=words),
                longest=LONGEST_WORDS,
            )
        )

    def action_note(self) -> None:
        """Say more of it: photo, another name, the chain."""
        from tui.screens.note import NoteScreen  # noqa: PLC0415 - most evenings never need it

        one = self.noted()
        if one is not None:
            self.desk.notice = ""
            self.desk.push_screen(NoteScreen(one))

    def action_discard(self) -> None:
        """Put it out of sight, or take it back; a key that is held counts once."""
        one = self.noted()
        self._discards = self._discards or Guard()
        if self._discards.press(self.desk.clock()) and one is not None:
            self.say(discarded=not self.desk.model.notes.of(one.part, one.number).discarded)
