"""Small questions: the keys of a stage, a name, how to leave while a pass rolls."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Input

from audio.vocab.names import LONGEST_CHAIN_NAME
from audio.vocab.status import Status
from audio.vocab.units import clock_time
from tui.actions import ACTIONS, label
from tui.present.looks import ACCENT, BAD, CARE, FAINT, HERE, STRONG, paragraph, text
from tui.screens.face import Face, bindings
from tui.settings import Settings
from tui.widgets.lines import Lines


class KeysScreen(Face):
    """The keys of this stage first, then all others."""

    ACTIONS = ("back", "keys", "enter", "stop", "choose_up", "choose_down")
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    KeysScreen { layout: vertical; }
    KeysScreen #list { height: 1fr; }
    KeysScreen #foot { height: 2; }
    """

    def __init__(self, here: Sequence[tuple[str, str]], there: Sequence[str]) -> None:
        super().__init__()
        self._here = {name for names, _ in here for name in names.split("+")}
        self._there = there
        self._first = 0
        """Line that stands at the top."""

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="list")
        yield Lines(id="foot")

    def draw_body(self) -> None:
        """Draw the keys, those of this stage first."""
        rows, columns = self.size.height - 2, self.size.width
        listed = self._listed(rows, columns)
        self._first = min(self._first, max(len(listed) - rows, 0))
        self.lines("list").put(listed[self._first : self._first + rows])
        hidden = len(listed) > rows
        more = " back   your own keys: settings.yaml, see the README"
        more += f"   {self.key('choose_up')}{self.key('choose_down')} more" if hidden else ""
        foot = text((f" {self.key('back')}", STRONG), (more, FAINT))
        self.lines("foot").put(self.foot(foot))

    def _listed(self, rows: int, columns: int) -> list[Text]:
        settings = self.desk.settings
        rest = {name for name in self._there if name not in self._here}
        shown = _keys(self._there, self._here, settings, columns)
        others = _keys(self._there, rest, settings, columns)
        free = [text()] if len(shown) + len(others) + 3 <= rows else []
        head, foot = text((" at this stage", ACCENT)), text((" besides", ACCENT))
        return [head, *shown, *free, foot, *others]

    def action_choose_up(self) -> None:
        """See the lines above."""
        self._first = max(self._first - 1, 0)
        self.draw()

    def action_choose_down(self) -> None:
        """See the lines below."""
        self._first += 1
        self.draw()

    def action_back(self) -> None:
        """Go back."""
        self.desk.pop_screen()

    def action_keys(self) -> None:
        """Go back: the same key that brought it."""
        self.action_back()

    def action_enter(self) -> None:
        """Go back."""
        self.action_back()


PAIRS: dict[str, tuple[tuple[str, ...], str]] = {
    "walk_left": (("walk_right",), "walk along the path"),
    "choose_up": (("choose_down",), "choose a line"),
    "page_up": (("page_down",), "go by what is in sight"),
    "rate_1": (("rate_2", "rate_3", "rate_4", "rate_5"), "rate a variant, 1 to 5"),
    "zoom_in": (("zoom_out",), "look closer at the waveform, or see more of it"),
    "scroll_left": (("scroll_right",), "move the waveform's view"),
}
"""Actions that are told in one line with their opposite, or with others of their kind."""


NAMES_FROM = 100
"""Columns from which there is room for the names that settings.yaml calls actions by."""


def _keys(there: Sequence[str], wanted: set[str], settings: Settings, columns: int) -> list[Text]:
    second = {other for others, _ in PAIRS.values() for other in others}
    shown = []
    for action in ACTIONS:
        if action.name not in there or action.name not in wanted or action.name in second:
            continue
        names, says = [action.name], action.says
        if action.name in PAIRS:
            names += PAIRS[action.name][0]
            says = PAIRS[action.name][1]
        keys = " ".join(label(settings.keys_of(name)[0]) for name in names)
        called = (
            f"  {' '.join(names[:2])}{' …' * (len(names) > 2)}" if columns >= NAMES_FROM else ""
        )
        shown.append(text((f"   {keys:<10}", STRONG), f"{says:<66}", (called, FAINT)))
    return shown


