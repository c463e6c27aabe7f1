"""A chain, written where it is plugged: pedals in order, knobs turned, saved as a new file."""

from __future__ import annotations

from collections.abc import Callable

from rich.text import Text
from textual.app import ComposeResult

from audio.jobs.orders import SaveChain
from tui.chain_draft import ChainDraft, Row
from tui.present.glyphs import cut
from tui.present.looks import ACCENT, CARE, FAINT, HERE, STRONG, text, window
from tui.present.top import key_line
from tui.screens.asking import NameScreen
from tui.screens.face import Face, bindings
from tui.widgets.lines import Lines

KEYS = (
    ("choose_up+choose_down", "row"),
    ("walk_left+walk_right", "turn, move"),
    ("enter", "type"),
    ("name", "pedal"),
    ("more", ""),
    ("take_out", ""),
    ("back", "leave"),
)

LABEL_CELLS = 22
SAVES = ("save", "save own")


class ChainEditScreen(Face):
    """One row for each pedal, knob and setting.

    Parameters
    ----------
    draft
        The chain as it stands at first.
    """

    ACTIONS = (
        "choose_up", "choose_down", "page_up", "page_down", "walk_left", "walk_right", "enter",
        "name", "more", "take_out", "back", "stop", "keys", "palette",
    )  # fmt: skip
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    ChainEditScreen { layout: vertical; }
    ChainEditScreen #head { height: 2; }
    ChainEditScreen #rows { height: 1fr; }
    ChainEditScreen #message { height: auto; max-height: 3; }
    ChainEditScreen #keys { height: 2; }
    """

    def __init__(self, draft: ChainDraft) -> None:
        super().__init__()
        self._draft = draft
        self._at = 0

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="head")
        yield Lines(id="rows")
        yield Lines(id="message")
        yield Lines(id="keys")

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys of this view."""
        return KEYS

    # ------------------------------------------------------------ drawing

    def draw_body(self) -> None:
        """Draw the rows."""
        columns = self.size.width
        says = f"   as plugged and set; {self.key('page_down')} leads to saving, as a new file"
        self.lines("head").put([text((" chain", ACCENT), (says, FAINT)), text()])
        rows = self._draft.rows()
        shown = [self._row(row, columns, here=at == self._at) for at, row in enumerate(rows)]
        self.lines("rows").put(window(shown, self._at, self._in_sight()))
        troubles = self.desk.model.troubles
        self.lines("message").put(self.trouble(most=2) if troubles else self._hint(rows[self._at]))
        keys = key_line(KEYS, self.desk.settings, columns, main="enter")
        self.lines("keys").put(self.foot(keys))

    @staticmethod
    def _row(row: Row, columns: int, *, here: bool) -> Text:
        mark = "  ▸ " if here else "    "
        indent = "  " if row.kind in ("knob", "moves") else ""
        name = f"{indent}{cut(row.label, LABEL_CELLS - len(indent))}"
        value = cut(row.value or "–", max(columns - LABEL_CELLS - 8, 10))
        if row.kind == "pedal":
            return text(
                mark,
                (name, HERE if here else STRONG),
                (f" {row.value}", FAINT),
            )
        look = HERE if here else ACCENT if row.kind in SAVES else STRONG if row.value else FAINT
        return text(mark, (name + " ", FAINT), (value, look))

    @staticmethod
    def _hint(row: Row) -> list[Text]:
        hints = {
            "pedal": "← → moves it along the chain, at the end into the amp's loop",
            "moves": "does it modulate by itself: tremolo, chorus, rotary?",
            "save": "in the session's folder chains",
            "save own": "in your own folder, for every session",
        }
        said = hints.get(row.kind, "")
        return [text((f" {said}", CARE if row.kind in SAVES else FAINT))] if said else []

    # ------------------------------------------------------------ doing

    def _here(self) -> Row:
        return self._draft.rows()[self._at]

    def _go_to(self, at: int) -> None:
        self._at = min(max(at, 0), len(self._draft.rows()) - 1)
        self.draw()

    def _walk(self, step: int) -> None:
        """Go on by rows, from the last to the first and back: saving lies at the end."""
        self._go_to((self._at + step) % len(self._draft.rows()))

    def action_choose_up(self) -> None:
        """Go to the row above."""
        self._walk(-1)

    def action_choose_down(self) -> None:
        """Go to the row below."""
        self._walk(1)

    def action_page_up(self) -> None:
        """Go up by the rows in sight, as far as the name."""
        self._go_to(self._at - self._in_sight())

    def action_page_down(self) -> None:
        """Go down by the rows in sight, as far as saving."""
        self._go_to(self._at + self._in_sight())

    def _in_sight(self) -> int:
        return max(self.size.height - 6, 3)

    def action_walk_left(self) -> None:
        """Turn a knob back, or move a pedal against the signal."""
        self._step(-1)

    def action_walk_right(self) -> None:
        """Turn a knob on, or move a pedal with the signal."""
        self._step(1)

    def _step(self, step: int) -> None:
        row = self._here()
        pedal = self._draft.pedal(row)
        self._draft.step(row, step)
        self._go_to(self._draft.row_of(pedal) if row.kind == "pedal" and pedal else self._at)

    def action_enter(self) -> None:
        """Type what a row says; on the last ones, save."""
        row, draft = self._here(), self._draft
        if row.kind in SAVES:
            self._save(own=row.kind == "save own")
        elif row.kind == "moves":
            self._step(1)
        else:
            first = row.label if row.kind == "pedal" else row.value
            asks = f"{row.label}: as it stands; empty leaves it out" if row.key else f"{row.label}:"

            def put(value: str) -> int:
                draft.put(row, value)
                return self._at

            self._ask(asks, first, lambda v: draft.problem(row, v), put)

    def action_name(self) -> None:
        """Put another pedal behind this one."""
        row, draft = self._here(), self._draft
        self._ask(
            "Which pedal follows here? Call it so that two alike can be told apart",
            "",
            draft.new_pedal_problem,
            lambda name: draft.add_pedal(name, behind=row),
        )

    def action_more(self) -> None:
        """Give the pedal or the amp a knob more."""
        row, draft = self._here(), self._draft
        if draft.pedal(row) is None and row.kind != "amp":
            self.desk.say(f"choose a pedal or the amp first; {self.key('name')} puts a pedal in")
            return
        asks = f"Which knob or switch of {row.label.split()[0] if row.kind == 'amp' else 'it'}?"
        self._ask(asks, "", lambda k: draft.knob_problem(row, k), lambda k: draft.add_knob(row, k))

    def action_take_out(self) -> None:
        """Take the pedal or the knob out."""
        self._draft.take_out(self._here())
        self._go_to(self._at)

    def _ask(
        self,
        asks: str,
        first: str,
        problem: Callable[[str], str | None],
        put: Callable[[str], int],
    ) -> None:
        """Ask for words; what takes them says at which row to go on."""

        def done(words: str) -> None:
            self._go_to(put(words))

        self.desk.push_screen(NameScreen(asks, first=first, problem=problem, named=done))

    def _save(self, *, own: bool) -> None:
        draft = self._draft
        if problem := draft.name_problem(draft.name):
            self.desk.say(problem)
            return
        self.desk.model.take_chain(draft.name)
        self.desk.ask(SaveChain(chain=draft.chain(), own=own), "session")
        self.desk.back_to_path("chain")

    def action_back(self) -> None:
        """Put a message away, or leave without a file."""
        if self.desk.model.troubles:
            self.desk.put_away()
        else:
            self.desk.back_to_path("chain")
