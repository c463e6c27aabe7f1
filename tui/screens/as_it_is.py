"""A DI that is not ready is about to be sent: asked once, with what will be heard."""

from __future__ import annotations

from collections.abc import Callable

from textual.app import ComposeResult

from audio.jobs.orders import AcceptFindings
from tui.present.check_words import finding_where
from tui.present.looks import ACCENT, BAD, FAINT, PLAIN, STRONG, paragraph, text
from tui.screens.face import Face, bindings
from tui.widgets.lines import Lines

MOST = 4
"""Findings that are named; the list at the DI has them all."""


class AsItIsScreen(Face):
    """Send it as it is, or mend it first.

    Parameters
    ----------
    part
        Whose DI it is.
    then
        What is done when it is sent all the same.
    """

    ACTIONS = ("enter", "back", "stop", "keys", "quit")
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    AsItIsScreen { layout: vertical; }
    AsItIsScreen #ask { height: 1fr; }
    AsItIsScreen #foot { height: 2; }
    """

    def __init__(self, part: str, then: Callable[[], None]) -> None:
        super().__init__()
        self._part = part
        self._then = then

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="ask")
        yield Lines(id="foot")

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys of this view."""
        return (("enter", "send it as it is"), ("back", "mend it first"))

    def draw_body(self) -> None:
        """Draw what will be heard, and the two ways on."""
        columns, checks = self.size.width, self.desk.model.checks
        found, checked = checks.open_worst(self._part), checks.of(self._part)
        rate = checked.measures.facts.sample_rate if checked is not None else 1
        head = f" The DI of {self._part} is not ready. A pass makes this permanent:"
        shown = [text(), text((head, ACCENT)), text()]
        for one in found[:MOST]:
            where = finding_where(one, rate)
            words = f"{where}: {one.text}" if where else one.text
            shown += paragraph(f"× {words}", columns, BAD)
        if len(found) > MOST:
            shown += paragraph(f"and {len(found) - MOST} more", columns, FAINT)
        ways = (("enter", "send it as it is; not asked again"), ("back", "mend it first"))
        shown += [text()]
        shown += [
            text("   ", (f"{self.key(name):<8}", STRONG), (says, PLAIN)) for name, says in ways
        ]
        self.lines("ask").put(shown)
        self.lines("foot").put(self.foot(text()))

    def action_enter(self) -> None:
        """Note that it is sent as it is, and go on."""
        self.desk.model.checks.accept(self._part)
        self.desk.pop_screen()
        self.desk.ask(AcceptFindings(part=self._part), "session")
        self._then()

    def action_back(self) -> None:
        """Send nothing."""
        self.desk.pop_screen()
        self.desk.notice = "nothing was sent; at the DI the list leads to each finding"
        self.desk.changed()
