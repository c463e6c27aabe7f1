"""``secondpass set``: what it prints, how it exits, what it asks."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from installed import ROOM, run
from needs import needs_samples
from playing import write_phrase

from audio.vocab.step_names import STEPS

pytestmark = needs_samples()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("set")
    (folder / "room.yaml").write_text(ROOM)
    write_phrase(folder / "riff.wav", rate=44_100, seconds=3.0, seed=4)
    made = run("new", "evening", "--di", "riff.wav", "--wiring", "room.yaml", folder=folder)
    assert made.code == 0, made.err
    return folder


def test_a_session_that_was_never_set_up_lists_every_step_as_not_set(folder: Path) -> None:
    ran = run("set", "evening", "--list", folder=folder)
    lines = ran.out.splitlines()
    assert ran.code == 0
    assert [line[:7] for line in lines] == ["not set"] * len(STEPS)
    assert "send level of riff" in ran.out


@pytest.mark.slow
def test_the_steps_that_are_named_are_measured_and_told(folder: Path) -> None:
    ran = run(
        "set", "evening", "--step", "polarity", "--step", "delay", "--chain", "bare path",
        folder=folder,
    )  # fmt: skip
    assert ran.code == 0, ran.err
    first, *_ = ran.out.splitlines()
    assert first.startswith("SET   polarity: room 14")
    assert "SET   delay: round trip" in ran.out
    listed = run("set", "evening", "--list", "--json", folder=folder)
    states = {one["step"]: one["state"] for one in json.loads(listed.out)["steps"]}
    assert (states["polarity"], states["delay"], states["wire"]) == ("set", "set", "not set")


@pytest.mark.slow
def test_wire_and_silence_are_measured_without_a_question(folder: Path) -> None:
    ran = run(
        "set", "evening", "--step", "wire", "--step", "silence", "--patch", "unplugged",
        folder=folder,
    )  # fmt: skip
    assert ran.code == 0, ran.err
    assert "SET   wire: The send is heard on " in ran.out
    assert "SET   silence: Quiet: " in ran.out
    refused = run("set", "evening", "--step", "silence", "--patch", "out", folder=folder)
    assert refused.code == 2
    assert "patch: 'out' is none; write one of: as it is, unplugged" in refused.err


@pytest.mark.slow
def test_the_json_is_the_record_that_was_kept(folder: Path) -> None:
    ran = run("set", "evening", "--step", "delay", "--json", folder=folder)
    (said,) = json.loads(ran.out)["steps"]
    kept = max((folder / "evening" / "setup").iterdir())
    assert json.loads(kept.read_text()) == said


def test_without_a_terminal_the_steps_must_be_named(folder: Path) -> None:
    ran = run("set", "evening", folder=folder)
    assert ran.code == 2
    assert "--step wire, silence" in ran.err
    assert ran.err.count("\n") == 1


def test_a_part_that_is_not_there_is_refused_with_those_that_are(folder: Path) -> None:
    ran = run("set", "evening", "--step", "delay", "--part", "hook", folder=folder)
    assert ran.code == 2
    assert "its parts are: riff" in ran.err
