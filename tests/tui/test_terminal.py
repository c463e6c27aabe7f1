"""The screen in a real terminal: what moves, and how the terminal is left, however the program ends."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from accidents import Evening, engine_under, is_gone, wait_for
from keys_alone import all_set, name_chain, see_evidence, see_verdict, start_pass
from needs import needs_program, needs_samples
from terminal import COMMAND, Manners, Terminal, environment, terminal

pytestmark = [needs_program("tmux", package="tmux"), needs_samples()]

LEVELS_MOVE_WITHIN_S = 8.0
"""Of the command; generous, as the machine is shared: `bench_screen_start` states the figure."""

WRONG_USE, FAULT = 2, 3

Open = Callable[..., Terminal]


@pytest.fixture
def open_terminal(tmp_path: Path) -> Iterator[Open]:
    with ExitStack() as opened:
        yield lambda **given: opened.enter_context(terminal(tmp_path, **given))


def demo_at_the_returns(one: Terminal, **env: str) -> None:
    """Start the demo and walk to where the levels are as soon as there is a path to walk along."""
    one.run("demo", "--out", "harbour", **env)
    one.wait_for("variants")
    one.press(*["Right"] * 5)
    one.wait_for("▸returns")


def levels(shown: str) -> tuple[str, ...]:
    """Return the lines of levels: an input's name and a figure at the end."""
    return tuple(re.findall(r"^.*\bin \d.*\d$", shown, flags=re.MULTILINE))


def assert_levels_move(one: Terminal, *, limit_s: float) -> None:
    seen: set[tuple[str, ...]] = set()

    def moved(shown: str) -> bool:
        seen.update({levels(shown)} - {()})
        return len(seen) >= 3

    one.until(moved, "the levels did not move", limit_s=limit_s)


def leave(one: Terminal) -> int:
    one.press("q")
    return one.ended()


def assert_left_as_it_was(one: Terminal, before: Manners) -> None:
    assert one.manners() == before
    assert not before.other_screen


def variant_of(evening: Evening, number: int) -> dict[str, Any]:
    path = evening.takes / f"{number:03d}" / "variant.json"
    wait_for(path.exists, f"pass {number} was not judged")
    value: dict[str, Any] = json.loads(path.read_text())
    return value


def rolling(one: Terminal, evening: Evening) -> int:
    """Open the session, start a pass and return the engine's process once the DI rolls."""
    one.run("open", evening.session)
    one.wait_for("riff", "■ set")
    name_chain(one, "plain")
    all_set(one)
    start_pass(one, "plain")
    return engine_under(one.program())


# ---------------------------------------------------------------- at the desk


@pytest.mark.slow
def test_the_demo_moves_and_leaves_the_terminal_as_it_was(open_terminal: Open) -> None:
    one = open_terminal()
    before = one.manners()
    began = time.monotonic()
    demo_at_the_returns(one)
    assert one.manners().other_screen
    assert_levels_move(one, limit_s=LEVELS_MOVE_WITHIN_S - (time.monotonic() - began))
    assert leave(one) == 0
    assert_left_as_it_was(one, before)


def test_a_folder_that_is_no_session_is_one_sentence_and_wrong_use(
    open_terminal: Open, tmp_path: Path
) -> None:
    one = open_terminal()
    before = one.manners()
    (tmp_path / "attic").mkdir()
    one.run("open", "attic")
    assert one.ended() == WRONG_USE
    assert_says_one_sentence(one, "attic")
    assert_left_as_it_was(one, before)


def assert_says_one_sentence(one: Terminal, *words: str) -> None:
    """Claim that nothing but one message stands there, which may be wrapped, and the shell's lines."""
    said = one.text().partition("ended ")[0]
    joined = " ".join(said.split())
    assert joined.startswith("secondpass: ")
    assert joined.count("secondpass: ") == 1
    assert "Traceback" not in joined
    assert all(word in joined for word in words), joined


def test_a_terminal_that_prints_lines_only_is_told_so(open_terminal: Open, tmp_path: Path) -> None:
    evening = Evening(tmp_path, seconds=1.0)
    one = open_terminal()
    one.run("open", evening.session, TERM="dumb")
    assert one.ended() == WRONG_USE
    assert_says_one_sentence(one, "TERM=dumb", "secondpass pass")


