"""Hand over: what goes along and how, then files, sheet and page, one after another."""

from __future__ import annotations

from msgspec.structs import replace
from rich.text import Text
from textual.app import ComposeResult

from audio.jobs.orders import HandOver
from audio.plan.file_names import pattern_problem
from audio.vocab.handover import NAMES
from tui.present.handover_rows import ROWS, going_lines, row_lines
from tui.present.looks import ACCENT, CARE, FAINT, paragraph, text, two_sided
from tui.present.top import key_line
from tui.screens.asking import NameScreen
from tui.screens.face import Face, bindings
from tui.stepping import stepped
from tui.timing import Guard
from tui.widgets.lines import Lines

LONGEST_FOLDER = 400

GOING = (("stop", "stop"), ("keys", ""))


class HandoverScreen(Face):
    """A row for each thing that can be told, and how far it is."""

    ACTIONS = (
        "enter", "stop", "back", "walk_left", "walk_right", "choose_up", "choose_down", "name",
        "hand_over", "keys", "palette", "quit",
    )  # fmt: skip
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    HandoverScreen { layout: vertical; }
    HandoverScreen #head { height: 2; }
    HandoverScreen #rows { height: auto; }
    HandoverScreen #going { height: 1fr; margin-top: 1; }
    HandoverScreen #message { height: auto; max-height: 4; }
    HandoverScreen #keys { height: 2; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._at = 0
        self._guard = Guard()

    def body(self) -> ComposeResult:
        """Make the view."""
        for name in ("head", "rows", "going", "message", "keys"):
            yield Lines(id=name)

    @property
    def _goes(self) -> bool:
        return self.desk.model.doing == "handover"

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys of what happens now."""
        if self._goes:
            return GOING
        change = (
            ("walk_left+walk_right", "change") if ROWS[self._at].turned else ("name", "type it")
        )
        return (
            ("enter", "hand over"),
            ("choose_up+choose_down", "row"),
            change,
            ("back", "to the path"),
            ("keys", ""),
        )

    # ------------------------------------------------------------ drawing

    def draw_body(self) -> None:
        """Draw all that changed."""
        model, columns = self.desk.model, self.size.width
        name = model.snapshot.file.name if model.snapshot is not None else ""
        head = text(" ", ("HAND OVER", ACCENT))
        self.lines("head").put([two_sided(head, text((f"{name} ", FAINT)), columns), text()])
        self.lines("rows").put(
            row_lines(
                model.handover,
                model.handover_to,
                at=self._at,
                kept=model.notes.keepers,
                columns=columns,
            )
        )
        self.lines("going").put(going_lines(model.handing, columns))
        self.lines("message").put(self._message(columns))
        main = "stop" if self._goes else "enter"
        keys = key_line(self.keys_here(), self.desk.settings, columns, main=main)
        self.lines("keys").put(self.foot(keys))

    def _message(self, columns: int) -> list[Text]:
        if self.desk.model.troubles:
            return self.trouble(most=3)
        if self.desk.notice and not self._goes:
            return paragraph(self.desk.notice, columns, CARE)[:3]
        return [text()]

    # ------------------------------------------------------------ doing

    def action_enter(self) -> None:
        """Hand over; what was begun is gone on with."""
        model = self.desk.model
        if self._goes or model.busy or not self._guard.press(self.desk.clock()):
            return
        model.handing = None
        self.desk.notice = ""
        self.desk.ask(HandOver(asked=model.handover, out=model.handover_to), "handover")

    def action_back(self) -> None:
        """Put a message away, or go back to the path."""
        if self.desk.model.troubles or self.desk.notice:
            self.desk.put_away()
        elif not self._goes:
            self.desk.back_to_path(None)

    def action_hand_over(self) -> None:
        """Go back: the same key that brought it."""
        self.action_back()

    def action_choose_up(self) -> None:
        """Choose the row above."""
        self._choose(-1)

    def action_choose_down(self) -> None:
        """Choose the row below."""
        self._choose(1)

    def _choose(self, step: int) -> None:
        self._at = stepped(range(len(ROWS)), self._at, step)
        self.draw()

    def action_walk_left(self) -> None:
        """Take the value before."""
        self._turn(-1)

    def action_walk_right(self) -> None:
        """Take the value after."""
        self._turn(1)

    def _turn(self, step: int) -> None:
        turned = ROWS[self._at].turned
        if turned is not None and not self._goes:
            self.desk.model.handover = turned(self.desk.model.handover, step)
            self.draw()

    def action_name(self) -> None:
        """Type the value of a row that has no steps."""
        row = ROWS[self._at]
        if row.turned is not None or self._goes:
            return
        model, of_names = self.desk.model, row.name == "names"
        self.desk.push_screen(
            NameScreen(
                row.says,
                first=model.handover.names if of_names else model.handover_to,
                problem=_names_problem if of_names else lambda _: None,
                named=self._take_names if of_names else self._take_folder,
                longest=LONGEST_FOLDER,
            )
        )

    def _take_names(self, names: str) -> None:
        self.desk.model.handover = replace(self.desk.model.handover, names=names or NAMES)
        self.desk.changed()

    def _take_folder(self, folder: str) -> None:
        self.desk.model.handover_to = folder
        self.desk.changed()


def _names_problem(names: str) -> str | None:
    return pattern_problem(names) if names else None
