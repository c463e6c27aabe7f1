"""Damage to valid files: what a bad disk, a bad copy, a careless edit or a hostile author makes of them.

`mutated` draws everything from the generator it is given, so a seed names an input for good.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random

LARGEST = 400_000
"""Bytes of an input; beyond it damage is cut off."""

_NUMBER = re.compile(rb"-?[0-9]+(?:\.[0-9]+)?")
_NUMBERS = (
    *(b"0", b"-0", b"-1", b"1", b"65535", b"65536", b"2147483648", b"4294967295"),
    *(b"9223372036854775807", b"18446744073709551616", b"1e308", b"1e999", b"-1e-999", b"0.5"),
    *(b"0x7f", b"1_000", b"012", b"10:30", b".inf", b".nan", b"NaN", b"1" * 400, b"9" * 5000),
)
_FIELDS = (
    *(0, 1, 2, 3, 0x7F, 0x80, 0xFF, 0x7FFF, 0x8000, 0xFFFF, 0x7FFFFFFF, 0x80000000),
    *(0xFFFFFFFE, 0xFFFFFFFF, 1 << 36, (1 << 63) - 1, 1 << 63, (1 << 64) - 1),
)
_DAMAGE = (
    *(b"\x80", b"\xff\xfe", b"\xc0\xaf", b"\xed\xa0\x80", b"\xf4\x90\x80\x80", b"\xe2\x80"),
    *(b"\xef\xbb\xbf", b"\x00", b"\x07", b"\x1b[2J\x1b]0;x\x07", b"\xc2\x9b31m", b"\xc2\x85"),
    *(b"\xe2\x80\xae", b"\xe2\x80\x8b", b"\xe2\x80\xa8", b"\xf3\xa0\x81\x81", b"\r", b"\t", b"\n"),
    *(b"\\ud800", b"\\u0000", b"\\UFFFFFFFF", b"\\x1b", b"\xe1\x85\x9f", b"e\xcc\x81"),
)
_NESTS = (b"[", b"{", b"- ", b'{"a":', b"a: {", b"[[", b'"', b"? ", b"&a [", b"!!x ", b"((")


@dataclass(frozen=True)
class Draw:
    """Where random choices of one input come from, and what they may use."""

    random: Random
    words: Sequence[bytes]
    """Tokens of the kind of file."""
    others: Sequence[bytes]
    """Further valid files of the kind."""
    head: int
    """Bytes at the beginning that damage falls on nine times out of ten."""

    def place(self, data: bytes) -> int:
        """Return an index into the data, its end included."""
        end = len(data)
        if self.random.random() < 0.9:
            end = min(end, self.head)
        return self.random.randint(0, end)

    def span(self, data: bytes) -> tuple[int, int]:
        """Return a stretch of the data, mostly short."""
        at = self.place(data)
        length = self.random.choice((1, 2, 4, 8, 16, 40, 200, len(data)))
        return at, min(len(data), at + self.random.randint(0, length))


def mutated(draw: Draw, data: bytes) -> bytes:
    """Return the data with one to some damages done to it, one after the other."""
    for _ in range(draw.random.choice((1, 1, 1, 2, 2, 3, 4, 6))):
        data = draw.random.choice(_WAYS)(draw, data)[:LARGEST]
    return data


def _bits(draw: Draw, data: bytes) -> bytes:
    out = bytearray(data)
    for _ in range(draw.random.choice((1, 1, 2, 8))):
        at = draw.place(data)
        if at < len(out):
            out[at] ^= 1 << draw.random.randrange(8)
    return bytes(out)


def _truncated(draw: Draw, data: bytes) -> bytes:
    return data[: draw.random.randint(0, len(data))]


def _beheaded(draw: Draw, data: bytes) -> bytes:
    return data[draw.place(data) :]


def _without(draw: Draw, data: bytes) -> bytes:
    start, end = draw.span(data)
    return data[:start] + data[end:]


def _repeated(draw: Draw, data: bytes) -> bytes:
    start, end = draw.span(data)
    times = draw.random.choice((1, 1, 2, 10, 300, 5000))
    times = min(
        times, LARGEST // max(end - start, 1) + 1
    )  # what is cut off anyway need not be made
    return data[:end] + data[start:end] * times + data[end:]


def _moved(draw: Draw, data: bytes) -> bytes:
    start, end = draw.span(data)
    rest = data[:start] + data[end:]
    at = draw.place(rest)
    return rest[:at] + data[start:end] + rest[at:]


def _noise(draw: Draw, data: bytes) -> bytes:
    start, end = draw.span(data)
    return data[:start] + draw.random.randbytes(end - start) + data[end:]


def _number(draw: Draw, data: bytes) -> bytes:
    found = list(_NUMBER.finditer(data[: draw.head * 20]))
    if not found:
        return _field(draw, data)
    one = draw.random.choice(found)
    return data[: one.start()] + draw.random.choice(_NUMBERS) + data[one.end() :]


def _field(draw: Draw, data: bytes) -> bytes:
    """Overwrite one, two, four or eight bytes with an extreme, in either byte order."""
    size = draw.random.choice((1, 2, 4, 4, 8))
    value = draw.random.choice(_FIELDS) & ((1 << 8 * size) - 1)
    at = draw.place(data)
    field = value.to_bytes(size, draw.random.choice(("little", "big")))
    return data[:at] + field + data[at + size :]


def _word(draw: Draw, data: bytes) -> bytes:
    start, end = draw.span(data)
    word = draw.random.choice([*draw.words, *_DAMAGE])
    return data[:start] + word + data[draw.random.choice((start, end)) :]


def _damaged(draw: Draw, data: bytes) -> bytes:
    at = draw.place(data)
    return data[:at] + draw.random.choice(_DAMAGE) * draw.random.choice((1, 1, 3, 900)) + data[at:]


def _nested(draw: Draw, data: bytes) -> bytes:
    at = draw.place(data)
    depth = draw.random.choice((2, 20, 33, 200, 1100, 20_000))
    return data[:at] + draw.random.choice(_NESTS) * depth + data[at:]


def _lines(draw: Draw, data: bytes) -> bytes:
    """Swap, double, drop or take over a line."""
    lines = data.split(b"\n")
    one, two = draw.random.randrange(len(lines)), draw.random.randrange(len(lines))
    what = draw.random.randrange(4)
    if what == 0:
        lines[one], lines[two] = lines[two], lines[one]
    elif what == 1:
        lines.insert(one, lines[two])
    elif what == 2:
        del lines[one]
    else:
        lines[one] = draw.random.choice(draw.random.choice(draw.others).split(b"\n"))
    return b"\n".join(lines)


def _indented(draw: Draw, data: bytes) -> bytes:
    lines = data.split(b"\n")
    at = draw.random.randrange(len(lines))
    lines[at] = b" " * draw.random.randint(0, 9) + lines[at].lstrip(b" ")
    return b"\n".join(lines)


def _crossed(draw: Draw, data: bytes) -> bytes:
    other = draw.random.choice(draw.others)
    return data[: draw.place(data)] + other[draw.place(other) :]


_WAYS: tuple[Callable[[Draw, bytes], bytes], ...] = (
    *(_bits, _bits, _truncated, _beheaded, _without, _repeated, _moved, _noise, _number, _number),
    *(_field, _field, _word, _word, _damaged, _nested, _lines, _lines, _indented, _crossed),
)
