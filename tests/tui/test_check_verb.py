"""``secondpass check``: a file, a session, what scripts get, a corrected edit, a DI that is not ready."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest
import soundfile

import demo
from tui.cli import main

RATE = 48_000
BPM = 96.0
JOINT_FRAME = 210_000
"""In a note of the hook that rings."""
LEFT_OUT = 300
"""Frames that the bad edit leaves out there."""


@pytest.fixture(scope="module")
def hook() -> np.ndarray:
    """Return the demo's hook, whose notes lie on the grid by its score: 96 bpm, bar 1 at 0.25 s."""
    samples, rate = soundfile.read(str(demo.content() / "hook.flac"))
    assert rate == RATE
    return np.asarray(samples)


def written(path: Path, samples: np.ndarray) -> Path:
    soundfile.write(path, samples, RATE, subtype="PCM_24")
    return path


def cut(samples: np.ndarray) -> np.ndarray:
    """Return a DI with a hard joint: a stretch is left out in the middle of a note, nothing is faded."""
    rest = samples[JOINT_FRAME + LEFT_OUT :]
    return np.concatenate([samples[:JOINT_FRAME], rest, np.zeros(LEFT_OUT)])


def told(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> Any:
    """Run it with ``--json``; return the one object it prints."""
    assert main(["check", *words, "--json"]) == code
    out = capsys.readouterr()
    assert out.err == ""
    return json.loads(out.out)


def test_hits_lie_where_the_score_has_them(
    tmp_path: Path, hook: np.ndarray, capsys: pytest.CaptureFixture[str]
) -> None:
    di = written(tmp_path / "hook.wav", hook)
    report = told(capsys, str(di), "--bpm", f"{BPM:g}", "--first-beat", "0.25")
    summary = report["summary"]
    assert summary["counted"] >= 15
    assert abs(summary["mean_ms"]) < 1.0
    assert summary["spread_ms"] < 1.0
    for hit in report["hits"]:
        assert hit["deviation_ms"] == pytest.approx(1000 * (hit["at_s"] - hit["grid_s"]), abs=0.1)
        beats = (hit["grid_s"] - 0.25) * BPM / 60
        assert (hit["bar"] - 1) * 4 + hit["beat"] - 1 == pytest.approx(beats, abs=1e-6)
    level = report["level"]
    assert {"peak_dbfs", "true_peak_dbtp", "dc", "clipped_runs"} <= set(level)
    assert level["peak_dbfs"] == pytest.approx(20 * np.log10(np.abs(hook).max()), abs=0.01)


def test_a_midi_file_and_labels_give_the_same_grid_as_the_tempo(
    tmp_path: Path, hook: np.ndarray, capsys: pytest.CaptureFixture[str]
) -> None:
    di = written(tmp_path / "hook.wav", hook)
    song = mido.MidiFile()
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(BPM)))
    song.tracks.append(track)
    song.save(tmp_path / "song.mid")
    bars = "".join(f"{0.25 + bar * 2.5}\t{0.25 + bar * 2.5}\t{bar + 1}\n" for bar in range(4))
    (tmp_path / "bars.txt").write_text(bars)
    plain = told(capsys, str(di), "--bpm", f"{BPM:g}", "--first-beat", "0.25")["hits"]
    midi = told(capsys, str(di), "--tempo", str(tmp_path / "song.mid"), "--first-beat", "0.25")
    labels = told(capsys, str(di), "--tempo", str(tmp_path / "bars.txt"))
    for other in (midi["hits"], labels["hits"]):
        assert [hit["grid_s"] for hit in other] == pytest.approx([hit["grid_s"] for hit in plain])


def test_a_planted_joint_is_named_with_its_place_and_fails_the_check(
    tmp_path: Path, hook: np.ndarray, capsys: pytest.CaptureFixture[str]
) -> None:
    di = written(tmp_path / "hook.wav", cut(hook))
    report = told(capsys, str(di), "--bpm", f"{BPM:g}", "--first-beat", "0.25", code=1)
    joint = next(one for one in report["findings"] if one["code"] == "joint")
    assert joint["frame"] == pytest.approx(JOINT_FRAME, abs=1)
    assert joint["at_s"] == pytest.approx(JOINT_FRAME / RATE, abs=1e-4)
    assert joint["place"].startswith("bar ")
    assert 0.0 < joint["confidence"] <= 1.0
    assert any(abs(one["at_s"] - JOINT_FRAME / RATE) < 1e-4 for one in report["joints"])
    assert main(["check", str(di)]) == 1
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("MEND  hook.wav: 0:11, 48000 Hz, 24-bit")
    assert all(len(line) <= 100 for line in lines)