class NameScreen(Face):
    """One line to type a name."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "back", "back", show=False)]
    DEFAULT_CSS = """
    NameScreen { layout: vertical; }
    NameScreen #ask { height: 4; }
    NameScreen Input { margin: 0 1; width: 1fr; }
    NameScreen #why { height: 1fr; margin-top: 1; }
    NameScreen #foot { height: 2; }
    """

    def __init__(
        self,
        asks: str,
        *,
        first: str,
        problem: Callable[[str], str | None],
        named: Callable[[str], None],
        longest: int = LONGEST_CHAIN_NAME,
    ) -> None:
        super().__init__()
        self._asks = asks
        self._longest = longest
        self._first = first
        self._problem = problem
        self._named = named
        self._why = ""

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="ask")
        yield Input(value=self._first, max_length=self._longest, compact=True)
        yield Lines(id="why")
        yield Lines(id="foot")

    def on_mount(self) -> None:
        """Let the keys reach the line."""
        self.query_one(Input).focus()

    def draw_body(self) -> None:
        """Draw the question."""
        columns = self.size.width
        self.lines("ask").put([text(), text((f" {self._asks}", ACCENT)), text()])
        self.lines("why").put(paragraph(self._why, columns, BAD) if self._why else [])
        foot = text((" enter", ACCENT), " take it   ", ("esc", STRONG), " back")
        self.lines("foot").put(self.foot(foot))

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the name, or say what is wrong with it."""
        name = event.value.strip()
        self._why = self._problem(name) or ""
        if self._why:
            self.draw()
            return
        self.desk.pop_screen()
        self._named(name)

    def action_back(self) -> None:
        """Go back."""
        self.desk.pop_screen()


WAYS = (
    ("f", "finish", "play to its end, judge it, then leave"),
    ("k", "stop and keep", "stop now, judge what was recorded, then leave"),
    ("a", "leave it running", "plays on, no closing click; judged at the next opening"),
)


class LeavingScreen(Face):
    """A pass rolls: how to leave."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f", "finish", show=False),
        Binding("k", "keep", show=False),
        Binding("a", "alone", show=False),
        *bindings("back", "stop"),
    ]
    DEFAULT_CSS = """
    LeavingScreen { layout: vertical; }
    LeavingScreen #ask { height: 1fr; }
    LeavingScreen #foot { height: 2; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._shown_s = -1

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="ask")
        yield Lines(id="foot")

    def draw_body(self) -> None:
        """Draw the ways out that there are now."""
        shown = [text(), text((" A pass is under way. How do you want to leave?", ACCENT)), text()]
        stay = (self.key("back"), "stay", "go on watching")
        for key, name, says in (*WAYS, stay):
            if key == "a" and not self.desk.control.may_leave_alone():
                continue
            shown += [
                text(
                    "   ",
                    (key, HERE if key == "f" else STRONG),
                    (f"{'':<{5 - len(key)}}{name:<18}", STRONG),
                    says,
                ),
                text(),
            ]
        caution = "The amp goes on sounding until the pass ends or is stopped."
        shown += paragraph(f"{caution}{self._left()}", self.size.width, CARE)
        self.lines("ask").put(shown)
        self.lines("foot").put(self.foot(text()))

    def _left(self) -> str:
        left = self.desk.model.left_s(self.desk.status())
        return (
            f" The DI plays for {clock_time(left)} more." if left is not None and left > 0 else ""
        )

    def tick(self, status: Status | None) -> None:
        """Keep the time that is left true."""
        left = self.desk.model.left_s(status)
        whole = -1 if left is None else int(left)
        if whole != self._shown_s:
            self._shown_s = whole
            self.draw()

    def action_finish(self) -> None:
        """Leave when the pass is judged."""
        self.desk.pop_screen()
        self.desk.control.leave_when_done()

    def action_keep(self) -> None:
        """Stop, keep, judge, leave."""
        self.desk.pop_screen()
        self.desk.control.leave_when_done()
        self.desk.control.stop()

    def action_alone(self) -> None:
        """Leave at once; the engine finishes the pass."""
        if self.desk.control.may_leave_alone():
            self.desk.control.leave_alone()

    def action_back(self) -> None:
        """Stay."""
        self.desk.pop_screen()
