"""Captures read back by readers we did not write.

What must stand in the files: EBU Tech 3285 v2 (``bext``) and EBU Tech 3306 (RF64). The readers:
libsndfile (soundfile), wavinfo, ffprobe of FFmpeg, MediaInfo and SoX. libsndfile's Python side and SoX
do not show ``bext``; the other three do. For the way back, FFmpeg writes a ``bext`` that we read.
"""

from __future__ import annotations

import json
import struct
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile
from captures import BEYOND_32_BITS, MADE_AT, phrase, start
from needs import needs_program, needs_samples
from wavinfo import WavInfoReader

from audio.files.inspect import inspect
from audio.files.wave import DATA_AT, Stamp, WaveFormat, build_header, sized

pytestmark = [
    needs_samples(),
    needs_program("ffprobe", package="ffmpeg"),
    needs_program("mediainfo", package="mediainfo"),
    needs_program("sox", package="sox"),
]

SHAPES = [
    WaveFormat(channels, rate, depth)
    for channels, rate in ((1, 44_100), (1, 48_000), (2, 96_000), (1, 192_000))
    for depth in (24, 32)
]
DS64_SIZES_AT = 20
"""EBU Tech 3306: RIFF, data and frames, 64 bits each, behind the form's and the chunk's heads."""
DESCRIPTION = "Harbour Lights, rhythm-left 007, fuzz into delay, close"


@dataclass(frozen=True)
class Told:
    """What a reader says of a file; None where it shows no such thing."""

    frames: int
    channels: int
    rate: int
    depth: int
    is_float: bool
    time_reference: int | None = None
    description: str | None = None
    originator: str | None = None
    made_at: str | None = None


def run(*command: str) -> str:
    done = subprocess.run(command, capture_output=True, check=True, text=True)
    assert done.stderr == ""
    return done.stdout


def told_by_soundfile(path: Path) -> Told:
    info = soundfile.info(path)
    depth, is_float = {"PCM_24": (24, False), "FLOAT": (32, True)}[info.subtype]
    return Told(info.frames, info.channels, info.samplerate, depth, is_float)


def told_by_wavinfo(path: Path) -> Told:
    info = WavInfoReader(str(path))
    fmt, bext = info.fmt, info.bext
    return Told(
        info.data.frame_count,
        fmt.channel_count,
        fmt.sample_rate,
        fmt.bits_per_sample,
        fmt.audio_format == 3,
        bext.time_reference,
        bext.description,
        bext.originator,
        f"{bext.originator_date} {bext.originator_time}",
    )


def told_by_ffprobe(path: Path) -> Told:
    out = run("ffprobe", "-v", "warning", "-show_format", "-show_streams", "-of", "json", str(path))
    stream, tags = json.loads(out)["streams"][0], json.loads(out)["format"]["tags"]
    return Told(
        stream["duration_ts"],
        stream["channels"],
        int(stream["sample_rate"]),
        stream["bits_per_sample"],
        stream["codec_name"] == "pcm_f32le",
        int(tags["time_reference"]),
        tags["comment"],
        tags["encoded_by"],
        f"{tags['date']} {tags['creation_time']}",
    )


def told_by_mediainfo(path: Path) -> Told:
    out = json.loads(run("mediainfo", "--Output=JSON", str(path)))
    general, sound = out["media"]["track"]
    assert sound["Delay_Source"] == "Container (bext)"
    rate = int(sound["SamplingRate"])
    return Told(
        int(sound["SamplingCount"]),
        int(sound["Channels"]),
        rate,
        int(sound["BitDepth"]),
        sound.get("Format_Profile") == "Float",
        round(float(sound["Delay"]) * rate),
        general["Description"],
        general["Producer"],
        general["Encoded_Date"],
    )


def told_by_sox(path: Path) -> Told:
    lines = [line.partition(":") for line in run("sox", "--i", str(path)).splitlines()]
    told = {name.strip(): value.strip() for name, _, value in lines}
    encoding = told["Sample Encoding"]
    return Told(
        int(told["Duration"].split(" = ")[1].split()[0]),
        int(told["Channels"]),
        int(told["Sample Rate"]),
        int(encoding.split("-bit")[0]),
        "Floating Point" in encoding,
    )


READERS = {
    "soundfile": told_by_soundfile,
    "wavinfo": told_by_wavinfo,
    "ffprobe": told_by_ffprobe,
    "mediainfo": told_by_mediainfo,
    "sox": told_by_sox,
}


def expected(fmt: WaveFormat, frames: int, *, like: Told) -> Told:
    """Return what a reader must tell, with None where this one shows nothing at all."""
    whole = Told(
        frames,
        fmt.channels,
        fmt.rate,
        fmt.depth,
        fmt.depth == 32,
        BEYOND_32_BITS,
        DESCRIPTION,
        "secondpass",
        "2026-11-25 09:01:02",
    )
    if like.time_reference is not None:
        return whole
    return Told(frames, fmt.channels, fmt.rate, fmt.depth, fmt.depth == 32)


