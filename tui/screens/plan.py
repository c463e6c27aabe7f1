"""The plan: what is to be played, in which order, what to touch; and what is covered."""

from __future__ import annotations

from functools import partial

from rich.text import Text
from textual.app import ComposeResult

from audio.jobs.orders import AgainLine, OrderLines, SkipLine, WantPasses
from audio.plan.coverage import Coverage, coverage
from audio.vocab.plan import PlanLine
from tui.present.looks import ACCENT, BAD, CARE, FAINT, paragraph, text
from tui.present.plan_lines import about, cost_line, coverage_rows, plan_rows
from tui.present.top import key_line
from tui.screens.asking import NameScreen
from tui.screens.face import Face, bindings
from tui.wanting import Wish, read_wish
from tui.widgets.lines import Lines

KEYS = (
    ("choose_up+choose_down", "line"),
    ("walk_left+walk_right", "move it"),
    ("skip", ""),
    ("again", ""),
    ("want", ""),
    ("coverage", ""),
    ("back", ""),
    ("keys", ""),
    ("page_up+page_down", "page"),
    ("repeat", ""),
)
KEYS_COVERAGE = (
    ("choose_up+choose_down", "parts"),
    ("walk_left+walk_right", "chains"),
    ("coverage", "the plan"),
    ("back", ""),
)
KEYS_EMPTY = (("want", ""), ("back", ""), ("keys", ""))

EMPTY = (
    "The plan is the list of passes to come, in the order that replugs least; a run leads through it card"
    " after card. It is empty yet: {want} adds passes, or write plan.yaml in the session's folder."
)
ASKS = "Which passes? Such as: hook, rhythm-left through crunch, fuzz; bars 5-8"


