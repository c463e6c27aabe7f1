"""The least a full screen can be: what the library itself takes to start."""

from __future__ import annotations

from textual.app import App, ComposeResult
from textual.widgets import Static


class Bare(App[None]):
    """One line of text."""

    def compose(self) -> ComposeResult:
        yield Static("bare")


if __name__ == "__main__":
    Bare().run()
