"""The verbs through the installed command: what they print, how they exit, what a script can rely on.

Everything plays real playing through the simulated room.
"""

from __future__ import annotations

import json
import os
import pty
import re
import shlex
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import soundfile
from installed import COMMAND, ROOM, Ran, Running, copy_of, environment, make_bench, run
from needs import needs_samples
from playing import write_phrase

from audio.session.folder import open_session

pytestmark = needs_samples()

VERBS = (
    "demo", "new", "add", "devices", "delay", "pass", "note", "blind", "differ", "handover", "choices",
    "completion",
)  # fmt: skip
PASS = ("pass", "tonight", "--part", "riff", "--chain", "crunch")
NUMBER = (int, float)
POLARITIES = {"normal", "inverted", "unsure"}
PASSES = "tonight/passes/riff"
SOME_BYTES = 4096 + 30_000
"""A header and a fifth of a second."""


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_bench(tmp_path_factory.mktemp("template") / "bench")


@pytest.fixture
def bench(template: Path, tmp_path: Path) -> Path:
    return copy_of(template, tmp_path)


def spoken(ran: Ran) -> dict[str, Any]:
    """Return the one object on standard output; nothing else may be there."""
    value, end = json.JSONDecoder().raw_decode(ran.out)
    assert ran.out[end:] == "\n"
    assert isinstance(value, dict)
    return value


def room(folder: Path, old: str, new: str) -> str:
    """Write another room than the session's; return its name."""
    assert ROOM.count(old) == 1
    (folder / "other.yaml").write_text(ROOM.replace(old, new))
    return "other.yaml"


def faulty(folder: Path, fault: str) -> str:
    return room(folder, "  outputs: 4", f"  outputs: 4\n  faults: [{{{fault}}}]")


def real_time(folder: Path) -> str:
    return room(folder, "pace: free", "pace: clock\n  noise_dbfs: -100")


def captures(folder: Path, number: int) -> list[Path]:
    return list((folder / PASSES / f"{number:03d}").glob("*_close.wav"))


def until(there: Callable[[], bool]) -> None:
    """Wait for what another process does, which tells nobody."""
    end = time.monotonic() + 30
    while not there():
        assert time.monotonic() < end, "it never came"
        time.sleep(0.01)


@pytest.fixture
def start(bench: Path) -> Iterator[Any]:
    started: list[Running] = []

    def one(*arguments: str) -> Running:
        started.append(Running(*arguments, folder=bench))
        return started[-1]

    yield one
    for running in started:
        running.close()


# ---------------------------------------------------------------- one JSON object and nothing else


def test_new_tells_the_session_and_what_each_di_became(bench: Path) -> None:
    made = spoken(run("new", "dawn", "--di", "riff.wav", "--json", folder=bench))
    assert Path(made["session"]) == bench / "dawn"
    (part,) = made["parts"]
    assert (part["part"], part["revision"], part["original"]) == ("riff", 1, None)
    assert part["facts"]["sample_rate"] == 44100
    assert part["facts"]["frames"] == 88200


@pytest.mark.slow
def test_a_corrected_edit_is_the_next_revision_and_an_original_stands_beside_it(
    bench: Path,
) -> None:
    write_phrase(bench / "edit.wav", rate=44100, seconds=1.5, seed=4)
    words = ("--di", "edit.wav", "--part", "riff", "--json")
    added = spoken(run("add", "tonight", *words, folder=bench))
    assert (added["part"], added["revision"], added["original"]) == ("riff", 2, None)
    words = ("--original", "riff.wav", "--part", "riff", "--name", "close", "--json")
    added = spoken(run("add", "tonight", *words, folder=bench))
    assert (added["part"], added["original"]) == ("riff", "close")
    assert (bench / "tonight/di/riff.r2.wav").read_bytes() == (bench / "edit.wav").read_bytes()
    original = bench / "tonight/originals/riff.close.wav"
    assert original.read_bytes() == (bench / "riff.wav").read_bytes()

    ran = run(*PASS, "--json", folder=bench)
    assert "riff 001 through crunch, revision 2" in ran.lines
    variant = spoken(ran)
    assert variant["revision"] == 2
    assert variant["di"]["path"] == "di/riff.r2.wav"
    assert {one["frames"] >= 66150 for one in variant["files"]} == {True}


