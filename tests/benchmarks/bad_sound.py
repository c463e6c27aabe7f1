"""Sound files: what the engineer brings, and captures whose writer died."""

from __future__ import annotations

import io
import struct
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path

import numpy as np
import soundfile
from bad_kind import Kind, Wrong

from audio.files import chunks
from audio.files.inspect import inspect
from audio.files.repair import repair
from audio.files.source import SourceFile
from audio.files.wave import Stamp, WaveFormat, build_header, sized
from audio.vocab.errors import UseError
from audio.vocab.requests import Closeup, Outline
from audio.work.growing import GrowingCapture
from audio.work.outlines import closeup, outline

FRAMES = 700
_WORDS = (
    *(b"RIFF", b"RIFX", b"RF64", b"BW64", b"FORM", b"AIFF", b"AIFC", b"WAVE", b"fmt ", b"data"),
    *(b"ds64", b"fact", b"bext", b"JUNK", b"COMM", b"SSND", b"LIST", b"fLaC", b"OggS", b"ID3\3"),
    *(b"caff", b".snd", b"id3 ", b"iXML", b"cue ", b"smpl", b"\xff\xfb\x90\x00", b"FVER", b"NONE"),
)


def kinds() -> tuple[Kind, ...]:
    """Return this file's kinds."""
    return (
        _sound("WAV", "sound.wav", lambda: _written("WAV", "PCM_16", "PCM_24", "FLOAT", "DOUBLE")),
        _sound("RF64", "sound.wav", lambda: _written("RF64", "PCM_24", "FLOAT"), _rf64s),
        _sound("AIFF", "sound.aiff", lambda: _written("AIFF", "PCM_16", "PCM_24", "PCM_S8")),
        _sound("FLAC", "sound.flac", lambda: _written("FLAC", "PCM_16", "PCM_24"), _flacs),
        Kind(
            *(
                "capture cut off, mended",
                "capture.wav",
                _mend,
                _captures,
                _capture_extremes,
                _WORDS,
            ),
            head=110,
            mends=True,
        ),
    )


def _sound(
    name: str,
    file: str,
    seeds: Callable[[], list[bytes]],
    extremes: Callable[[], list[bytes]] | None = None,
) -> Kind:
    return Kind(
        f"{name} header", file, _look, seeds, extremes or (lambda: _claims(seeds())), _WORDS, 100
    )


def _written(kind: str, *encodings: str) -> list[bytes]:
    """Return short files of one or two channels."""
    made = []
    for at, encoding in enumerate(encodings):
        out = io.BytesIO()
        samples = np.random.default_rng(at).uniform(-0.5, 0.5, (FRAMES, 1 + at % 2))
        soundfile.write(out, samples, 48000, format=kind, subtype=encoding)
        made.append(out.getvalue())
    return made


# ------------------------------------------------------------------ what is done with one


def _look(path: Path) -> None:
    """Read a sound file as checking, playing and drawing do; the first refusal is raised at the end."""
    with path.open("rb") as file:
        chunks.walk(file), chunks.claimed_frames(file), chunks.time_reference(file)
    refusals = [error for step in (_inspect, _play, _draw) if (error := _tried(step, path))]
    if refusals:
        raise refusals[0]


def _tried(step: Callable[[Path], None], path: Path) -> UseError | None:
    try:
        step(path)
    except UseError as error:
        return error
    return None


def _inspect(path: Path) -> None:
    facts = inspect(path)
    if not np.isfinite([facts.peak_dbfs, facts.loudest_dbfs]).all():
        raise Wrong("a level that is no number was measured")
    if facts.sample_rate < 1 or facts.frames < 1 or facts.time_reference < 0:
        raise Wrong(f"impossible facts were told: {facts}")