class PlanScreen(Face):
    """One row for each pass that is wanted."""

    ACTIONS = (
        "choose_up", "choose_down", "walk_left", "walk_right", "skip", "again", "want", "least",
        "coverage", "page_up", "page_down", "run", "repeat", "go", "stop", "back", "keys", "palette",
        "quit",
    )  # fmt: skip
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    PlanScreen { layout: vertical; }
    PlanScreen #top { height: 2; }
    PlanScreen #list { height: 1fr; }
    PlanScreen #said { height: auto; max-height: 5; }
    PlanScreen #keys { height: 2; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._key = ""
        self._at = 0
        """Key of the line under the cursor, and where it lay when it was last looked at."""
        self._covers = False
        self._rows = 1
        self._first = self._top_part = 0

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="top")
        yield Lines(id="list")
        yield Lines(id="said")
        yield Lines(id="keys")

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys of this view."""
        if self._covers:
            return KEYS_COVERAGE
        return KEYS if self.desk.model.plan().lines else KEYS_EMPTY

    def _place(self) -> int:
        """Return where the line under the cursor lies now; where it is gone, the place it had."""
        lines = self.desk.model.plan().lines
        places = (place for place, one in enumerate(lines) if one.wanted.key == self._key)
        return next(places, min(self._at, max(len(lines) - 1, 0)))

    def _line(self) -> PlanLine | None:
        lines = self.desk.model.plan().lines
        return lines[self._place()] if lines else None

    def _go_to(self, place: int) -> None:
        lines = self.desk.model.plan().lines
        self._at = min(max(place, 0), max(len(lines) - 1, 0))
        self._key = lines[self._at].wanted.key if lines else ""

    # ------------------------------------------------------------ drawing

    def draw_body(self) -> None:
        """Draw what is in sight."""
        plan, columns = self.desk.model.plan(), self.size.width
        title = text((" coverage" if self._covers else " plan", ACCENT))
        words = "parts down, chains across" if self._covers else cost_line(plan)
        self.lines("top").put([title + text((f"   {words}" if plan.lines else "", FAINT)), text()])
        said = self._said(columns)
        rows = self._rows = max(self.size.height - 4 - len(said), 3)
        self.lines("list").put(self._listed(columns, rows))
        self.lines("said").put(said)
        keys = key_line(self.keys_here(), self.desk.settings, columns, main="want")
        self.lines("keys").put(self.foot(keys))

    def _listed(self, columns: int, rows: int) -> list[Text]:
        plan = self.desk.model.plan()
        if self._covers:
            return coverage_rows(
                self._table(), columns, rows, first=self._first, top=self._top_part
            )
        if plan.problem:
            return [
                line for one in plan.problem.split("\n") for line in paragraph(one, columns, BAD)
            ]
        if not plan.lines:
            return paragraph(EMPTY.format(want=self.key("want")), columns)
        self._go_to(self._place())
        return plan_rows(plan, columns, rows, at=self._at, unready=self._unready)

    def _unready(self, part: str) -> int:
        return len(self.desk.model.checks.open_worst(part))

    def _table(self) -> Coverage:
        model = self.desk.model
        parts = [part.name for _, part in model.parts()]
        return coverage(parts, model.answers(), model.plan())

    def _said(self, columns: int) -> list[Text]:
        if self.desk.model.troubles:
            return self.trouble(most=3)
        line = self._line()
        beside = paragraph(self.desk.notice, columns, CARE) if self.desk.notice else []
        return (
            beside
            if self._covers or line is None
            else [text(), *about(line, columns, unready=self._unready), *beside]
        )

    # ------------------------------------------------------------ doing

    def action_choose_up(self) -> None:
        """Go to the line above."""
        self._choose(-1)

    def action_choose_down(self) -> None:
        """Go to the line below."""
        self._choose(1)

    def _choose(self, step: int) -> None:
        self.desk.notice = ""
        if self._covers:
            last = max(len(self.desk.model.parts()) - 1, 0)
            self._top_part = min(max(self._top_part + step, 0), last)
        else:
            self._go_to(self._place() + step)
        self.draw()

    def action_page_up(self) -> None:
        """Go up by what is in sight."""
        self._choose(-self._rows)

    def action_page_down(self) -> None:
        """Go down by what is in sight."""
        self._choose(self._rows)

    def action_repeat(self) -> None:
        """Repeat a pass of a run that is to be done again once, or hold the run at once."""
        self.desk.runs.repeat()
        does = "is repeated once" if self.desk.model.repeats() else "holds the run"
        self.desk.notice = f"in a run a pass that is to be done again {does}"
        self.draw()

    def action_walk_left(self) -> None:
        """Play this line earlier."""
        self._move(-1)

    def action_walk_right(self) -> None:
        """Play this line later."""
        self._move(1)

    def _move(self, step: int) -> None:
        if self._covers:
            self._first = min(max(self._first + step, 0), max(len(self._table().chains) - 1, 0))
            self.draw()
            return
        line = self._line()
        if line is not None:
            self.desk.later.tell(partial(self._moved, line.wanted.key, step))

    def _moved(self, key: str, step: int) -> OrderLines | None:
        """Return the order in which a line lies further on than now; None where there is no further."""
        keys = [one.wanted.key for one in self.desk.model.plan().lines]
        to = keys.index(key) + step if key in keys else -1
        if not 0 <= to < len(keys):
            return None
        keys.remove(key)
        keys.insert(to, key)
        return OrderLines(keys=tuple(keys))

    def action_least(self) -> None:
        """Offer the lines in the order that replugs least."""
        self.desk.later.tell(OrderLines)

    def action_skip(self) -> None:
        """Leave this line out, or take it in again."""
        line = self._line()
        if line is not None:
            self.desk.later.tell(partial(self._skipped, line.wanted.key))

    def _skipped(self, key: str) -> SkipLine | None:
        """Return the order that leaves a line out, or takes it in again: whatever it is not now."""
        line = self.desk.model.plan().line(key)
        return SkipLine(key=key, skipped=line.state != "skipped") if line is not None else None

    def action_again(self) -> None:
        """Have this line played once more."""
        line = self._line()
        if line is not None and line.state == "done":
            self.desk.later.tell(partial(AgainLine, key=line.wanted.key))

    def action_want(self) -> None:
        """Add passes."""
        parts = [part.name for _, part in self.desk.model.parts()]

        def problem(words: str) -> str | None:
            wish = read_wish(words, parts=parts)
            if isinstance(wish, str):
                return wish
            section = wish.section
            return self.desk.model.no_section(section, *wish.parts) if section else None

        def wanted(words: str) -> None:
            wish = read_wish(words, parts=parts)
            if isinstance(wish, Wish):
                asked = WantPasses(parts=wish.parts, chains=wish.chains, section=wish.section)
                self.desk.later.tell(lambda: asked)

        self.desk.push_screen(NameScreen(ASKS, first="", problem=problem, named=wanted))

    def action_coverage(self) -> None:
        """Show what is covered, or the plan again."""
        self._covers = not self._covers
        self.draw()

    def action_run(self) -> None:
        """Run the plan."""
        self.desk.runs.key()

    def action_go(self) -> None:
        """Stop what sounds; a pass starts from its card only."""
        if self.desk.model.busy or self.desk.model.countdown_s is not None:
            self.desk.control.go()

    def action_back(self) -> None:
        """Put a message away, or go back."""
        if self.desk.model.troubles:
            self.desk.put_away()
        else:
            self.desk.pop_screen()
            self.desk.changed()