def test_a_song_comes_with_its_first_di_and_takes_a_backing_track(bench: Path) -> None:
    song = ("--new-song", "low water", "--bpm", "108", "--metre", "6/8")
    words = ("--di", "riff.wav", "--part", "arpeggio", *song, "--json")
    added = spoken(run("add", "tonight", *words, folder=bench))
    assert (added["song"], added["new_song"], added["part"]) == ("low water", True, "arpeggio")
    words = ("--backing", "riff.wav", "--song", "low water")
    added = spoken(run("add", "tonight", *words, "--json", folder=bench))
    assert (added["song"], added["part"], added["revision"]) == ("low water", None, None)
    assert added["backing"] == "backing/low-water.wav"
    copy = bench / "tonight" / added["backing"]
    assert copy.read_bytes() == (bench / "riff.wav").read_bytes()
    noted = open_session(bench / "tonight").song("low water")
    assert (noted.bpm, noted.metre, [part.name for part in noted.parts]) == (
        108,
        "6/8",
        ["arpeggio"],
    )
    again = run("add", "tonight", *words, folder=bench)
    assert again.code == 2
    assert "has a backing track already" in again.err


def test_what_was_added_is_told_in_a_line(bench: Path) -> None:
    told = run("add", "tonight", "--backing", "riff.wav", folder=bench)
    assert told.out == "backing track of tonight: 0:02, 44100 Hz, 24-bit, mono\n"
    words = ("--di", "riff.wav", "--part", "waltz", "--new-song", "slow waltz")
    told = run("add", "tonight", *words, folder=bench)
    assert told.out.startswith(
        "part waltz, first of the new song slow waltz: 0:02, 44100 Hz, 24-bit"
    )


def test_devices_are_an_object_and_a_system_without_one_is_a_fault(bench: Path) -> None:
    ran = run("devices", "--json", folder=bench)
    told = spoken(ran)
    assert isinstance(told["devices"], list)
    assert ran.code == (3 if told["reason"] else 0)
    assert bool(ran.err) == bool(told["reason"])
    for one in told["devices"]:
        assert {"host", "name", "inputs", "outputs"} <= one.keys()


@pytest.mark.slow
def test_the_delay_has_the_fields_scripts_rely_on(bench: Path) -> None:
    ran = run("delay", "--wiring", "room.yaml", "--json", folder=bench)
    assert ran.code == 0
    delay = spoken(ran)
    measured = ("delay_frames", "delay_ms", "plus_minus_frames", "spread_frames", "snr_db")
    assert [one["name"] for one in delay["returns"]] == ["close", "room"]
    assert [one["input"] for one in delay["returns"]] == [2, 3]
    for one in (delay, *delay["returns"]):
        assert all(isinstance(one[key], NUMBER) for key in measured)
        assert one["polarity"] in POLARITIES
        assert one["delay_ms"] == pytest.approx(one["delay_frames"] / 44.1)
    assert delay["reference"] == "close"
    assert {key: delay[key] for key in measured} == {
        key: delay["returns"][0][key] for key in measured
    }
    assert -40 <= delay["click_dbfs"] <= -12


def test_a_pass_prints_its_variant_file_and_loads_no_modules_of_the_working_folder(
    bench: Path,
) -> None:
    for name in ("audio", "numpy", "tui", "yaml"):
        (bench / name).mkdir()
        (bench / name / "__init__.py").write_text("raise RuntimeError('an engineer wrote this')\n")
    ran = run(*PASS, "--json", folder=bench)
    assert ran.code == 0, ran.err
    variant = spoken(ran)
    assert variant == json.loads((bench / PASSES / "001/variant.json").read_text())
    check_variant(variant, bench / "tonight")


def check_variant(variant: dict[str, Any], session: Path) -> None:
    """Every field a script relies on is there, with its type, and the files are what it says."""
    kinds: dict[str, Any] = {
        **dict.fromkeys(("number", "revision", "sample_rate", "time_reference"), int),
        **dict.fromkeys(("part", "song", "state", "verdict", "delay_source"), str),
        **dict.fromkeys(("delay_frames", "plus_minus_frames", "residual_frames"), NUMBER),
        **dict.fromkeys(("findings", "dropouts", "files"), list),
        **dict.fromkeys(("chain", "di", "setup"), dict),
        "shift_frames": int,
        "chain_adds_frames": (*NUMBER, type(None)),
    }
    for key, kind in kinds.items():
        assert isinstance(variant[key], kind), key
    assert variant["verdict"] in {"good", "look", "redo"}
    assert variant["state"] in {"kept", "stopped", "recovered"}
    assert {"name", "content"} <= variant["chain"].keys()
    assert {"path", "file_sha256"} <= variant["di"].keys()
    for finding in variant["findings"]:
        assert {"code", "text", "at_s", "advice"} <= finding.keys()
    for one in variant["files"]:
        assert soundfile.info(session / one["path"]).frames == one["frames"] > 0
        assert len(one["audio_sha256"]) == 64
        assert isinstance(one["return"], str)
        assert isinstance(one["input"], int)
        assert isinstance(one["clipped_runs"], int)
        assert isinstance(one["peak_dbfs"], NUMBER)
        assert isinstance(one["loudness_lufs"], (*NUMBER, type(None)))
        assert one["polarity"] in POLARITIES