def _play(path: Path) -> None:
    with closing(SourceFile(path)) as sound:
        for at in (0, sound.frames // 2, sound.frames - 10, 2**62, -5, 0):
            for channel in (0, sound.channels - 1):
                if sound.read(at, 1000, channel=channel).shape != (1000,):
                    raise Wrong("not as many frames as were asked for")


def _draw(path: Path) -> None:
    told = outline(Outline(path=str(path), channel=0))
    closeup(Closeup(path=str(path), channel=0, at_frame=max(0, told.frames - 50), frames=100))


def _mend(path: Path) -> None:
    before = path.read_bytes()
    growing = GrowingCapture(path, rate=48000)
    try:
        growing.filled(0, min(growing.frames, 10_000) if growing.frames > 0 else 100)
        growing.check()
    except UseError:
        pass
    try:
        repaired = repair(path)
    except UseError:
        if path.read_bytes() != before:
            raise Wrong("a file was refused and changed all the same") from None
        raise
    if repair(path) != repaired:
        raise Wrong("a file mended twice is another one")
    if path.stat().st_size > len(before) + 1:
        raise Wrong("mending made a file longer")


# ------------------------------------------------------------------ headers at their limits


def _wav(*, channels: int = 1, rate: int = 48000, bits: int = 16, riff: int = 2**32 - 1) -> bytes:
    block = channels * bits // 8 & 0xFFFF
    fmt = struct.pack("<HHIIHH", 1, channels, rate, rate * block & 0xFFFFFFFF, block, bits)
    head = struct.pack("<4sI4s", b"RIFF", riff, b"WAVE") + struct.pack("<4sI", b"fmt ", 16) + fmt
    return head + struct.pack("<4sI", b"data", riff) + bytes(4 * block or 64)


def _claims(seeds: list[bytes]) -> list[bytes]:
    """Return every valid file with each field near its beginning at an extreme, and odd WAV headers."""
    made = [
        *(_wav(), _wav(riff=0), _wav(channels=65535), _wav(channels=0), _wav(channels=1024)),
        *(_wav(rate=0), _wav(rate=2**31), _wav(rate=2**32 - 1), _wav(rate=1), _wav(bits=0)),
        *(_wav(channels=1024, rate=2**31 - 1) + bytes(300_000), _wav(rate=2**31 - 1) + bytes(9000)),
    ]
    for data in seeds:
        for at in range(4, 72, 2):
            made += [data[:at] + field + data[at + len(field) :] for field in _FIELDS]
        made += [data[:cut] for cut in range(0, 90, 3)]
    return made


_FIELDS = (
    b"\xff" * 4,
    b"\0" * 4,
    b"\xff" * 8,
    b"\x7f" + b"\xff" * 7,
    b"\xff" * 7 + b"\x7f",
    b"\xff\xff",
)


def _rf64s() -> list[bytes]:
    """Return RF64 whose ds64 claims 2**63 frames and other sizes."""
    made = _claims(_written("RF64", "PCM_24"))
    for size in (1 << 63, (1 << 64) - 1, 1 << 32, 0):
        ds64 = struct.pack("<4sIQQQI", b"ds64", 28, size, size, size, 0)
        fmt = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 1, 48000, 96000, 2, 16)
        data = struct.pack("<4sI", b"data", 0xFFFFFFFF) + bytes(2000)
        made.append(struct.pack("<4sI4s", b"RF64", 0xFFFFFFFF, b"WAVE") + ds64 + fmt + data)
    return made


def _flacs() -> list[bytes]:
    """Return FLAC whose STREAMINFO claims up to 2**36 − 1 frames, other rates, channels and depths."""
    made = _claims(_written("FLAC", "PCM_16"))
    for data in _written("FLAC", "PCM_16", "PCM_24"):
        bits = int.from_bytes(data[18:26], "big")  # rate 20, channels 3, depth 5, frames 36 bits
        for frames in ((1 << 36) - 1, 1 << 35, 1 << 31, 10_000_000, FRAMES + 1, FRAMES - 1, 0):
            changed = bits >> 36 << 36 | frames
            made.append(data[:18] + changed.to_bytes(8, "big") + data[26:])
            fastest = changed | ((1 << 20) - 1) << 44
            made.append(data[:18] + fastest.to_bytes(8, "big") + data[26:])
    return made


# ------------------------------------------------------------------ captures


def _captures() -> list[bytes]:
    made = []
    for channels, depth in ((1, 24), (1, 32), (2, 24), (8, 32)):
        fmt = WaveFormat(channels, 48000, 24 if depth == 24 else 32)
        stamp = Stamp("close", datetime(2026, 11, 25, 12, 0), 2**33)  # noqa: DTZ001 - has no zone
        sound = np.random.default_rng(channels).bytes(fmt.frame_bytes * FRAMES)
        header = build_header(fmt, stamp)
        made += [sized(header, frames) + sound for frames in (0, 300, FRAMES)]
    return made


def _capture_extremes() -> list[bytes]:
    """Return headers of this program's own making for formats it never records."""
    made = [b"", *_claims(_captures()[:1])]
    stamp = Stamp("", datetime(2026, 11, 25, 12, 0), 0)  # noqa: DTZ001 - has no zone
    for channels in (0, 1024, 21_845, 16_383):
        for rate in (0, 1, 32_767):
            try:
                made.append(build_header(WaveFormat(channels, rate, 24), stamp) + bytes(70_000))
            except struct.error:
                continue
    return made
