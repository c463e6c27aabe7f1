"""The header of a capture file: 4096 bytes, then samples, then a pad byte if their number is odd.

Chunks in the order every reader accepted: ``RIFF``, ``JUNK`` of 28 bytes, ``fmt``, ``fact`` (float
only), ``bext``, ``JUNK``, ``data``. Past 4 GiB ``RIFF`` becomes ``RF64`` and the first ``JUNK`` becomes
``ds64`` in its place (EBU Tech 3306). ``bext`` follows EBU Tech 3285 version 2, its coding history
EBU R 98. A header is made once for 0 frames; after that only its sizes change.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

DATA_AT = 4096
"""Byte of the file at which frame 0 begins."""

ORIGINATOR = b"secondpass"

_LIMIT = 0xFFFFFFFF
"""Largest 32-bit size; in RF64 it says: look into ds64."""
_UNSET_LOUDNESS = 0x7FFF
"""EBU Tech 3285 v2 (value from memory): what a loudness field holds that is not used."""
_FORM = struct.Struct("<4sI4s")
_DS64 = struct.Struct("<4sIQQQI")
_CHUNK = struct.Struct("<4sI")
_FMT = struct.Struct("<HHIIHH")
_BEXT = struct.Struct("<256s32s32s10s8sQH64s5H180s")
_FMT_AT = _FORM.size + _DS64.size
_PCM, _FLOAT = 1, 3


@dataclass(frozen=True, slots=True)
class WaveFormat:
    """What a frame of a capture file is."""

    channels: int
    rate: int
    """Frames a second."""
    depth: Literal[24, 32]
    """24: signed integers; 32: floats."""

    @property
    def frame_bytes(self) -> int:
        """Bytes of one frame."""
        return self.channels * self.depth // 8


@dataclass(frozen=True, slots=True)
class Stamp:
    """What ``bext`` says of a capture file."""

    description: str
    """At most 256 characters; what is not ASCII becomes ``?``, since readers disagree on it."""
    made_at: datetime
    """Written as it stands, without its zone: the standard has no place for one."""
    time_reference: int
    """Frames from midnight, or from the session's zero, to frame 0; 0 to 2**64 − 1."""


def build_header(fmt: WaveFormat, stamp: Stamp) -> bytes:
    """Return the 4096 bytes in front of a file's samples, sized for 0 frames."""
    return _assemble(fmt, _bext(fmt, stamp))


def sized(header: bytes, frames: int) -> bytes:
    """Return a header that says how many frames follow; all else stays, bit for bit.

    Parameters
    ----------
    header
        4096 bytes made by `build_header`.
    frames
        Frames in the file; where the file passes 4 GiB the header becomes RF64.

    Returns
    -------
    bytes
        4096 bytes.
    """
    fmt = _read_format(header)
    data = frames * fmt.frame_bytes
    riff = DATA_AT - _CHUNK.size + data + data % 2
    small = riff < _LIMIT
    out = bytearray(header)
    _FORM.pack_into(out, 0, b"RIFF" if small else b"RF64", riff if small else _LIMIT, b"WAVE")
    sizes = (0, 0, 0) if small else (riff, data, frames)
    _DS64.pack_into(out, _FORM.size, b"JUNK" if small else b"ds64", 28, *sizes, 0)
    if fmt.depth == 32:
        fact_at = _FMT_AT + len(_format_chunk(fmt)) - 4
        struct.pack_into("<I", out, fact_at, frames if small else _LIMIT)
    _CHUNK.pack_into(out, DATA_AT - _CHUNK.size, b"data", data if small else _LIMIT)
    return bytes(out)