def record(path: Path, fmt: WaveFormat, *, frames: int) -> np.ndarray:
    block = phrase(channels=fmt.channels)[:frames]
    capture = start(
        path, channels=fmt.channels, rate=fmt.rate, depth=fmt.depth, description=DESCRIPTION
    )
    capture.write(block)
    capture.close()
    return block


def shows_bext(reader: str) -> bool:
    return reader not in ("soundfile", "sox")


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("fmt", SHAPES, ids=str)
@pytest.mark.parametrize("frames", [48_000, 48_001])
def test_a_reader_tells_what_was_written(tmp_path, reader, fmt, frames) -> None:
    record(tmp_path / "a.wav", fmt, frames=frames)
    told = READERS[reader](tmp_path / "a.wav")
    assert (told.time_reference is not None) == shows_bext(reader)
    assert told == expected(fmt, frames, like=told)


@pytest.mark.parametrize("reader", READERS)
def test_a_capture_that_still_grows_can_be_read_up_to_its_last_sync(tmp_path, reader) -> None:
    fmt = WaveFormat(1, 48_000, 24)
    capture = start(tmp_path / "a.wav", description=DESCRIPTION)
    capture.write(phrase()[:30_000])
    capture.sync()
    told = READERS[reader](tmp_path / "a.wav")
    assert told == expected(fmt, 30_000, like=told)
    capture.close()


@pytest.mark.parametrize("fmt", SHAPES, ids=str)
def test_decoders_return_the_samples_that_were_recorded(tmp_path, fmt) -> None:
    """libsndfile, FFmpeg and SoX decode to the same values, within half a code at 24 bits."""
    path = tmp_path / "a.wav"
    block = record(path, fmt, frames=24_001)
    raw = [tmp_path / "ffmpeg.raw", tmp_path / "sox.raw"]
    run(
        *("ffmpeg", "-v", "error", "-i", str(path), "-f", "f64le", "-acodec", "pcm_f64le"),
        str(raw[0]),
    )
    run("sox", str(path), "-t", "raw", "-e", "float", "-b", "64", str(raw[1]))
    decoded = [soundfile.read(path, always_2d=True)[0]]
    decoded += [np.fromfile(file, dtype="<f8").reshape(-1, fmt.channels) for file in raw]
    tolerance = 0.0 if fmt.depth == 32 else 0.5 / 2**23
    for got, within in zip(decoded, (tolerance, tolerance, max(tolerance, 2**-32)), strict=True):
        assert got.shape == block.shape
        assert np.abs(got - block).max() <= within  # SoX works in 32-bit integers


@pytest.mark.parametrize("reader", [r for r in READERS if r != "sox"])
def test_a_file_beyond_4_gib_is_read_as_rf64(tmp_path, reader) -> None:
    """EBU Tech 3306; the zeros between the header and the last frame take no room on the disk."""
    fmt = WaveFormat(2, 96_000, 24)
    frames = 2**32 // fmt.frame_bytes + 48_001
    path = tmp_path / "long.wav"
    stamp = Stamp(DESCRIPTION, MADE_AT, BEYOND_32_BITS)
    with path.open("wb") as file:
        file.write(sized(build_header(fmt, stamp), frames))
        file.seek(DATA_AT + (frames - 1) * fmt.frame_bytes)
        file.write(bytes([0, 0, 0x40, 0, 0, 0xC0]))
    told = READERS[reader](path)
    assert told == expected(fmt, frames, like=told)
    if reader == "soundfile":
        last = soundfile.read(path, start=frames - 1, always_2d=True)[0]
        assert last.tolist() == [[0.5, -0.5]]


def test_an_rf64_is_read_by_sox(tmp_path) -> None:
    """SoX decodes an RF64 to its end before it says anything, whatever its size: a short one here.

    `bench_sox_beyond_4_gib` gives it one of that size, which takes a minute of a core.
    """
    fmt, frames = WaveFormat(2, 96_000, 24), 48_001
    header = bytearray(sized(build_header(fmt, Stamp(DESCRIPTION, MADE_AT, 0)), 2**32))
    data = frames * fmt.frame_bytes
    struct.pack_into("<QQQ", header, DS64_SIZES_AT, DATA_AT - 8 + data, data, frames)
    path = tmp_path / "short.wav"
    path.write_bytes(header + bytes(data))
    told = told_by_sox(path)
    assert header.startswith(b"RF64")
    assert told == expected(fmt, frames, like=told)


@pytest.mark.parametrize("container", ["never", "always"], ids=["RIFF", "RF64"])
def test_a_time_stamp_written_by_ffmpeg_is_read(tmp_path, container) -> None:
    soundfile.write(tmp_path / "di.wav", phrase()[:24_000], 48_000, subtype="PCM_24")
    run(
        *("ffmpeg", "-v", "error", "-i", str(tmp_path / "di.wav"), "-acodec", "pcm_s24le"),
        *("-write_bext", "1", "-rf64", container),
        *("-metadata", f"time_reference={BEYOND_32_BITS}", str(tmp_path / "stamped.wav")),
    )
    facts = inspect(tmp_path / "stamped.wav")
    assert facts.time_reference == BEYOND_32_BITS
    assert (facts.frames, facts.encoding) == (24_000, "PCM_24")
    assert facts.container == {"never": "WAV", "always": "RF64"}[container]
