"""The chain card: fills the screen while a run waits for somebody to set a chain by hand."""

from __future__ import annotations

from rich.text import Text
from textual.app import ComposeResult

from audio.vocab.names import BARE_PATH
from audio.vocab.plan import BARE
from audio.vocab.status import Status
from tui.present.chain_card import drawn
from tui.present.chain_words import ALL_OUT, card_lines, notes
from tui.present.letters import large
from tui.present.looks import (
    ACCENT,
    BAD,
    CARE,
    FAINT,
    STRONG,
    VERDICT_LOOKS,
    paragraph,
    text,
    two_sided,
)
from tui.present.run_cards import BARE_CARD, cautions, place, summary
from tui.present.top import key_line
from tui.screens.face import Face, bindings
from tui.stages.variants import told
from tui.widgets.lines import Lines

KEYS = (
    ("go", "go"),
    ("skip", ""),
    ("again", ""),
    ("hold", ""),
    ("plan", ""),
    ("back", "leave"),
    ("keys", ""),
    ("repeat", ""),
)
KEYS_HELD = (
    ("go", "go on"),
    ("skip", ""),
    ("evidence", ""),
    ("end_run", ""),
    ("plan", ""),
    ("back", "leave"),
    ("keys", ""),
    ("repeat", ""),
)
KEYS_ENDED = (("back", "leave"), ("plan", ""), ("keys", ""))
KEYS_BUSY = (("stop", ""), ("keys", ""))

BANNER_ROWS = 5

UNKNOWN = (
    "Nothing is written down of it: set it as you know it; at the stage chain {key} writes it down."
)


HELD = "{go} brings its card again, {skip} leaves the line out, {end} ends the run; {once}"


