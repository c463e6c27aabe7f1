"""What every view of the screen has: keys bound by name, a picture to draw, room enough to draw it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar, cast

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.events import Resize
from textual.geometry import Region, Size
from textual.screen import Screen
from textual.strip import Strip

from audio.vocab.status import Status
from tui.actions import BY_NAME, label
from tui.present.looks import BAD, FAINT, STRONG, paragraph, text
from tui.present.top import state_line
from tui.widgets.lines import Lines

if TYPE_CHECKING:
    from tui.app import Desk

LEAST = (60, 16)
"""Columns and rows under which nothing can be read; 80×24 is what everything is made for."""


def bindings(*names: str) -> list[BindingType]:
    """Return bindings for actions, to be overridden by the user's keys."""
    return [
        Binding(",".join(BY_NAME[name].keys), name, BY_NAME[name].says, show=False, id=name)
        for name in names
    ]


class Face(Screen[None]):
    """A view; draws what the model says when told to."""

    AUTO_FOCUS = None
    BLANK = True
    """Nothing of its own is drawn under what covers it, which saves Textual each row's styling."""
    DEFAULT_CSS = """
    Face #small { display: none; height: 1fr; }
    Face.small > * { display: none; }
    Face.small > #small { display: block; }
    """
    ACTIONS: ClassVar[tuple[str, ...]] = ()
    """Names of the actions this view has, for the list of keys."""

    @property
    def desk(self) -> Desk:
        """The program."""
        return cast("Desk", self.app)

    def compose(self) -> ComposeResult:
        """Make the view, and what stands there when the terminal is too small for it."""
        yield from self.body()
        yield Lines(id="small")

    def body(self) -> ComposeResult:
        """Make the view."""
        yield from ()

    def on_mount(self) -> None:
        """Draw before there is a picture: an empty one first would be seen, and wait for the next."""
        self._fit(self.size)
        self._draw()

    def on_resize(self, event: Resize) -> None:
        """Draw again at the new size, or say that it is too small."""
        self._fit(event.size)
        self.call_after_refresh(self.draw)

    def _fit(self, size: Size) -> None:
        small = size.width < LEAST[0] or size.height < LEAST[1]
        self.set_class(small, "small")

    def render_lines(self, crop: Region) -> list[Strip]:
        """Return blank rows as the filters leave them: without it NO_COLOR would miss the margins."""
        strip = Strip.blank(crop.width, self.visual_style.rich_style)
        for one in self.get_line_filters():
            strip = strip.apply_filter(one, self.background_colors[1])
        return [strip] * crop.height

    def draw(self) -> None:
        """Draw all that changed; nothing before the view is made."""
        if self.is_mounted:
            self._draw()

    def _draw(self) -> None:
        if not self.children:
            return  # the program ended while the view was being made: there is nothing to draw on
        if self.has_class("small"):
            self._draw_small()
        else:
            self.draw_body()

    def draw_body(self) -> None:
        """Draw the view."""

    def tick(self, status: Status | None) -> None:
        """Draw what moves."""

    def key(self, action: str) -> str:
        """Return how the first key of an action is written."""
        return label(self.desk.settings.keys_of(action)[0])

    def lines(self, name: str) -> Lines:
        """Return one of the view's blocks of lines."""
        return self.query_one(f"#{name}", Lines)

    def foot(self, first: Text) -> list[Text]:
        """Return the footer: a line of the view's own, and what always stands under it."""
        return [first, state_line(self.desk.model, self.desk.status(), self.size.width)]

    def trouble(self, *, most: int) -> list[Text]:
        """Return the message that waits to be read, in so many lines, and how it is put away."""
        troubles = self.desk.model.troubles
        more = f", {len(troubles) - 1} more" if len(troubles) > 1 else ""
        shown = paragraph(troubles[0].text, self.size.width, BAD)[:most]
        return [*shown, text((f" {self.key('back')} puts this away{more}", FAINT))]

    # ------------------------------------------------------------ what is the same everywhere

    def keys_here(self) -> Sequence[tuple[str, str]]:
        """Return the actions that matter in this view now, and their words in the footer."""
        return ()

    def actions_here(self) -> tuple[str, ...]:
        """Return the actions that mean something in this view now, for the list of keys."""
        return self.ACTIONS

    def action_go(self) -> None:
        """Start the pass after the countdown, call that off, or stop and keep."""
        self.desk.control.go()

    def action_stop(self) -> None:
        """Stop whatever sounds."""
        self.desk.control.stop()

    def action_keys(self) -> None:
        """List the keys of this view."""
        self.desk.show_keys(self.keys_here())

    def action_palette(self) -> None:
        """Find an action by its words."""
        self.app.action_command_palette()

    def action_quit(self) -> None:
        """Leave; a pass that rolls is asked about first."""
        self.desk.control.ask_to_leave()

    def _draw_small(self) -> None:
        model, status = self.desk.model, self.desk.status()
        sound = model.sound(status)
        size = f"{LEAST[0]}×{LEAST[1]}"
        self.lines("small").put(
            [
                text((f" {sound}", BAD if sound == "SENDING" else STRONG)),
                text(f" {model.word(status)}"),
                text(f" too small; make it {size} or more"),
                text(f" {self.key('stop')} stops"),
            ]
        )
