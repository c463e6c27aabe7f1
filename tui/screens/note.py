"""All that can be said of one variant, and its history."""

from __future__ import annotations

from collections.abc import Callable

from rich.text import Text
from textual.app import ComposeResult

from audio.vocab.names import LONGEST_CHAIN_NAME
from audio.vocab.opinion import Opinion
from audio.vocab.saying import (
    LONGEST_PHOTO,
    called_problem,
    corrected_problem,
    photo_problem,
    rating_problem,
)
from audio.vocab.variant import Summary
from tui.actions import RATE
from tui.present.glyphs import cut
from tui.present.looks import CARE, FAINT, HERE, STRONG, VERDICT_LOOKS, paragraph, text
from tui.present.note_words import history_lines, kept_as, made_of, rating
from tui.present.top import key_line
from tui.screens.asking import NameScreen
from tui.screens.face import bindings
from tui.screens.note_keys import ACTIONS, NoteKeys
from tui.stepping import stepped
from tui.widgets.lines import Lines

KEYS = (
    ("choose_up+choose_down", "row"),
    ("enter", "say it"),
    (RATE, "rate"),
    ("keep", ""),
    ("discard", ""),
    ("back", ""),
    ("keys", ""),
)

ROWS = ("words", "photo", "called", "chain", "rating", "keeper")
_LABEL_CELLS = 10

_HINTS = {
    "words": "what you hear, one line; added to what was said before",
    "photo": "the name of a file; the program never opens it",
    "called": "another name for it; number and files keep theirs",
    "chain": "what it was really made through, where the name at the pass was wrong",
    "rating": "1 to 5; 0 takes it back",
    "keeper": "kept with a reason and the balance that holds now; {keep} takes it back",
}


class NoteScreen(NoteKeys):
    """One row for each thing that can be said."""

    ACTIONS = ("choose_up", "choose_down", "enter", *ACTIONS, "back", "stop", "keys", "palette")
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    NoteScreen { layout: vertical; }
    NoteScreen #head { height: 2; }
    NoteScreen #rows { height: auto; }
    NoteScreen #history { height: 1fr; margin-top: 1; }
    NoteScreen #message { height: auto; max-height: 3; }
    NoteScreen #keys { height: 2; }
    """

    def __init__(self, one: Summary) -> None:
        super().__init__()
        self._one = one
        self._at = 0

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="head")
        yield Lines(id="rows")
        yield Lines(id="history")
        yield Lines(id="message")
        yield Lines(id="keys")

    def noted(self) -> Summary | None:
        """Return the variant."""
        return self._one

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys of this view."""
        return KEYS

    # ------------------------------------------------------------ drawing

    def draw_body(self) -> None:
        """Draw the rows and the history."""
        self.want_history(self._one)
        model, one, columns = self.desk.model, self._one, self.size.width
        said = model.notes.of(one.part, one.number)
        self.lines("head").put([self._head(said), text()])
        self.lines("rows").put([self._row(name, said, columns) for name in ROWS])
        happened = model.notes.happened(one.part, one.number)
        room = max(self.size.height - len(ROWS) - 8, 1)
        self.lines("history").put(history_lines(happened, columns, most=room))
        self.lines("message").put(self._message(columns))
        self.lines("keys").put(self.foot(key_line(KEYS, self.desk.settings, columns, main="enter")))

    def _head(self, said: Opinion) -> Text:
        one = self._one
        name = f" {one.part} {one.number:03d} "
        apart = made_of(one)
        of = f", {apart}" if apart else ""
        out = ("   discarded: out of sight, not deleted" if said.discarded else "", CARE)
        verdict = (f"  {one.verdict.upper()}", VERDICT_LOOKS[one.verdict])
        return text((name, STRONG), (f"through {one.chain.name}{of}", FAINT), verdict, out)

    def _row(self, name: str, said: Opinion, columns: int) -> Text:
        here = ROWS[self._at] == name
        value = cut(_value(name, said), max(columns - _LABEL_CELLS - 6, 10)).rstrip()
        look = HERE if here else STRONG if value != "–" else FAINT
        return text("  ▸ " if here else "    ", (f"{name:<{_LABEL_CELLS}}", FAINT), (value, look))

    def _message(self, columns: int) -> list[Text]:
        if self.desk.model.troubles:
            return self.trouble(most=2)
        if self.desk.notice:
            return paragraph(self.desk.notice, columns, CARE)[:2]
        return paragraph(_HINTS[ROWS[self._at]].format(keep=self.key("keep")), columns, FAINT)[:2]

    # ------------------------------------------------------------ doing

    def action_choose_up(self) -> None:
        """Go to the row above."""
        self._walk(-1)

    def action_choose_down(self) -> None:
        """Go to the row below."""
        self._walk(1)

    def _walk(self, step: int) -> None:
        self._at = stepped(range(len(ROWS)), self._at, step)
        self.desk.notice = ""
        self.draw()

    def action_enter(self) -> None:
        """Say what the row is for."""
        said = self.desk.model.notes.of(self._one.part, self._one.number)
        match ROWS[self._at]:
            case "words":
                self.action_words()
            case "photo":
                self._ask("photo", "", photo_problem, longest=LONGEST_PHOTO)
            case "called":
                self._ask("called", said.called, called_problem)
            case "keeper":
                self.ask_reason()
            case "chain":
                self._ask("chain", said.chain or self._one.chain.name, corrected_problem)
            case _:
                self.desk.push_screen(
                    NameScreen(
                        "How good is it? 1 to 5, 0 takes a rating back",
                        first=str(said.rating or ""),
                        problem=_rating_problem,
                        named=lambda word: self.say(rating=int(word)),
                        longest=1,
                    )
                )

    def _ask(
        self,
        what: str,
        first: str,
        problem: Callable[[str], str | None],
        *,
        longest: int = LONGEST_CHAIN_NAME,
    ) -> None:
        asks = {
            "photo": "Which photo shows it? The name of its file",
            "called": "What is it called? Empty goes back to its chain's name",
            "chain": "What was it really made through? Empty goes back to what was said at the pass",
        }
        self.desk.push_screen(
            NameScreen(
                asks[what],
                first=first,
                problem=problem,
                named=lambda word: self.say(**{what: word}),
                longest=longest,
            )
        )

    def action_note(self) -> None:
        """Go back: the same key that brought it."""
        self.action_back()

    def action_back(self) -> None:
        """Put a message away, or go back."""
        if self.desk.model.troubles:
            self.desk.put_away()
        else:
            self.desk.notice = ""
            self.desk.pop_screen()
            self.desk.changed()


def _value(name: str, said: Opinion) -> str:
    """Return what was said last, and how much there is of it."""
    more = {"words": said.words, "photo": said.photos}.get(name)
    if more is not None:
        count = f"   ({len(more)} in all)" if len(more) > 1 else ""
        return f"{more[-1]}{count}" if more else "–"
    if name == "keeper":
        return kept_as(said).removeprefix("keeper: ") or "–"
    if name == "rating":
        return rating(said).strip() or "–"
    return (said.called if name == "called" else said.chain) or "–"


def _rating_problem(word: str) -> str | None:
    if not (word.isascii() and word.isdigit()):
        return f"{word!r} is no rating; type 1 to 5, or 0 to take it back"
    return rating_problem(int(word))
