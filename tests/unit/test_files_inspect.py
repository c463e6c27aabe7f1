"""Inspection of DIs: what is said of a good one, and the one sentence for every bad one."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pytest
import soundfile
from captures import BEYOND_32_BITS, phrase, ramp, start
from needs import needs_samples

from audio.files.inspect import inspect
from audio.vocab.errors import UseError
from audio.vocab.units import SILENCE_DBFS

KINDS = [
    ("WAV", "PCM_16", "WAV"),
    ("WAV", "PCM_24", "WAV"),
    ("WAV", "FLOAT", "WAV"),
    ("WAVEX", "PCM_24", "WAV"),
    ("RF64", "PCM_24", "RF64"),
    ("AIFF", "PCM_24", "AIFF"),
    ("FLAC", "PCM_24", "FLAC"),
]


def db(ratio: float) -> float:
    return 20 * float(np.log10(ratio))


@needs_samples()
@pytest.mark.parametrize(("format_", "encoding", "container"), KINDS)
def test_every_accepted_kind_is_told_with_its_levels(tmp_path, format_, encoding, container):
    path = tmp_path / "di.x"
    soundfile.write(path, phrase(channels=2), 44_100, subtype=encoding, format=format_)
    samples = soundfile.read(path)[0][:, 1]
    whole = samples[: samples.size // 2205 * 2205].reshape(-1, 2205)
    facts = inspect(path, channel=1)
    assert (facts.container, facts.encoding) == (container, encoding)
    assert (facts.sample_rate, facts.channels, facts.channel) == (44_100, 2, 1)
    assert facts.frames == samples.size
    assert facts.time_reference == 0
    assert facts.file_sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert facts.peak_dbfs == pytest.approx(db(np.abs(samples).max()), abs=1e-9)
    loudest = np.sqrt(np.mean(whole**2, axis=1)).max()
    assert facts.loudest_dbfs == pytest.approx(db(loudest), abs=1e-9)


def test_a_steady_sine_is_3_db_under_its_peak(tmp_path):
    """RMS of a sine is its peak over the square root of two; a whole number of periods in 50 ms."""
    sine = 0.5 * np.sin(2 * np.pi * 1000 * np.arange(48_000) / 48_000 + 0.1)
    soundfile.write(tmp_path / "di.wav", sine, 48_000, subtype="DOUBLE")
    facts = inspect(tmp_path / "di.wav")
    assert facts.loudest_dbfs == pytest.approx(db(0.5 / np.sqrt(2)), abs=1e-9)


def test_a_file_shorter_than_a_window_counts_as_filled_with_silence(tmp_path):
    soundfile.write(tmp_path / "di.wav", np.full(24, 0.5), 48_000, subtype="DOUBLE")
    facts = inspect(tmp_path / "di.wav")
    assert facts.loudest_dbfs == pytest.approx(db(0.5 * np.sqrt(24 / 2400)), abs=1e-9)


def test_the_loudest_stretch_is_found_where_reading_is_divided(tmp_path):
    samples = np.full(48_000 * 11, 0.01)
    samples[480_000 : 480_000 + 2400] = 0.9
    soundfile.write(tmp_path / "di.wav", samples, 48_000, subtype="DOUBLE")
    assert inspect(tmp_path / "di.wav").loudest_dbfs == pytest.approx(db(0.9), abs=1e-9)


def test_silence_has_a_level(tmp_path):
    soundfile.write(tmp_path / "di.wav", np.zeros(4800), 48_000)
    facts = inspect(tmp_path / "di.wav")
    assert (facts.peak_dbfs, facts.loudest_dbfs) == (SILENCE_DBFS, SILENCE_DBFS)


def test_a_time_stamp_beyond_32_bits_is_read(tmp_path):
    capture = start(tmp_path / "di.wav")
    capture.write(ramp(0, 100))
    capture.close()
    assert inspect(tmp_path / "di.wav").time_reference == BEYOND_32_BITS


def cut(path: Path, *, keep: int, **kind: str) -> None:
    soundfile.write(path, phrase()[:48_000], 48_000, **kind)
    path.write_bytes(path.read_bytes()[:keep])


def with_bad_sample(path: Path, *, value: float) -> None:
    samples = np.zeros(1_000_000, dtype=np.float32)
    samples[720_000] = value
    soundfile.write(path, samples, 48_000, subtype="FLOAT")


def as_kind(path: Path, **kind: str) -> None:
    soundfile.write(path, np.zeros(4800), 48_000, **kind)


def with_data_size(path: Path, size: int) -> None:
    as_kind(path, format="WAV", subtype="PCM_16")
    data = bytearray(path.read_bytes())
    at = data.find(b"data") + 4
    data[at : at + 4] = size.to_bytes(4, "little")
    path.write_bytes(data)


def broken_in_the_middle(path: Path) -> None:
    soundfile.write(path, phrase(), 48_000, format="FLAC", subtype="PCM_24")
    data = bytearray(path.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 5000] = bytes(5000)
    path.write_bytes(data)


BAD = {
    "missing": (lambda _: None, r"cannot be opened: No such file"),
    "a folder": (Path.mkdir, r"is a folder; name a sound file"),
    "empty": (lambda p: p.write_bytes(b""), r"is empty; export"),
    "text": (lambda p: p.write_text("gain up\n" * 999), r"not a sound file .*FLAC are accepted"),
    "zeros": (lambda p: p.write_bytes(bytes(9999)), r"not a sound file"),
    "a RIFF without sound": (
        lambda p: p.write_bytes(b"RIFF\x04\0\0\0WAVE"),
        r"not a sound file",
    ),
    "no frames": (
        lambda p: soundfile.write(p, np.zeros(0), 48_000, format="WAV"),
        r"0 frames; export",
    ),
    "MP3": (lambda p: as_kind(p, format="MP3"), r"is .*MPEG.*; WAV, RF64, AIFF and FLAC are acc"),
    "OGG": (lambda p: as_kind(p, format="OGG"), r"is .*OGG.*; WAV, RF64, AIFF and FLAC are acc"),
    "CAF": (lambda p: as_kind(p, format="CAF", subtype="PCM_24"), r"is .*; WAV, RF64, AIFF"),
    "ADPCM in WAV": (
        lambda p: as_kind(p, format="WAV", subtype="IMA_ADPCM"),
        r"is IMA ADPCM; .*uncompressed or lossless",
    ),
    "telephone codes": (lambda p: as_kind(p, format="WAV", subtype="ULAW"), r"U-Law; .*accepted"),
    "not a number": (
        lambda p: with_bad_sample(p.with_name("di.wav"), value=float("nan")),
        r"no number at frame 720000 \(15\.000 s\)",
    ),
    "infinite": (
        lambda p: with_bad_sample(p.with_name("di.wav"), value=float("-inf")),
        r"no number at frame 720000 \(15\.000 s\)",
    ),
    "a WAV copied half": (
        lambda p: cut(p, keep=44 + 3 * 10_000, format="WAV", subtype="PCM_24"),
        r"cut short: its header claims 48000 frames, 10000 are there; copy or export",
    ),
    "an RF64 copied half": (
        lambda p: cut(p, keep=104 + 3 * 10_000, format="RF64", subtype="PCM_24"),
        r"cut short: its header claims 48000 frames, \d+ are there",
    ),
    "an AIFF copied half": (
        lambda p: cut(p, keep=54 + 3 * 10_000, format="AIFF", subtype="PCM_24"),
        r"cut short: its header claims 48000 frames, \d+ are there",
    ),
    "a FLAC copied half": (
        lambda p: cut(p, keep=20_000, format="FLAC", subtype="PCM_24"),
        r"(cut short|damaged)",
    ),
    "a FLAC broken in the middle": (broken_in_the_middle, r"(cut short|damaged)"),
    "a header that lies by gigabytes": (
        lambda p: with_data_size(p, 0xFFFFFFF0),
        r"cut short: its header claims 2147483640 frames, 4800 are there",
    ),
    "a recorder that never finished its header": (
        lambda p: with_data_size(p, 0),
        r"0 frames; export",
    ),
}


@needs_samples()
@pytest.mark.parametrize("what", BAD)
def test_a_bad_di_is_refused_in_one_sentence(tmp_path, what: str) -> None:
    make, sentence = BAD[what]
    path = tmp_path / "di.wav"
    make(path)
    with pytest.raises(UseError, match=sentence) as caught:
        inspect(path)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(("channels", "channel", "told"), [(2, 2, 3), (1, 1, 2), (2, -1, 0)])
def test_a_channel_that_is_not_there_is_told_as_counted_on_the_front(
    tmp_path, channels: int, channel: int, told: int
) -> None:
    soundfile.write(tmp_path / "di.wav", np.zeros((480, channels)), 48_000)
    noun = "channels" if channels > 1 else "channel"
    with pytest.raises(UseError, match=rf"has {channels} {noun}; channel {told} was asked for"):
        inspect(tmp_path / "di.wav", channel=channel)


def test_a_name_that_promises_raw_samples_is_one_sentence(tmp_path):
    as_kind(tmp_path / "di.wav", format="WAV", subtype="PCM_24")
    (tmp_path / "di.wav").rename(tmp_path / "di.raw")
    with pytest.raises(UseError, match="not a sound file that can be read"):
        inspect(tmp_path / "di.raw")