class ChainCardScreen(Face):
    """One chain, as large as there is room for it."""

    ACTIONS = (
        "go", "stop", "skip", "again", "hold", "repeat", "end_run", "plan", "choose_up", "choose_down",
        "page_up", "page_down", "back", "evidence", "keys", "palette", "quit",
    )  # fmt: skip
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    ChainCardScreen { layout: vertical; }
    ChainCardScreen #top { height: auto; }
    ChainCardScreen #card { height: 1fr; }
    ChainCardScreen #said { height: auto; max-height: 6; }
    ChainCardScreen #keys { height: 2; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._first = 0
        self._rows = 1
        self._of = ("", "")
        self._told_once = False

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="top")
        yield Lines(id="card")
        yield Lines(id="said")
        yield Lines(id="keys")

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys that do something now."""
        if self.desk.model.busy:
            return KEYS_BUSY
        state = self.desk.runs.now.state
        return KEYS_HELD if state == "held" else KEYS_ENDED if state == "ended" else KEYS

    # ------------------------------------------------------------ drawing

    def draw_body(self) -> None:
        """Draw the card."""
        columns, run = self.size.width, self.desk.runs.now
        if self._of != (run.state, run.at):
            self._of, self._first, self._told_once = (run.state, run.at), 0, False
        top, said = self._top(columns), self._said(columns)
        rows = max(self.size.height - 2 - len(top) - len(said), 4)
        lines = self._card(columns, rows)
        self._first = min(self._first, max(len(lines) - rows, 0))
        self._rows = rows
        shown = lines[self._first : self._first + rows]
        left = len(lines) - self._first - len(shown)
        if left > 0:
            shown[-1] = text((f" {self.key('choose_down')} {left + 1} lines more", ACCENT))
        self.lines("top").put(top)
        self.lines("card").put(shown)
        self.lines("said").put(said)
        keys = key_line(self.keys_here(), self.desk.settings, columns, main="go")
        self.lines("keys").put(self.foot(keys))

    def tick(self, _: Status | None) -> None:
        """Say what sounds while the bare path is measured."""
        if self.desk.model.busy:
            self.draw()

    def _top(self, columns: int) -> list[Text]:
        model, runs = self.desk.model, self.desk.runs
        line = runs.line()
        number = text((f"{place(runs.now, model.plan())} ", FAINT))
        if runs.now.state == "ended":
            return [
                two_sided(text((f" run {runs.now.number} is over", STRONG)), number, columns),
                text(),
            ]
        if runs.now.at == BARE:
            return [two_sided(text((" the bare path", STRONG)), number, columns), text()]
        if line is None:
            return [text(), text()]
        section = f" · {line.wanted.section}" if line.wanted.section else ""
        head = text(
            (f" {line.wanted.part}{section}", STRONG),
            (" through ", FAINT),
            (line.wanted.chain, ACCENT),
        )
        again = ", once more" if runs.now.repeated else ""
        return [two_sided(head, text((line.song + again + "  ", FAINT)) + number, columns), text()]

    def _card(self, columns: int, rows: int) -> list[Text]:
        model, runs = self.desk.model, self.desk.runs
        if runs.now.state == "ended":
            return [
                piece
                for one in summary(runs.now, model.plan())
                for piece in paragraph(one, columns)
            ]
        above = self._held(columns) if runs.now.state == "held" else []
        return [*above, *self._as_set(columns, rows - len(above))]

    def _held(self, columns: int) -> list[Text]:
        """Return why the run is held, large enough to be seen from the amp, and what to press."""
        done, run = self.desk.model.judged(), self.desk.runs.now
        again = done is not None and done.verdict == "redo" and done.state == "kept"
        letters = large("redo" if again else "held", columns=columns - 2, rows=BANNER_ROWS)
        keys = HELD.format(
            go=self.key("go"), skip=self.key("skip"), end=self.key("end_run"), once=self._once()
        )
        return [
            *(text((f" {row}", BAD)) for row in letters),
            text(),
            *paragraph(f"× held: {run.reason}", columns, BAD),
            *paragraph(keys, columns, FAINT),
            text(),
        ]

    def _once(self) -> str:
        does = "is repeated once" if self.desk.model.repeats() else "holds the run"
        return f"a redo {does} ({self.key('repeat')} changes that)"

    def _as_set(self, columns: int, rows: int) -> list[Text]:
        model, runs = self.desk.model, self.desk.runs
        if runs.now.at == BARE or model.chain == BARE_PATH:
            told = [piece for one in BARE_CARD[1:] for piece in paragraph(one.strip(), columns)]
            return [*drawn(ALL_OUT, columns, rows - len(told) - 1), text(), *told]
        line = runs.line()
        if line is None:
            return []
        chain = model.chain_files().get(line.wanted.chain)
        besides = [UNKNOWN.format(key=self.key("write"))] if chain is None else notes(chain)
        below = [piece for one in besides for piece in paragraph(one, columns, FAINT)]
        return [*drawn(card_lines(chain, line.touch), columns, rows - len(below)), *below]

    def _said(self, columns: int) -> list[Text]:
        model, runs = self.desk.model, self.desk.runs
        if model.troubles:
            return self.trouble(most=3)
        if model.countdown_s is not None:
            return [text((f" the test click sounds in {model.countdown_s}", ACCENT))]
        if model.busy:
            return [text((f" {model.said or model.word(self.desk.status())}", ACCENT))]
        if runs.now.state == "held":
            return self._last(columns)
        line = runs.line()
        care = cautions(line.touch) if line is not None else []
        once = [text((f" {self._once()}", FAINT))] if self._told_once or model.repeats() else []
        return [
            *self._last(columns),
            *once,
            *(piece for one in care for piece in paragraph(one, columns, CARE)),
        ]

    def _last(self, columns: int) -> list[Text]:
        """Return what the pass before was worth, and how many are to be looked at."""
        done, looks = self.desk.model.judged(), self.desk.runs.now.looks
        if done is None:
            return []
        why = f"  {told(done.findings[0])}" if done.findings and done.verdict != "good" else ""
        line = text(
            (f" last: {done.part} {done.number:03d} ", FAINT),
            (f" {done.verdict.upper()} ", VERDICT_LOOKS[done.verdict]),
            (why, FAINT),
        )
        count = text((f"{len(looks)} to look at ", FAINT)) if looks else text()
        return [two_sided(line, count, columns)]

    # ------------------------------------------------------------ doing

    def action_choose_up(self) -> None:
        """See what stands above."""
        self._first = max(self._first - 1, 0)
        self.draw()

    def action_choose_down(self) -> None:
        """See what stands below."""
        self._first += 1
        self.draw()

    def action_page_up(self) -> None:
        """See what stands above, a screen at a time."""
        self._first = max(self._first - self._rows, 0)
        self.draw()

    def action_page_down(self) -> None:
        """See what stands below, a screen at a time."""
        self._first += self._rows
        self.draw()

    def action_repeat(self) -> None:
        """Repeat a pass to be done again once, or hold the run at once."""
        self._told_once = True
        self.desk.runs.repeat()

    def action_skip(self) -> None:
        """Leave this line out."""
        self.desk.runs.skip()

    def action_again(self) -> None:
        """Have the last line once more."""
        self.desk.runs.again()

    def action_hold(self) -> None:
        """Hold the run."""
        self.desk.runs.hold()

    def action_end_run(self) -> None:
        """End the run."""
        self.desk.runs.end()

    def action_plan(self) -> None:
        """Show the plan."""
        self.desk.show_plan()

    def action_back(self) -> None:
        """Put a message away, or leave the card."""
        if self.desk.model.troubles:
            self.desk.put_away()
        elif not self.desk.model.busy:
            self.desk.runs.put_away()

    def action_evidence(self) -> None:
        """Show what the last verdict rests on."""
        done = self.desk.model.judged()
        if done is not None:
            self.desk.show_evidence(done)