@pytest.mark.slow
def test_the_demo_tells_its_session_and_variants_and_one_of_them_is_a_redo(tmp_path: Path) -> None:
    ran = run("demo", "--headless", "--json", "--out", "ferry", folder=tmp_path)
    assert ran.code == 0, ran.err
    made = spoken(ran)
    assert Path(made["session"]) == tmp_path / "ferry"
    for variant in made["variants"]:
        check_variant(variant, tmp_path / "ferry")
    assert [one["verdict"] for one in made["variants"]].count("redo") == 1


# ---------------------------------------------------------------- exit codes


@pytest.mark.slow
def test_a_pass_whose_cable_is_dead_from_the_start_is_a_redo_and_exits_1(bench: Path) -> None:
    other = faulty(bench, "kind: dead cable")
    ran = run(*PASS, "--wiring", other, folder=bench)
    assert ran.code == 1
    assert ran.out.startswith("REDO  riff 001 through crunch")
    assert "speaker cable" in ran.out


@pytest.mark.slow
def test_a_delay_that_hears_nothing_says_why_and_exits_1(bench: Path) -> None:
    ran = run("delay", "--wiring", faulty(bench, "kind: standby"), "--json", folder=bench)
    assert ran.code == 1
    delay = spoken(ran)
    assert delay["delay_frames"] is None
    assert "standby" in delay["findings"][0]["advice"]


@pytest.mark.slow
def test_a_device_that_goes_away_in_mid_pass_exits_3_and_leaves_a_variant(bench: Path) -> None:
    other = faulty(bench, "kind: disappear, after_sound_s: 0.5")
    ran = run(*PASS, "--wiring", other, "--json", folder=bench)
    assert ran.code == 3
    assert spoken(ran)["verdict"] == "redo"
    assert "device" in ran.lines[-1]


@pytest.mark.slow
def test_an_interrupt_leaves_a_used_number_and_in_mid_pass_what_was_recorded(
    bench: Path, start: Any
) -> None:
    clock = ("--wiring", real_time(bench))
    running = start(*PASS, *clock)
    running.wait_for("riff 001 through crunch")
    ran = running.interrupt()
    assert ran.code == 130
    assert ran.out == ""
    assert "Traceback" not in ran.err
    assert ran.lines[-1] == "stopped before the DI rolled; nothing was recorded"
    assert (bench / PASSES / "001").is_dir()

    running = start(*PASS, *clock, "--json")
    running.wait_for("the DI plays")
    until(lambda: any(path.stat().st_size > SOME_BYTES for path in captures(bench, 2)))
    ran = running.interrupt()
    assert ran.code == 130
    assert "Traceback" not in ran.err
    assert "stopping" in ran.err
    assert "001" not in ran.err
    variant = spoken(ran)
    assert (variant["number"], variant["state"]) == (2, "stopped")
    check_variant(variant, bench / "tonight")

    again = run(*PASS, "--json", folder=bench)
    assert spoken(again)["number"] == 3
    assert "001" not in again.err


@pytest.mark.slow
def test_an_interrupt_of_a_delay_or_a_demo_is_no_traceback(bench: Path, start: Any) -> None:
    delay = start("delay", "--wiring", real_time(bench))
    delay.wait_for("test click through bench room")
    one = delay.interrupt()
    demo = start("demo", "--headless", "--out", "ferry")
    demo.wait_for("rhythm-left 001")
    for ran in (one, demo.interrupt()):
        assert ran.code == 130
        assert "Traceback" not in ran.err


# ---------------------------------------------------------------- terminals, pipes, locales


