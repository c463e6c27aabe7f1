"""Captures: what is counted, hashed and measured is what is in the file."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from captures import phrase, ramp, start
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from needs import needs_samples

from audio.files import codes
from audio.files.wave import DATA_AT, WaveFormat, parse_header
from audio.vocab.messages import Recorded

FULL = 2**31


def data_of(path: Path, frames: int, frame_bytes: int) -> bytes:
    return path.read_bytes()[DATA_AT : DATA_AT + frames * frame_bytes]


def kept(path: Path, fmt: WaveFormat, frames: int) -> codes.Samples:
    return codes.from_bytes(data_of(path, frames, fmt.frame_bytes), fmt)


@pytest.mark.parametrize("channels", [1, 2, 5])
@pytest.mark.parametrize("depth", [24, 32])
def test_24_bit_codes_come_back_exactly_at_either_depth(tmp_path, channels, depth) -> None:
    block = ramp(0, 1001, channels)
    capture = start(tmp_path / "a.wav", channels=channels, depth=depth)
    capture.write(block[:500])
    capture.write(block[500:])
    assert capture.close().frames == 1001
    got = kept(tmp_path / "a.wav", capture.format, 1001)
    if depth == 24:
        assert np.array_equal(got, block >> 8)
    else:
        assert np.array_equal(got.astype(np.float64) * FULL, block)


@pytest.mark.parametrize("depth", [24, 32])
def test_a_column_of_a_ring_is_written_like_a_block_of_its_own(tmp_path, depth) -> None:
    ring = ramp(0, 512, 16)
    for name, block in (("a.wav", ring[:, 3:4]), ("b.wav", ring[:, 3:4].copy())):
        capture = start(tmp_path / name, depth=depth)
        capture.write(block)
        capture.close()
    assert (tmp_path / "a.wav").read_bytes() == (tmp_path / "b.wav").read_bytes()


@needs_samples()
def test_floats_are_kept_bit_for_bit(tmp_path) -> None:
    block = phrase(channels=2)
    capture = start(tmp_path / "a.wav", channels=2, depth=32)
    capture.write(block)
    frames = capture.close().frames
    assert data_of(tmp_path / "a.wav", frames, 8) == block.astype("<f4").tobytes()


@needs_samples()
def test_floats_of_real_playing_become_the_nearest_code(tmp_path) -> None:
    block = phrase()
    capture = start(tmp_path / "a.wav")
    capture.write(block)
    got = kept(tmp_path / "a.wav", capture.format, capture.close().frames)
    assert np.abs(got - block.astype(np.float64) * 2**23).max() <= 0.5


@given(
    block=arrays(np.float32, (7, 2), elements=st.floats(-1.5, 1.5, width=32, allow_subnormal=False))
)
def test_any_float_becomes_the_nearest_code_within_the_range(block) -> None:
    got = codes.from_device(block, WaveFormat(2, 48_000, 24))
    exact = np.clip(block.astype(np.float64) * 2**23, -(2**23), 2**23 - 1)
    assert np.abs(got - exact).max() <= 0.5


def test_no_number_and_infinity_never_reach_a_24_bit_file() -> None:
    block = np.array([[np.nan], [np.inf], [-np.inf]], dtype=np.float32)
    got = codes.from_device(block, WaveFormat(1, 48_000, 24))
    assert got[:, 0].tolist() == [0, 2**23 - 1, -(2**23)]


@given(arrays(np.int32, (9, 3), elements=st.integers(-(2**31), 2**31 - 1)))
def test_bytes_and_back_are_the_same_codes(block) -> None:
    fmt = WaveFormat(3, 48_000, 24)
    wanted = codes.from_device(block, fmt)
    assert np.array_equal(codes.from_bytes(codes.to_bytes(wanted, fmt), fmt), wanted)


def test_the_hash_is_that_of_the_data_without_header_and_pad(tmp_path) -> None:
    capture = start(tmp_path / "a.wav")
    for first in range(0, 301, 43):
        capture.write(ramp(first, 43))
        capture.sync()
    recorded = capture.close()
    data = data_of(tmp_path / "a.wav", recorded.frames, 3)
    assert recorded.audio_sha256 == hashlib.sha256(data).hexdigest()
    assert (tmp_path / "a.wav").stat().st_size == DATA_AT + len(data) + 1


@pytest.mark.parametrize("depth", [24, 32])
def test_peak_and_full_scale_are_counted_per_channel(tmp_path, depth) -> None:
    block = np.zeros((100, 3), dtype=np.int32)
    block[10, 0] = -FULL // 2
    block[20:23, 1] = (2**23 - 1) << 8
    block[50:52, 2] = -FULL
    block[60, 2] = (2**23 - 2) << 8
    capture = start(tmp_path / "a.wav", channels=3, depth=depth)
    capture.write(block[:30])
    capture.write(block[30:])
    recorded = capture.close()
    assert recorded.peak == (0.5, 1 - 2**-23, 1.0)
    assert recorded.clipped_samples == (0, 3, 2)


def test_clipped_floats_show_in_the_count_and_the_peak_is_the_files(tmp_path) -> None:
    capture = start(tmp_path / "a.wav")
    capture.write(np.array([[0.25], [1.7], [-3.0]], dtype=np.float32))
    recorded = capture.close()
    assert recorded.peak == (1.0,)
    assert recorded.clipped_samples == (2,)


def test_floats_that_are_no_numbers_are_counted_and_the_peak_stays_a_number(tmp_path) -> None:
    capture = start(tmp_path / "a.wav", depth=32)
    capture.write(np.array([[0.25], [np.nan], [np.inf]], dtype=np.float32))
    recorded = capture.close()
    assert recorded.peak == (0.25,)
    assert recorded.clipped_samples == (2,)


def test_lost_frames_are_silence_in_place(tmp_path) -> None:
    capture = start(tmp_path / "a.wav", channels=2)
    capture.write(ramp(0, 100, 2))
    capture.skip(70_001)
    capture.write(ramp(100, 100, 2))
    recorded = capture.close()
    got = kept(tmp_path / "a.wav", capture.format, recorded.frames)
    assert recorded.frames == 70_201
    assert np.array_equal(got[:100], ramp(0, 100, 2) >> 8)
    assert not got[100:70_101].any()
    assert np.array_equal(got[70_101:], ramp(100, 100, 2) >> 8)


def test_after_a_sync_a_reader_sees_all_frames_so_far(tmp_path) -> None:
    capture = start(tmp_path / "a.wav")
    for blocks in (1, 2, 3):
        capture.write(ramp(0, 101))
        capture.sync()
        header = (tmp_path / "a.wav").read_bytes()[:DATA_AT]
        assert parse_header(header)[1] == 101 * blocks
    capture.close()


def test_an_existing_file_is_never_overwritten(tmp_path) -> None:
    (tmp_path / "a.wav").write_bytes(b"evidence")
    with pytest.raises(FileExistsError):
        start(tmp_path / "a.wav")
    assert (tmp_path / "a.wav").read_bytes() == b"evidence"


def test_an_empty_capture_is_a_whole_file(tmp_path) -> None:
    recorded = start(tmp_path / "a.wav").close()
    assert (recorded.frames, recorded.peak, recorded.clipped_samples) == (0, (0.0,), (0,))
    assert parse_header((tmp_path / "a.wav").read_bytes())[1] == 0


# A disk that fills up: the system refuses to let a file grow past a limit, anywhere in a frame.
FILL = """
import json, resource, sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
import msgspec
from captures import ramp, start
folder, out = Path(sys.argv[1]), []
for channels, depth, limit in json.loads(sys.argv[3]):
    capture = start(folder / f"{channels}-{depth}-{limit}.wav", channels=channels, depth=depth)
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
    for first in range(0, 3000, 100):
        capture.write(ramp(first, 100, channels))
        if first % 500 == 0:
            capture.sync()
    recorded = capture.close()
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    out.append([capture.failed is not None and capture.failed.errno, msgspec.to_builtins(recorded)])
print(json.dumps(out))
"""

LIMITS = [
    [channels, depth, DATA_AT + limit]
    for channels, depth in ((1, 24), (2, 24), (5, 24), (1, 32), (3, 32))
    for limit in (0, 1, 2, 299, 300, 301, 2047, 2048, 2999)
]


def test_a_disk_that_fills_up_anywhere_keeps_whole_frames_and_says_so(tmp_path) -> None:
    tests = str(Path(__file__).parent.parent)
    command = [sys.executable, "-c", FILL, str(tmp_path), tests, json.dumps(LIMITS)]
    out = subprocess.run(command, capture_output=True, check=True, text=True)
    results = json.loads(out.stdout)
    assert len(results) == len(LIMITS)
    for (channels, depth, limit), (failed, result) in zip(LIMITS, results, strict=True):
        fmt = WaveFormat(channels, 48_000, depth)
        frames = (limit - DATA_AT) // fmt.frame_bytes
        path = tmp_path / f"{channels}-{depth}-{limit}.wav"
        assert os.strerror(failed) == "File too large"
        assert result["frames"] == frames
        assert parse_header(path.read_bytes()[:DATA_AT]) == (fmt, frames)
        data = data_of(path, frames, fmt.frame_bytes)
        assert path.stat().st_size - DATA_AT - len(data) in (0, len(data) % 2)
        assert result["audio_sha256"] == hashlib.sha256(data).hexdigest()
        wanted = codes.from_device(ramp(0, frames, channels), fmt)
        assert np.array_equal(codes.from_bytes(data, fmt), wanted)
        tally = codes.Tally(fmt)
        tally.add(wanted)
        assert tuple(result["peak"]) == tally.peak


def test_the_first_error_stays_and_nothing_is_written_after_it(tmp_path) -> None:
    capture = start(tmp_path / "a.wav")
    capture.write(ramp(0, 100))
    first = OSError(28, "No space left on device")
    capture.failed = first
    capture.write(ramp(100, 100))
    capture.skip(100)
    capture.sync()
    recorded = capture.close()
    assert isinstance(recorded, Recorded)
    assert capture.failed is first
    assert recorded.frames == 100
    assert (tmp_path / "a.wav").stat().st_size == DATA_AT + 300


def test_a_header_that_finds_no_room_leaves_no_file(tmp_path) -> None:
    code = (
        "import resource, sys; from pathlib import Path; sys.path.insert(0, sys.argv[2])\n"
        "from captures import start\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, resource.RLIM_INFINITY))\n"
        "try:\n"
        "    start(Path(sys.argv[1]))\n"
        "except OSError as error:\n"
        "    print(error.strerror)\n"
    )
    tests = str(Path(__file__).parent.parent)
    command = [sys.executable, "-c", code, str(tmp_path / "a.wav"), tests]
    out = subprocess.run(command, capture_output=True, check=True, text=True)
    assert out.stdout == "File too large\n"
    assert not list(tmp_path.iterdir())
