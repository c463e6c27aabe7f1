"""Questions between two steps: an answer, nobody left to give one, Ctrl+C."""

from __future__ import annotations

import io
import sys
import threading

import pytest

from audio.jobs.deck import StoppedError
from tui.verbs.set_prompt import LEAVE, Prompt


def prompt(monkeypatch: pytest.MonkeyPatch, typed: str, *, stopped: bool = False) -> Prompt:
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    stop = threading.Event()
    if stopped:
        stop.set()
    return Prompt(stop)


def test_an_answer_is_small_letters_without_spaces(monkeypatch: pytest.MonkeyPatch) -> None:
    one = prompt(monkeypatch, " K \n\n")
    assert one.ask("wire") == "k"
    assert one.ask("silence") == ""


def test_where_nobody_is_there_any_more_nothing_is_measured(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert prompt(monkeypatch, "").ask("wire") == LEAVE


def test_ctrl_c_leaves_a_question(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(StoppedError):
        prompt(monkeypatch, "k\n", stopped=True).ask("wire")
