"""What every view of the screen has: keys bound by name, a picture to draw, room enough to draw it."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, cast

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.events import Resize
from textual.geometry import Region, Size
from textual.screen import Screen
from textual.strip import Strip

from audio.vocab.status import Status
from tui.actions import BY_NAME, label
from tui.present.looks import BAD, STRONG, text
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

    def _draw_small(self) -> None:
        model = self.desk.model
        size = f"{LEAST[0]}×{LEAST[1]}"
        self.lines("small").put(
            [
                text(
                    (
                        f" {model.sound(self.desk.status())}",
                        BAD if model.sound(self.desk.status()) == "SENDING" else STRONG,
                    )
                ),
                text(f" {model.word(self.desk.status())}"),
                text(f" too small; make it {size} or more"),
                text(f" {self.key('stop')} stops"),
            ]
        )