def test_without_a_terminal_open_is_told_so(tmp_path: Path) -> None:
    evening = Evening(tmp_path, seconds=1.0)
    done = subprocess.run(
        [COMMAND, "open", evening.session],
        env=environment(tmp_path, dict(os.environ)),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == WRONG_USE
    assert done.stdout == ""
    (line,) = done.stderr.splitlines()
    assert "needs a terminal" in line


# ---------------------------------------------------------------- left to CI


@pytest.mark.slow
def test_a_session_taken_by_another_program_is_one_sentence_and_nothing_happens_to_it(
    open_terminal: Open, tmp_path: Path
) -> None:
    evening = Evening(tmp_path, seconds=1.0)
    one = open_terminal()
    one.run("open", evening.session)
    one.wait_for("riff", "■ set")
    one.add_window("other")
    before = one.manners("other")
    one.run("open", evening.session, window="other")
    assert one.ended("other") == WRONG_USE
    said = one.text("other")
    assert "secondpass open" in said
    assert f"process {one.program()}" in " ".join(said.split())
    assert one.manners("other") == before
    one.wait_for("nothing sounds")
    assert leave(one) == 0


@pytest.mark.slow
def test_a_demo_that_cannot_be_made_gives_the_terminal_back(
    open_terminal: Open, tmp_path: Path
) -> None:
    (tmp_path / "harbour").mkdir()
    (tmp_path / "harbour" / "mine.txt").write_text("mine")
    one = open_terminal()
    before = one.manners()
    one.run("demo", "--out", "harbour")
    assert one.ended() == WRONG_USE
    assert_says_one_sentence(one, "harbour")
    assert_left_as_it_was(one, before)
    assert [path.name for path in (tmp_path / "harbour").iterdir()] == ["mine.txt"]


FAILS = """
import sys, threading
from audio.vocab.errors import SecondpassError
from tui.settings import Settings
from tui.show import show
try:
    show(lambda: None, settings=Settings(), end=threading.Event())  # what is brought is no session at all
except SecondpassError as error:
    print(error)
    sys.exit(error.exit_code)
"""


@pytest.mark.slow
def test_a_screen_that_fails_gives_the_terminal_back_and_never_ends_as_if_all_were_well(
    open_terminal: Open, tmp_path: Path
) -> None:
    (tmp_path / "fails.py").write_text(FAILS)
    one = open_terminal()
    before = one.manners()
    one.run_other(sys.executable, "fails.py")
    assert one.ended() == FAULT
    assert "the screen failed and was closed" in one.text()
    assert_left_as_it_was(one, before)


RGB = re.compile(r"[34]8;2;(\d+);(\d+);(\d+)")
OTHER_COLOUR = re.compile(r"\x1b\[(?:\d+;)*(?:[34][0-7]|9[0-7]|10[0-7]|[34]8;5)[;\d]*m")
"""SGR sequences that set a colour: three values, or any other way (ECMA-48, 8.3.117; ITU-T T.416, 13.1.8;
90 to 107 are common practice)."""


def hues(one: Terminal) -> set[tuple[str, ...]]:
    """Return the colours that stand there and are no greys."""
    shown = one.coloured()
    assert not OTHER_COLOUR.search(shown)
    return {found for found in RGB.findall(shown) if len(set(found)) > 1}


def stream_open(one: Terminal) -> str:
    """Wait until DI and send are set and the chain is not; return what stands there."""
    return one.until(lambda shown: shown.count("■ set") == 2, "the stream did not open")


@pytest.mark.slow
def test_no_color_leaves_greys_and_every_word(open_terminal: Open) -> None:
    one = open_terminal()
    demo_at_the_returns(one, NO_COLOR="1")
    assert_levels_move(one, limit_s=30.0)
    plain = stream_open(one)
    assert not hues(one)
    assert leave(one) == 0
    one.run("open", "harbour")
    one.wait_for("rhythm-left", "■ set")
    one.press(*["Right"] * 4)
    one.wait_for("▸returns")
    coloured = stream_open(one)
    assert hues(one)
    assert plain.splitlines()[:3] == coloured.splitlines()[:3]
    assert leave(one) == 0


@pytest.mark.slow
def test_a_pass_is_walked_by_keys_and_survives_a_terminal_that_shrinks_and_grows(
    open_terminal: Open, tmp_path: Path
) -> None:
    evening = Evening(tmp_path, seconds=4.0)
    one = open_terminal(columns=80, rows=24)
    before = one.manners()
    rolling(one, evening)
    one.resize(50, 12)
    one.wait_for("SENDING", "too small")
    one.resize(160, 50)
    one.wait_for("nothing lost")
    for columns, rows in ((160, 50), (80, 24)):
        one.resize(columns, rows)
        shown = see_verdict(one)
        assert all(len(line) <= columns for line in shown.splitlines())
        assert "no frame lost" in see_evidence(one)
    variant = variant_of(evening, 1)
    assert (variant["state"], variant["chain"]["name"]) == ("kept", "plain")
    assert leave(one) == 0
    assert_left_as_it_was(one, before)


@pytest.mark.slow
def test_a_kill_gives_the_terminal_back_and_the_engine_finishes_the_pass(
    open_terminal: Open, tmp_path: Path
) -> None:
    evening = Evening(tmp_path, seconds=5.0)
    one = open_terminal()
    before = one.manners()
    engine = rolling(one, evening)
    os.kill(one.program(), signal.SIGTERM)
    assert one.ended() == 0
    assert_left_as_it_was(one, before)
    assert_finished_alone(one, evening, engine)


@pytest.mark.slow
def test_a_killed_screen_leaves_a_pass_that_the_next_one_shows_and_judges(
    open_terminal: Open, tmp_path: Path
) -> None:
    evening = Evening(tmp_path, seconds=5.0)
    one = open_terminal()
    engine = rolling(one, evening)
    os.kill(one.program(), signal.SIGKILL)
    # Nobody can give this terminal back; the engineer opens another one.
    one.add_window("next")
    one.run("open", evening.session, window="next")
    one.wait_for("riff", "SENDING", window="next")
    assert_finished_alone(one, evening, engine, window="next")


def assert_finished_alone(
    one: Terminal, evening: Evening, engine: int, *, window: str = "desk"
) -> None:
    """Claim that the engine plays to the end and leaves, and that the next screen judges and shows it."""
    wait_for(lambda: is_gone(engine), "the engine stayed")
    assert (evening.takes / "001" / "roll.json").exists()
    if window == "desk":
        assert not (evening.takes / "001" / "variant.json").exists()
        one.run("open", evening.session)
    variant = variant_of(evening, 1)
    assert variant["state"] == "kept"
    assert all(file["frames"] >= 5 * 48_000 for file in variant["files"])
    one.wait_for("riff", "nothing sounds", window=window)
    one.press(*["Right"] * 6, window=window)
    one.wait_for("▸variants", "001 plain", variant["verdict"].upper(), window=window)
    one.press("q", window=window)
    assert one.ended(window) == 0
