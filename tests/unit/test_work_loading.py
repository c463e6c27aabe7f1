"""No two threads of the worker load scipy at once."""

from __future__ import annotations

import ast
import threading
from pathlib import Path

import pytest

import audio.work
from audio.vocab.requests import FindLoudest
from audio.work.loading import LOADING
from audio.work.process import Desk

MODULES = sorted(Path(audio.work.__file__).parent.glob("*.py"))


@pytest.mark.parametrize("module", MODULES, ids=lambda path: path.stem)
def test_what_is_loaded_when_it_is_needed_is_loaded_under_the_lock(module: Path) -> None:
    tree = ast.parse(module.read_text())
    inside = [n for f in ast.walk(tree) if isinstance(f, ast.FunctionDef) for n in ast.walk(f)]
    late = {n for n in inside if isinstance(n, ast.Import | ast.ImportFrom)}
    locked = {
        n
        for held in inside
        if isinstance(held, ast.With) and ast.unparse(held.items[0]) == "LOADING"
        for n in ast.walk(held)
    }
    assert late <= locked


def test_a_request_waits_for_what_is_being_loaded(tmp_path: Path) -> None:
    asked = FindLoudest(path=str(tmp_path / "none.wav"), channel=0, seconds=1.0)
    answered = threading.Event()
    thread = threading.Thread(target=lambda: (Desk().answer(asked), answered.set()))
    with LOADING:
        thread.start()
        assert not answered.wait(0.2)
    thread.join(30)
    assert answered.is_set()