def test_a_double_is_compared_hit_by_hit_and_a_raw_di_by_its_level(
    tmp_path: Path, hook: np.ndarray, capsys: pytest.CaptureFixture[str]
) -> None:
    di = written(tmp_path / "hook.wav", hook)
    late = round(0.007 * RATE)
    first = written(tmp_path / "first.wav", np.concatenate([hook[late:], np.zeros(late)]))
    loud = written(tmp_path / "loud.wav", hook * 2.0)
    report = told(capsys, str(di), "--double", str(first), "--raw", str(loud))
    assert report["double"]["mean_ms"] == pytest.approx(7.0, abs=0.2)
    assert report["double"]["missing"] == report["double"]["extra"] == []
    codes = [one["code"] for one in report["findings"]]
    assert "edit-pan-law" in codes  # −6.02 dB: halved


@pytest.mark.slow
def test_a_part_that_is_not_ready_is_refused_once_and_its_mended_edit_is_told_apart(
    tmp_path: Path, hook: np.ndarray, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = str(tmp_path / "tonight")
    bad = written(tmp_path / "hook.wav", cut(hook))
    wiring = tmp_path / "room.yaml"
    text = (demo.content() / "wiring.yaml").read_text(encoding="utf-8")
    assert "pace: clock" in text
    wiring.write_text(text.replace("pace: clock", "pace: free"), encoding="utf-8")
    assert main(["new", folder, "--di", str(bad), "--wiring", str(wiring), "--bpm", "96"]) == 0
    assert main(["check", folder]) == 1
    capsys.readouterr()
    play = ["pass", folder, "--part", "hook", "--chain", "bare path", "--seconds", "0-1"]
    assert main(play) == 2
    assert "the DI of hook is not ready: joint at 4.375 s" in capsys.readouterr().err
    assert main(["plan", folder, "--part", "hook", "--chain", "bare path"]) == 0
    assert "the DI of hook is not ready: 1 finding" in capsys.readouterr().out
    assert main([*play, "--as-it-is"]) == 0
    assert main(play) == 0  # said once
    capsys.readouterr()
    mended = written(tmp_path / "hook.wav", hook)
    assert main(["add", folder, "--di", str(mended)]) == 0
    out = capsys.readouterr().out
    assert "part hook, revision 2" in out
    assert "gone: joint at 0:04.375" in out
    report = told(capsys, folder, "--part", "hook")
    gone = [one["at_s"] for one in report["change"]["gone"] if one["code"] == "joint"]
    assert any(at_s == pytest.approx(JOINT_FRAME / RATE, abs=1e-3) for at_s in gone)
    assert report["verdict"] != "redo"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["nowhere.wav"], "nowhere.wav"),
        (["hook.wav", "--part", "hook"], "--part belongs to a session"),
        (["hook.wav", "--first-beat", "1"], "needs a tempo"),
        (["hook.wav", "--bpm", "96", "--first-beat", "nan"], "beyond any DI"),
        (["hook.wav", "--bpm", "9"], "out of range"),
        (["hook.wav", "--bpm", "96", "--parts", "3", "--swing", "60"], "pairs"),
        (["hook.wav", "--bpm", "96", "--swing", "90"], "75 %"),
        (["hook.wav", "--channel", "2"], "channel 2"),
        (["hook.wav", "--tempo", "nowhere.mid"], "nowhere.mid"),
    ],
)
def test_what_cannot_be_is_one_sentence_with_its_way_out(
    tmp_path: Path, words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    written(tmp_path / "hook.wav", np.zeros(RATE))
    files = [f"{tmp_path / word}" if "." in word else word for word in words]
    assert main(["check", *files]) == 2
    out = capsys.readouterr()
    assert out.out == ""
    assert says in out.err
    assert len(out.err.splitlines()) <= 3
