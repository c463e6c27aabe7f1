"""Headers of capture files; layout after EBU Tech 3285 v2 (bext) and EBU Tech 3306 (RF64)."""

from __future__ import annotations

import struct

import pytest
from captures import MADE_AT
from hypothesis import given
from hypothesis import strategies as st

from audio.files.wave import DATA_AT, Stamp, WaveFormat, build_header, parse_header, sized

FORMATS = st.builds(
    WaveFormat,
    channels=st.integers(1, 64),
    rate=st.integers(44_100, 192_000),
    depth=st.sampled_from((24, 32)),
)
STAMPS = st.builds(
    Stamp,
    description=st.text(max_size=300),
    made_at=st.just(MADE_AT),
    time_reference=st.integers(0, 2**64 - 1),
)
FRAMES = st.integers(0, 2**40)
SIZES = {
    24: {*range(4, 8), *range(16, 48), *range(DATA_AT - 4, DATA_AT)},
    32: {*range(4, 8), *range(16, 48), *range(82, 86), *range(DATA_AT - 4, DATA_AT)},
}
"""Bytes that change as a file grows: RIFF, ds64 in the first JUNK's place, frames in fact, data."""


@given(fmt=FORMATS, stamp=STAMPS, frames=FRAMES)
def test_a_header_says_what_it_was_made_of(fmt: WaveFormat, stamp: Stamp, frames: int) -> None:
    header = sized(build_header(fmt, stamp), frames)
    assert len(header) == DATA_AT
    assert parse_header(header) == (fmt, frames)


@given(fmt=FORMATS, stamp=STAMPS, first=FRAMES, last=FRAMES)
def test_only_the_last_size_counts(fmt: WaveFormat, stamp: Stamp, first: int, last: int) -> None:
    header = build_header(fmt, stamp)
    assert sized(sized(header, first), last) == sized(header, last)


@given(fmt=FORMATS, stamp=STAMPS, at=st.integers(0, DATA_AT - 1), other=st.integers(1, 255))
def test_a_header_with_a_byte_changed_is_ours_only_if_it_lies_in_a_size_or_the_text_of_bext(
    fmt: WaveFormat, stamp: Stamp, at: int, other: int
) -> None:
    header = bytearray(sized(build_header(fmt, stamp), 1000))
    bext_at = header.find(b"bext") + 8
    end = bext_at + int.from_bytes(header[bext_at - 4 : bext_at], "little")
    header[at] ^= other
    try:
        parse_header(bytes(header))
    except ValueError:
        assert at not in range(bext_at, bext_at + 256)
    else:
        assert at in range(bext_at, end) or at in SIZES[fmt.depth]


@given(fmt=FORMATS, stamp=STAMPS, first=FRAMES, last=FRAMES, torn_at=st.integers(0, DATA_AT))
def test_a_header_torn_while_its_sizes_were_set_is_still_ours(
    fmt: WaveFormat, stamp: Stamp, first: int, last: int, torn_at: int
) -> None:
    before, after = (sized(build_header(fmt, stamp), frames) for frames in (first, last))
    torn = after[:torn_at] + before[torn_at:]
    assert parse_header(torn)[0] == fmt
    assert sized(torn, last) == after


@pytest.mark.parametrize("header", [b"", b"RIFF", bytes(4096), b"\xff" * 4096, b"RF64" * 1024])
def test_anything_else_is_refused(header: bytes) -> None:
    with pytest.raises(ValueError, match=r"header|neither"):
        parse_header(header)


def test_riff_becomes_rf64_where_32_bits_end() -> None:
    """EBU Tech 3306: RIFF and data sizes 0xFFFFFFFF, ds64 first, holding the 64-bit sizes."""
    header = build_header(WaveFormat(1, 48_000, 24), Stamp("", MADE_AT, 0))
    largest = (0xFFFFFFFF - 4088) // 3
    assert sized(header, largest - 1)[:4] == b"RIFF"
    big = sized(header, largest + 1)
    data = (largest + 1) * 3
    assert struct.unpack_from("<4sI4s", big) == (b"RF64", 0xFFFFFFFF, b"WAVE")
    ds64 = struct.unpack_from("<4sIQQQI", big, 12)
    assert ds64 == (b"ds64", 28, 4088 + data + data % 2, data, largest + 1, 0)
    assert struct.unpack_from("<4sI", big, DATA_AT - 8) == (b"data", 0xFFFFFFFF)


def test_the_fields_of_bext_lie_where_the_standard_puts_them() -> None:
    """EBU Tech 3285 v2, broadcast_audio_extension, byte for byte."""
    stamp = Stamp("close mic, ünïcode", MADE_AT, 0x0123456789ABCDEF)
    header = build_header(WaveFormat(1, 96_000, 24), stamp)
    body = header[header.find(b"bext") + 8 :]
    assert body[:256].rstrip(b"\0") == b"close mic, ?n?code"
    assert body[256:288].rstrip(b"\0") == b"secondpass"
    assert body[288:320] == bytes(32)
    assert body[320:330] == b"2026-11-25"
    assert body[330:338] == b"09:01:02"
    assert struct.unpack_from("<II", body, 338) == (0x89ABCDEF, 0x01234567)
    assert struct.unpack_from("<H", body, 346) == (2,)
    assert body[348:412] == bytes(64)
    assert struct.unpack_from("<5h", body, 412) == (0x7FFF,) * 5
    assert body[422:602] == bytes(180)
    assert body[602:].startswith(b"A=PCM,F=96000,W=24,M=mono,T=secondpass\r\n")


def test_float_says_so_with_an_extension_and_a_fact() -> None:
    header = sized(build_header(WaveFormat(2, 48_000, 32), Stamp("", MADE_AT, 0)), 77)
    assert struct.unpack_from("<4sIHHIIHHH", header, 48) == (
        *(b"fmt ", 18, 3, 2, 48_000, 384_000, 8, 32, 0),
    )
    assert struct.unpack_from("<4sII", header, 74) == (b"fact", 4, 77)


@pytest.mark.parametrize("frames", [0, 1, 2, 3])
def test_an_odd_length_is_padded_outside_data_and_inside_riff(frames: int) -> None:
    header = sized(build_header(WaveFormat(1, 48_000, 24), Stamp("", MADE_AT, 0)), frames)
    assert struct.unpack_from("<I", header, DATA_AT - 4) == (3 * frames,)
    assert struct.unpack_from("<I", header, 4) == (4088 + 3 * frames + frames % 2,)