def in_shell(script: str, *, folder: Path) -> subprocess.CompletedProcess[str]:
    path = f"{Path(COMMAND).parent}{os.pathsep}{os.environ['PATH']}"
    return subprocess.run(
        ["bash", "-c", script],
        cwd=folder,
        env=environment(folder, PATH=path),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


@pytest.mark.parametrize("words", ["--help", "pass --help", "completion bash", "--version"])
def test_a_reader_that_left_is_no_error(tmp_path: Path, words: str) -> None:
    ran = in_shell(f"secondpass {words} | true; echo ${{PIPESTATUS[0]}}", folder=tmp_path)
    assert (ran.stdout, ran.stderr) == ("0\n", "")


@pytest.mark.slow
def test_a_pass_goes_on_when_nobody_reads_its_progress_any_more(bench: Path) -> None:
    words = shlex.join(PASS)
    ran = in_shell(f"secondpass {words} 2>&1 | head -1; echo ${{PIPESTATUS[0]}}", folder=bench)
    assert ran.stdout == "riff 001 through crunch\n0\n"
    assert ran.stderr == ""
    assert json.loads((bench / PASSES / "001/variant.json").read_text())["state"] == "kept"


def on_terminal(*arguments: str, folder: Path, columns: int, **more: str) -> Ran:
    """Run the command to its end; everything it writes goes to a terminal of that width."""
    main, other = pty.openpty()
    size = {"COLUMNS": str(columns), "LINES": "24"}
    started = subprocess.Popen(
        [COMMAND, *arguments],
        cwd=folder,
        env=environment(folder, **more) | size,
        stdin=subprocess.DEVNULL,
        stdout=other,
        stderr=other,
    )
    os.close(other)
    seen = b""
    while chunk := _read(main):
        seen += chunk
    os.close(main)
    return Ran(started.wait(), seen.decode(), "")


def _read(fd: int) -> bytes:
    try:
        return os.read(fd, 4096)
    except OSError:  # Linux says so when the other side is closed
        return b""


@pytest.mark.slow
def test_a_terminal_of_80_columns_shows_every_line_whole(bench: Path) -> None:
    other = faulty(bench, "kind: dead cable")
    seen = on_terminal(*PASS, "--wiring", other, folder=bench, columns=80, TERM="xterm").out
    lines = [part.replace("\x1b[K", "") for part in re.split(r"[\r\n]+", seen)]
    assert "qualified" in seen
    assert max(len(line) for line in lines) <= 80
    assert all(re.search(r"\s\S*tech-?$", line) is None for line in lines)


@pytest.mark.slow
@pytest.mark.parametrize(
    "more",
    [{"TERM": "dumb"}, {"TERM": "dumb", "NO_COLOR": "1", "PYTHONIOENCODING": "ascii"}],
    ids=["lines only", "lines only, no colour, no minus sign"],
)
def test_a_terminal_that_can_only_write_lines_gets_only_lines(
    bench: Path, more: dict[str, str]
) -> None:
    ran = on_terminal("delay", "--wiring", "room.yaml", folder=bench, columns=80, **more)
    assert ran.code == 0, ran.out
    assert "\x1b" not in ran.out
    assert all(word in ran.out for word in ("close", "reference"))


@pytest.mark.slow
def test_a_terminal_shows_the_returns_by_name_while_it_rolls(bench: Path) -> None:
    other = real_time(bench)
    words = ("delay", "--wiring", other)
    seen = on_terminal(*words, folder=bench, columns=80, TERM="xterm", NO_COLOR="1").out
    moving = [part for part in seen.split("\r") if "nothing lost" in part]
    assert moving
    assert all(" send " in part and " close " in part and " room " in part for part in moving)


# ---------------------------------------------------------------- help and completion


@pytest.mark.parametrize("verb", VERBS)
def test_help_of_every_verb_shows_an_example_and_fits_80_columns(tmp_path: Path, verb: str) -> None:
    ran = run(verb, "--help", folder=tmp_path)
    assert ran.code == 0
    assert ran.out.startswith(f"usage: secondpass {verb} ")
    example = ran.out.partition("\nexample")[2]
    assert f"secondpass {verb} " in example
    assert max(map(len, ran.out.splitlines())) <= 80


def test_the_first_help_names_every_verb_and_every_exit_code(tmp_path: Path) -> None:
    ran = run("--help", folder=tmp_path)
    for verb in VERBS:
        assert re.search(rf"^  {verb} +\w", ran.out, re.MULTILINE), verb
    codes = ran.out.partition("exit codes")[2]
    assert all(re.search(rf"\b{code} [a-z]", codes) for code in (0, 1, 2, 3, 130))
    assert max(map(len, ran.out.splitlines())) <= 80


def test_bash_takes_the_completion_and_completes_verbs_and_options(tmp_path: Path) -> None:
    script = tmp_path / "completion.bash"
    script.write_text(run("completion", "bash", folder=tmp_path).out)
    assert in_shell(f"bash -n {script}", folder=tmp_path).stderr == ""
    function = re.findall(r"complete .*-F (\w+) secondpass", script.read_text())[0]
    reply = f"{function}; printf '%s\\n' \"${{COMPREPLY[@]}}\""
    for last, words, wanted in (
        (1, "secondpass ''", set(VERBS)),
        (2, "secondpass pass --", {"--part", "--chain", "--wiring"}),
    ):
        asked = f". {script}; COMP_WORDS=({words}); COMP_CWORD={last}; {reply}"
        ran = in_shell(asked, folder=tmp_path)
        assert wanted <= set(ran.stdout.split()), ran


def test_zsh_completion_names_every_verb(tmp_path: Path) -> None:
    script = run("completion", "zsh", folder=tmp_path).out
    assert script.startswith("#compdef secondpass")
    assert all(f'"{verb}:' in script or f"{verb})" in script for verb in VERBS)
