"""``secondpass handover``: what it leaves, what it prints, and that a kill is gone on with."""

from __future__ import annotations

import json
import signal
import subprocess
from pathlib import Path

import pytest
from accidents import wait_for
from handed import evening, keep, left
from installed import COMMAND, environment, run

from audio.handover.places import UNFINISHED
from audio.session.opened import Session

FILES_ALONE = ("--no-sheet", "--no-page")


@pytest.fixture
def session(tmp_path: Path) -> Session:
    made = evening(tmp_path)
    keep(made, left(made))
    return made


def test_it_tells_where_everything_lies(session: Session, tmp_path: Path) -> None:
    ran = run("handover", "evening", *FILES_ALONE, folder=tmp_path)
    assert (ran.code, ran.err) == (0, "")
    told, where = ran.out.splitlines()
    assert told == "handed over: 1 sound in 2 files, 0.1 MB in all"
    assert where == str(session.folder / "handover" / "harbour-lights-001")
    assert Path(where, "SHA256SUMS").exists()


def test_json_is_one_object(session: Session, tmp_path: Path) -> None:
    ran = run("handover", "evening", *FILES_ALONE, "--out", "stick", "--json", folder=tmp_path)
    told = json.loads(ran.out)
    assert (ran.code, told["sounds"], told["files"], told["left_out"]) == (0, 1, 2, [])
    assert told["folder"] == str(tmp_path / "stick")
    assert session.folder.is_dir()


def test_what_cannot_go_is_told_and_leaves_1(session: Session, tmp_path: Path) -> None:
    next(session.folder.glob("passes/*/001/*_room.wav")).unlink()
    ran = run("handover", "evening", *FILES_ALONE, folder=tmp_path)
    assert ran.code == 1
    assert "left out:" in ran.out
    assert "put it back" in " ".join(ran.out.split())


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--names", "{take}"), "names {take}, which is nothing"),
        (("--names", "{part}"), "put {number} and {microphone} into it"),
        (("--part", "lead"), "there is no part 'lead'"),
        (("--out", "evening"), "the folder is not empty; name a new or an empty one"),
    ],
)
def test_wrong_use_is_one_sentence_and_changes_nothing(
    session: Session, tmp_path: Path, words: tuple[str, ...], says: str
) -> None:
    ran = run("handover", "evening", *FILES_ALONE, *words, folder=tmp_path)
    assert (ran.code, ran.out, len(ran.lines)) == (2, "", 1)
    assert says in ran.err
    assert not (session.folder / "handover").exists()


@pytest.mark.slow
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT])
def test_broken_off_in_the_middle_the_same_command_goes_on(
    tmp_path: Path, how: signal.Signals
) -> None:
    made = evening(tmp_path)
    for seed in range(15):
        keep(made, left(made, seed=seed))
    words = [COMMAND, "handover", "evening", *FILES_ALONE, "--flac"]
    begun = subprocess.Popen(words, cwd=tmp_path, env=environment(tmp_path), stderr=subprocess.PIPE)
    folder = made.folder / "handover" / "harbour-lights-001"
    wait_for(lambda: len(list(folder.glob("files/*/*.flac"))) > 5, "nothing was handed over")
    begun.send_signal(how)
    said = begun.communicate(timeout=30)[1]
    there = {
        one: one.stat().st_ino for one in folder.glob("files/*/*.*a*") if one.suffix != ".part"
    }
    assert (folder / UNFINISHED).is_dir()
    assert len(there) < 60
    if how == signal.SIGINT:
        assert begun.returncode == 130
        assert b"stopped; what is whole stays, and the same command goes on" in said
    ran = run("handover", "evening", *FILES_ALONE, "--flac", folder=tmp_path)
    assert (ran.code, ran.out.splitlines()[0][:25]) == (0, "handed over, gone on with")
    again = {one: one.stat().st_ino for one in folder.glob("files/*/*")}
    assert len(again) == 60
    assert (
        sum(again[one] != node for one, node in there.items()) <= 1
    )  # the one that was being written
    subprocess.run(["sha256sum", "--check", "--quiet", "SHA256SUMS"], cwd=folder, check=True)
