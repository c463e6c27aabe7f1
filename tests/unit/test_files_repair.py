"""Repair: a capture cut off anywhere becomes the file its writer would have closed."""

from __future__ import annotations

import hashlib
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from captures import ramp, start
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audio.files.repair import repair
from audio.files.wave import DATA_AT, parse_header, sized
from audio.vocab.errors import UseError

SHAPES = [(1, 24), (2, 24), (3, 24), (1, 32), (2, 32)]


def closed(path: Path, frames: int, *, channels: int, depth: int):
    capture = start(path, channels=channels, depth=depth)
    capture.write(ramp(0, frames, channels))
    return capture.close()


RECORD_FOR_EVER = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from captures import ramp, start
channels, depth = int(sys.argv[3]), int(sys.argv[4])
capture = start(Path(sys.argv[1]), channels=channels, depth=depth)
first = 0
while True:
    for _ in range(9):
        capture.write(ramp(first, 131, channels))
        first += 131
    capture.sync()
    print(first, flush=True)
"""


@pytest.mark.parametrize(("channels", "depth"), SHAPES)
def test_a_writer_killed_in_mid_write_loses_nothing_it_handed_over(
    tmp_path, channels: int, depth: int
) -> None:
    path = tmp_path / "a.wav"
    tests = str(Path(__file__).parent.parent)
    command = [sys.executable, "-c", RECORD_FOR_EVER, str(path), tests, str(channels), str(depth)]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        synced = [int(child.stdout.readline()) for _ in range(5)][-1]
        child.send_signal(signal.SIGKILL)
    repaired = repair(path)
    assert repaired.frames >= synced
    recorded = closed(tmp_path / "b.wav", repaired.frames, channels=channels, depth=depth)
    assert path.read_bytes() == (tmp_path / "b.wav").read_bytes()
    assert repaired.audio_sha256 == recorded.audio_sha256
    assert repaired.peak == max(recorded.peak)
    assert repaired.clipped_samples == sum(recorded.clipped_samples)


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None
)
@given(shape=st.sampled_from(SHAPES), synced=st.integers(0, 40), cut=st.integers(0, 500))
def test_a_file_cut_at_any_byte_is_repaired_to_its_whole_frames(
    tmp_path, shape, synced: int, cut: int
) -> None:
    channels, depth = shape
    for leftover in tmp_path.iterdir():
        leftover.unlink()
    capture = start(tmp_path / "a.wav", channels=channels, depth=depth)
    capture.write(ramp(0, synced, channels))
    capture.sync()
    capture.write(ramp(synced, 200, channels))
    unclosed = (tmp_path / "a.wav").read_bytes()
    capture.close()
    path = tmp_path / "cut.wav"
    path.write_bytes(unclosed[: DATA_AT + cut])
    frames = (len(unclosed[: DATA_AT + cut]) - DATA_AT) // capture.format.frame_bytes
    assert repair(path).frames == frames
    closed(tmp_path / "b.wav", frames, channels=channels, depth=depth)
    assert path.read_bytes() == (tmp_path / "b.wav").read_bytes()


@pytest.mark.parametrize(("channels", "depth"), SHAPES)
def test_a_closed_file_stays_as_it_is(tmp_path, channels: int, depth: int) -> None:
    recorded = closed(tmp_path / "a.wav", 333, channels=channels, depth=depth)
    before = (tmp_path / "a.wav").read_bytes()
    repaired = repair(tmp_path / "a.wav")
    assert (tmp_path / "a.wav").read_bytes() == before
    assert (repaired.frames, repaired.audio_sha256) == (333, recorded.audio_sha256)


def test_a_longer_file_than_one_reading_is_measured_whole(tmp_path) -> None:
    block = np.zeros((700_001, 1), dtype=np.int32)
    block[[5, 300_000, 700_000], 0] = -(2**31), 2**31 - 256, 2**30
    capture = start(tmp_path / "a.wav")
    capture.write(block)
    shutil.copy(tmp_path / "a.wav", tmp_path / "unclosed.wav")
    recorded = capture.close()
    repaired = repair(tmp_path / "unclosed.wav")
    assert (repaired.frames, repaired.peak, repaired.clipped_samples) == (700_001, 1.0, 2)
    assert repaired.audio_sha256 == recorded.audio_sha256


def someone_elses_wav(path: Path) -> None:
    import soundfile  # noqa: PLC0415  only this case needs it

    soundfile.write(path, np.zeros(5000), 48_000, subtype="PCM_24")


def longer_by_a_chunk(path: Path) -> None:
    """Closed by us, opened by an editor that added a chunk at the end and counted it."""
    capture = start(path)
    capture.write(ramp(0, 100))
    capture.close()
    data = bytearray(path.read_bytes() + b"iXML\4\0\0\0<x/>")
    data[4:8] = (len(data) - 8).to_bytes(4, "little")
    path.write_bytes(data)


REFUSED = {
    "empty": lambda path: path.write_bytes(b""),
    "shorter than a header": lambda path: path.write_bytes(b"RIFF" + bytes(4091)),
    "text": lambda path: path.write_text("x" * 9000),
    "zeros": lambda path: path.write_bytes(bytes(9000)),
    "a WAV of another program": someone_elses_wav,
    "a capture with chunks of another program": longer_by_a_chunk,
}


@pytest.mark.parametrize("what", REFUSED)
def test_what_is_no_capture_of_ours_is_refused_and_unchanged(tmp_path, what: str) -> None:
    path = tmp_path / "a.wav"
    REFUSED[what](path)
    before = hashlib.sha256(path.read_bytes()).digest()
    with pytest.raises(UseError, match=r"cannot repair .*a\.wav: .*secondpass"):
        repair(path)
    assert hashlib.sha256(path.read_bytes()).digest() == before


@pytest.mark.parametrize("torn_at", [6, 30, 512, 4094])
def test_a_header_torn_by_a_power_failure_is_set_right(tmp_path, torn_at: int) -> None:
    capture = start(tmp_path / "a.wav")
    capture.write(ramp(0, 1000))
    capture.sync()
    older = (tmp_path / "a.wav").read_bytes()[:DATA_AT]
    capture.write(ramp(1000, 700))
    recorded = capture.close()
    whole = (tmp_path / "a.wav").read_bytes()
    (tmp_path / "a.wav").write_bytes(whole[:torn_at] + older[torn_at:] + whole[DATA_AT:])
    assert repair(tmp_path / "a.wav").audio_sha256 == recorded.audio_sha256
    assert (tmp_path / "a.wav").read_bytes() == whole


@pytest.mark.parametrize("make", [lambda _: None, Path.mkdir], ids=["missing", "a folder"])
def test_what_cannot_be_opened_is_one_sentence(tmp_path, make) -> None:
    make(tmp_path / "a.wav")
    with pytest.raises(UseError, match=r"cannot repair .*a\.wav: (No such|Is a dir)"):
        repair(tmp_path / "a.wav")


@pytest.mark.slow
def test_a_capture_cut_off_beyond_4_gib_becomes_rf64(tmp_path) -> None:
    capture = start(tmp_path / "a.wav", channels=16, rate=192_000, depth=32)
    capture.close()
    path = tmp_path / "a.wav"
    frames = 2**32 // 64 + 5
    with path.open("r+b") as file:
        file.truncate(DATA_AT + frames * 64 + 63)
    repaired = repair(path)
    with path.open("rb") as file:
        header = file.read(DATA_AT)
    assert repaired.frames == frames
    assert header == sized(header, frames)
    assert header.startswith(b"RF64")
    assert parse_header(header)[1] == frames
    assert path.stat().st_size == DATA_AT + frames * 64
