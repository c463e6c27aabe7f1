"""The plan and the chains on the command line: listed, added to, shown; mistakes in one sentence."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from audio.vocab.plan import PlanLine, PlanNow, Wanted
from audio.vocab.section import Section
from tui.cli import main
from tui.present.plan_results import plan_text

FUZZ = "pedals: [{pedal: fuzz, knobs: {volume: 2:30}}]\namp: {input: bright, loop: [delay]}\n"


SESSION = """\
format: 1
name: harbour lights
songs:
  - name: last ferry
    bpm: 96
    metre: 4/4
    parts:
      - name: rhythm-left
        revisions: [{file: di/rhythm-left.r1.wav, file_sha256: %s}]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a session with one part, whose DI nobody reads here, and one chain."""
    (tmp_path / "chains").mkdir()
    (tmp_path / "chains" / "fuzz.yaml").write_text(FUZZ, encoding="utf-8")
    (tmp_path / "session.yaml").write_text(SESSION % ("ab" * 32), encoding="utf-8")
    return tmp_path


def test_passes_are_added_and_listed_with_what_to_touch(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    chains = ["--chain", "fuzz", "bare path"]
    assert main(["plan", str(folder), "--part", "rhythm-left", *chains, "--bars", "2-3"]) == 0
    told = capsys.readouterr().out
    lines = [line.strip() for line in told.splitlines()]
    assert lines[0] == "1  to do    rhythm-left through bare path, bars 2-3"
    assert lines[1] == "2  to do    rhythm-left through fuzz, bars 2-3"
    assert "new fuzz first" in lines[2]
    assert "2 passes left" in told
    assert "1 to do" in told
    assert all(len(line) <= 100 for line in told.splitlines())


def test_parts_and_chains_may_be_named_one_by_one(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    chains = ["--chain", "fuzz", "--chain", "bare path"]
    assert main(["plan", str(folder), "--part", "rhythm-left", *chains]) == 0
    assert "2 passes left" in capsys.readouterr().out


def test_an_option_that_can_count_once_is_not_lost_when_it_is_given_twice(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["pass", str(folder), "--part", "hook", "--part", "riff", "--chain", "fuzz"])
    assert "--part stands there twice; give it once" in capsys.readouterr().err


def test_no_verdict_is_cut_off_where_a_terminal_is_narrow() -> None:
    section = Section(from_bar=5, to_bar=8)
    long = Wanted(key="k", part="rhythm-left", chain="fuzz into delay", section=section, time=2)
    line = PlanLine(wanted=long, state="done", number=12, verdict="look", took_s=72.0)
    other = PlanLine(wanted=Wanted(key="o", part="hook", chain="wah"), known=False)
    shown = plan_text(PlanNow(lines=(line, other)), 42)
    assert all(len(row) <= 42 for row in shown)
    told = " ".join(" ".join(shown).split())
    assert "fuzz into delay, bars 5-8 (2) 012 look took 1:12" in told
    assert "no file tells how this chain is set" in told


def test_the_plan_is_one_json_object(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", str(folder), "--json", "--part", "rhythm-left", "--chain", "fuzz"]) == 0
    seen = json.loads(capsys.readouterr().out)
    assert [one["wanted"]["key"] for one in seen["plan"]["lines"]] == ["rhythm-left through fuzz"]


def test_an_empty_plan_says_how_to_begin(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", str(folder)]) == 0
    assert "There is no plan yet" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--part", "rhythm-left"], "give --part and --chain"),
        (["--bars", "2"], "give --part and --chain"),
        (["--part", "rhythm-left", "--chain", "fuzz", "--bars", "3-2"], "end before they begin"),
        (["--part", "nobody", "--chain", "fuzz"], "there is no part 'nobody'"),
    ],
)
def test_what_cannot_be_added_is_one_sentence_and_changes_nothing(
    folder: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], says: str
) -> None:
    assert main(["plan", str(folder), *arguments]) == 2
    assert says in capsys.readouterr().err
    assert not (folder / "plan.yaml").exists()


def test_chains_are_listed_and_one_is_shown_whole(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["chains", str(folder)]) == 0
    assert "fuzz; in the loop: delay" in capsys.readouterr().out
    assert main(["chains", str(folder), "--show", "FUZZ"]) == 0
    assert "fuzz: volume 2:30" in capsys.readouterr().out
    assert main(["chains", str(folder), "--show", "wah"]) == 2
    assert "chains with a file: fuzz" in capsys.readouterr().err


def test_a_wrong_file_is_told_with_its_line_and_the_check_fails(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "chains" / "bad.yaml").write_text("pedals:\n  - {pedal: 7}\n", encoding="utf-8")
    assert main(["chains", str(folder)]) == 1
    assert "bad.yaml, line 2" in capsys.readouterr().err


def test_note_values_are_told_at_a_tempo(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["times", "--bpm", "108", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    by_name = {one["name"]: one["ms"] for one in told["notes"]}
    assert round(by_name["dotted eighth"], 1) == 416.7
    assert main(["times", "--bpm", "108"]) == 0
    assert "416.7" in capsys.readouterr().out
    assert main(["times", "--bpm", "7"]) == 2
    assert "20 to 400" in capsys.readouterr().err
