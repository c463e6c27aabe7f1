"""What threads say to the screen; nothing else of theirs ever touches it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from textual.message import Message

from audio.jobs.news import News
from audio.vocab.errors import SecondpassError

if TYPE_CHECKING:
    from audio.jobs.runner import Runner


class Told(Message):
    """News of the session."""

    def __init__(self, one: News) -> None:
        super().__init__()
        self.news = one


class CardAsked(Message):
    """Go or stop from the second terminal."""

    def __init__(self, what: Literal["go", "stop"]) -> None:
        super().__init__()
        self.what = what


class Brought(Message):
    """A session that was opened in a thread of its own."""

    def __init__(self, runner: Runner) -> None:
        super().__init__()
        self.runner = runner


class Failed(Message):
    """There is no session to show."""

    def __init__(self, error: SecondpassError) -> None:
        super().__init__()
        self.error = error
