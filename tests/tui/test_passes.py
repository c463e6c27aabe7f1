"""Passes through the simulated room by the installed command: what lands on disk, and where."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from installed import run
from needs import needs_samples
from playing import phrase

pytestmark = needs_samples()

PLAIN = """
name: plain
device:
  kind: simulated
  pace: free
  inputs: 6
  outputs: 4
  converter_frames: {converter}
  noise_dbfs: {noise}
  amp: {{clean: true}}
  microphones:
    - {{input: 2, cabinet: none, distance_cm: {near}, gain_db: 0}}
    - {{input: 4, cabinet: none, distance_cm: {far}, gain_db: -6}}
  chains:
    echoes: [{{kind: echo, ms: 200, feedback: 0.5, mix: 0.5}}]
sample_rate: {rate}
send: {{output: 3}}
returns: [{{name: close, input: 2}}, {{name: room, input: 4}}]
reference: close
tail_s: {tail}
"""
SPEED_OF_SOUND = 343.2
"""Metres a second in dry air at 20 °C: ISO 9613-1."""


def wiring(**changes: object) -> str:
    plain: dict[str, object] = {
        "converter": 131.37, "noise": -90, "near": 5, "far": 150, "rate": 48_000, "tail": 6,
    }  # fmt: skip
    return PLAIN.format(**(plain | changes))


def session(
    folder: Path, *, seconds: float = 2.0, peak_dbfs: float = -12.0, **room: Any
) -> np.ndarray:
    rate = room.get("rate", 48_000)
    (folder / "room.yaml").write_text(wiring(**room))
    played = phrase(rate=rate, seconds=seconds, seed=9, peak_dbfs=peak_dbfs)
    soundfile.write(folder / "riff.wav", played, rate, subtype="PCM_24")
    made = run("new", "night", "--di", "riff.wav", "--wiring", "room.yaml", folder=folder)
    assert made.code == 0, made.err
    return soundfile.read(folder / "riff.wav", dtype="int32")[0] >> 8


def passed(folder: Path, chain: str = "plain") -> dict[str, Any]:
    ran = run("pass", "night", "--part", "riff", "--chain", chain, "--json", folder=folder)
    assert ran.code == 0, ran.err
    value: dict[str, Any] = json.loads(ran.out)
    return value


def codes(folder: Path, file: dict[str, Any]) -> np.ndarray:
    return soundfile.read(folder / "night" / file["path"], dtype="int32")[0] >> 8


@pytest.mark.slow
@pytest.mark.parametrize(
    "rate",
    [
        44_100,
        *(
            pytest.param(r, marks=pytest.mark.slow)
            for r in (48_000, 88_200, 96_000, 176_400, 192_000)
        ),
    ],
)
def test_both_microphones_are_placed_at_every_rate(tmp_path: Path, rate: int) -> None:
    session(tmp_path, seconds=1.0, rate=rate)
    variant = passed(tmp_path)
    near = 512 + 131.37 + 0.05 / SPEED_OF_SOUND * rate
    assert variant["delay_frames"] == pytest.approx(near, abs=0.6)
    assert variant["shift_frames"] == round(variant["delay_frames"])
    apart = 1.45 / SPEED_OF_SOUND * rate
    assert variant["files"][1]["extra_delay_frames"] == pytest.approx(apart, abs=0.6)
    assert variant["sample_rate"] == rate
    assert variant["verdict"] == "good"


def test_a_plain_wire_comes_back_bit_for_bit(tmp_path: Path) -> None:
    sent = session(tmp_path, converter=100, near=0, noise=-200)
    variant = passed(tmp_path)
    assert variant["shift_frames"] == 612
    np.testing.assert_array_equal(codes(tmp_path, variant["files"][0])[: len(sent)], sent)


@pytest.mark.slow
def test_a_part_is_sent_with_its_trim_and_the_click_stays_under_its_peak(tmp_path: Path) -> None:
    sent = session(tmp_path, converter=100, near=0, noise=-200, peak_dbfs=-34.0)
    described = tmp_path / "night" / "session.yaml"
    text = described.read_text()
    assert "trim_db: 0.0" in text
    described.write_text(text.replace("trim_db: 0.0", "trim_db: -6.0"))
    variant = passed(tmp_path)
    assert variant["trim_db"] == -6.0
    back = codes(tmp_path, variant["files"][0])[: len(sent)]
    assert np.abs(back - sent * 10 ** (-6 / 20)).max() <= 1.0
    # Peak −34, trim −6, 6 dB under that.
    assert variant["setup"]["click_dbfs"] <= -46.0


@pytest.mark.slow
def test_the_tail_of_an_echo_is_kept_until_it_is_gone_and_no_longer_than_its_limit(
    tmp_path: Path,
) -> None:
    sent = session(tmp_path, noise=-80)
    dry, wet = passed(tmp_path), passed(tmp_path, "echoes")
    tails = [(v["files"][0]["frames"] - len(sent)) / 48_000 for v in (dry, wet)]
    assert dry["echo"] is None
    assert wet["echo"]["repeat_ms"] == pytest.approx(200.0, abs=1.0)
    assert [(f["code"], f["weight"]) for f in wet["findings"]] == [("echo", "good")]
    assert wet["verdict"] == dry["verdict"] == "good"
    # Silence for a second ends a pass; the echo needs some 50 dB at 6 dB for each 0.2 s more.
    assert 1.0 <= tails[0] <= 1.3
    assert 1.0 + 1.0 <= tails[1] <= 1.0 + 2.5
    last = np.abs(codes(tmp_path, wet["files"][0])[-48_000:]).max()
    assert last < 0.01 * np.abs(sent).max()


@pytest.mark.slow
def test_an_echo_longer_than_the_limit_is_cut_there_and_told(tmp_path: Path) -> None:
    sent = session(tmp_path, tail=1, noise=-90)
    variant = passed(tmp_path, "echoes")
    assert variant["files"][0]["frames"] - len(sent) == 48_000
    assert [f["code"] for f in variant["findings"]] == ["tail-cut", "echo"]
    assert variant["verdict"] == "look"


@pytest.mark.slow
def test_a_variant_has_its_dis_time_stamp_and_is_of_thirty_two_bit_float_on_request(
    tmp_path: Path,
) -> None:
    """EBU Tech 3285: TimeReference counts samples since midnight; an hour at 48 kHz is 172 800 000."""
    stamped = tmp_path / "riff.wav"
    played = phrase(rate=48_000, seconds=1.0, seed=2)
    soundfile.write(stamped, played, 48_000, subtype="PCM_24")
    body = bytearray(stamped.read_bytes())
    bext = bytearray(602)
    bext[338:346] = (172_800_000).to_bytes(8, "little")
    body += b"bext" + (602).to_bytes(4, "little") + bext
    body[4:8] = (len(body) - 8).to_bytes(4, "little")
    stamped.write_bytes(body)
    (tmp_path / "room.yaml").write_text(wiring() + "depth: 32\n")
    run("new", "night", "--di", "riff.wav", "--wiring", "room.yaml", folder=tmp_path)
    variant = passed(tmp_path)
    assert variant["time_reference"] == 172_800_000
    recorded = tmp_path / "night" / variant["files"][0]["path"]
    assert soundfile.info(recorded).subtype == "FLOAT"
    head = recorded.read_bytes()[:4096]
    at = head.index(b"bext") + 8
    assert int.from_bytes(head[at + 338 : at + 346], "little") == 172_800_000
