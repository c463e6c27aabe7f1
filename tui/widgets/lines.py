"""Lines of text, drawn as they are: no markup, no wrapping, cut at the edge."""

from __future__ import annotations

from collections.abc import Sequence

from rich.segment import Segment
from rich.text import Text
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from tui.present.looks import fitted


class Lines(Widget):
    """Some lines; only those that changed are drawn again."""

    DEFAULT_CSS = "Lines { height: auto; width: 1fr; }"

    def __init__(self, *, name: str | None = None, id: str | None = None) -> None:  # noqa: A002 - Textual's own name for it
        super().__init__(name=name, id=id)
        self._lines: list[Text] = []

    def put(self, lines: Sequence[Text]) -> None:
        """Show these lines."""
        old, new = self._lines, list(lines)
        if old == new:
            return
        self._lines = new
        if len(old) != len(new):
            self.refresh(layout=True)
            return
        for y, (one, other) in enumerate(zip(old, new, strict=True)):
            if one != other or one.spans != other.spans:
                self.refresh(Region(0, y, self.size.width, 1))

    @property
    def words(self) -> str:
        """What stands there, without looks."""
        return "\n".join(line.plain.rstrip() for line in self._lines)

    def get_content_height(self, container: object, viewport: object, width: int) -> int:  # noqa: ARG002 - as Textual calls it
        """Return one row for each line."""
        return len(self._lines)

    def render_line(self, y: int) -> Strip:
        """Draw one row."""
        width, base = self.size.width, self.rich_style
        if y >= len(self._lines):
            return Strip.blank(width, base)
        line = fitted(self._lines[y], width)
        segments = [
            Segment(one.text, base + one.style if one.style else base)
            for one in line.render(self.app.console)
        ]
        return Strip(segments, width)