def parse_header(header: bytes) -> tuple[WaveFormat, int]:
    """Return the format and the number of frames a header claims.

    Its sizes may contradict each other: a system that went down while they were set leaves some old and
    some new. Everything else must be, byte for byte, what `build_header` and `sized` make.

    Parameters
    ----------
    header
        The first 4096 bytes of a file.

    Returns
    -------
    tuple
        `WaveFormat`, and the frames that its data chunk claims.

    Raises
    ------
    ValueError
        If this is no header of a capture.
    """
    if len(header) != DATA_AT:
        raise ValueError("shorter than a header")
    try:
        fmt = _read_format(header)
        bext_at = _FMT_AT + len(_format_chunk(fmt)) + _CHUNK.size
        size = _CHUNK.unpack_from(header, bext_at - _CHUNK.size)[1]
        bext = header[bext_at : bext_at + size]
        frames = _claimed_bytes(header) // fmt.frame_bytes
        same = sized(header, 0) == _assemble(fmt, bext)
    except (struct.error, ZeroDivisionError) as error:
        raise ValueError("not a header of ours") from error
    if not same or not _is_marked(header) or not bext[256:288].startswith(ORIGINATOR + b"\0"):
        raise ValueError("not a header of ours")
    return fmt, frames


def _is_marked(header: bytes) -> bool:
    """Return whether the chunks whose sizes change bear their names."""
    names = (header[:4], header[8:12], header[12:16], header[DATA_AT - _CHUNK.size :][:4])
    firsts, waves, seconds, lasts = {b"RIFF", b"RF64"}, {b"WAVE"}, {b"JUNK", b"ds64"}, {b"data"}
    return all(n in known for n, known in zip(names, (firsts, waves, seconds, lasts), strict=True))


def _bext(fmt: WaveFormat, stamp: Stamp) -> bytes:
    modes = {1: ",M=mono", 2: ",M=stereo"}
    history = f"A=PCM,F={fmt.rate},W={fmt.depth}{modes.get(fmt.channels, '')},T=secondpass\r\n"
    fixed = _BEXT.pack(
        stamp.description.encode("ascii", errors="replace"),
        ORIGINATOR,
        b"",
        f"{stamp.made_at:%Y-%m-%d}".encode(),
        f"{stamp.made_at:%H:%M:%S}".encode(),
        stamp.time_reference,
        2,
        b"",
        *([_UNSET_LOUDNESS] * 5),
        b"",
    )
    text = history.encode()
    return fixed + text + b"\0" * (len(text) % 2)


def _format_chunk(fmt: WaveFormat) -> bytes:
    tag = _PCM if fmt.depth == 24 else _FLOAT
    per_second = fmt.rate * fmt.frame_bytes
    body = _FMT.pack(tag, fmt.channels, fmt.rate, per_second, fmt.frame_bytes, fmt.depth)
    if fmt.depth == 24:
        return _CHUNK.pack(b"fmt ", len(body)) + body
    # Floats are not PCM: the chunk then states an extension, of no bytes, and fact is due.
    return _CHUNK.pack(b"fmt ", len(body) + 2) + body + b"\0\0" + _CHUNK.pack(b"fact", 4) + bytes(4)


def _assemble(fmt: WaveFormat, bext: bytes) -> bytes:
    front = bytes(_FMT_AT) + _format_chunk(fmt) + _CHUNK.pack(b"bext", len(bext)) + bext
    fill = DATA_AT - 2 * _CHUNK.size - len(front)
    if fill < 0:
        raise ValueError("bext does not fit the header")
    return sized(front + _CHUNK.pack(b"JUNK", fill) + bytes(fill + _CHUNK.size), 0)


def _read_format(header: bytes) -> WaveFormat:
    tag, channels, rate, _, _, depth = _FMT.unpack_from(header, _FMT_AT + _CHUNK.size)
    if (tag, depth) == (_PCM, 24):
        return WaveFormat(channels, rate, 24)
    if (tag, depth) == (_FLOAT, 32):
        return WaveFormat(channels, rate, 32)
    raise ValueError("neither 24-bit integers nor 32-bit floats")


def _claimed_bytes(header: bytes) -> int:
    if header.startswith(b"RF64"):
        return int(_DS64.unpack_from(header, _FORM.size)[3])
    return int(_CHUNK.unpack_from(header, DATA_AT - _CHUNK.size)[1])
