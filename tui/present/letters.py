"""Large letters of block glyphs: five pixels high, for words and times read from across a room."""

from __future__ import annotations

from dataclasses import dataclass

PIXEL_ROWS = 5

_DRAWN = """
A .#. #.# ### #.# #.#
B ##. #.# ##. #.# ##.
C .## #.. #.. #.. .##
D ##. #.# #.# #.# ##.
E ### #.. ##. #.. ###
F ### #.. ##. #.. #..
G .### #... #.## #..# .###
H #.# #.# ### #.# #.#
I ### .#. .#. .#. ###
J ..# ..# ..# #.# .#.
K #..# #.#. ##.. #.#. #..#
L #.. #.. #.. #.. ###
M #...# ##.## #.#.# #...# #...#
N #..# ##.# #.## #..# #..#
O .##. #..# #..# #..# .##.
P ##. #.# ##. #.. #..
Q .##. #..# #..# #.#. .#.#
R ##. #.# ##. #.# #.#
S .## #.. .#. ..# ##.
T ### .#. .#. .#. .#.
U #.# #.# #.# #.# ###
V #.# #.# #.# #.# .#.
W #...# #...# #.#.# ##.## #...#
X #.# #.# .#. #.# #.#
Y #.# #.# .#. .#. .#.
Z ### ..# .#. #.. ###
0 ### #.# #.# #.# ###
1 .#. ##. .#. .#. ###
2 ### ..# ### #.. ###
3 ### ..# ### ..# ###
4 #.# #.# ### ..# ..#
5 ### #.. ### ..# ###
6 ### #.. ### #.# ###
7 ### ..# ..# ..# ..#
8 ### #.# ### #.# ###
9 ### #.# ### ..# ###
: . # . # .
. . . . . #
, .. .. .. .# #.
- ... ... ### ... ...
− ... ... ### ... ...
+ ... .#. ### .#. ...
/ ..# ..# .#. #.. #..
■ ... ### ### ### ...
▲ ..... ..#.. .###. ##### .....
× ... #.# .#. #.# ...
"""

FONT: dict[str, tuple[str, ...]] = {
    drawn[0]: tuple(drawn[1:]) for drawn in (line.split() for line in _DRAWN.strip().splitlines())
} | {" ": ("..",) * PIXEL_ROWS}
"""Pixel rows of each letter, from the top; all digits are equally wide, so that a time does not move."""


@dataclass(frozen=True, slots=True)
class LetterSize:
    """How many cells a pixel takes; half a row lets two pixels share a cell."""

    cells: int
    half_rows: int

    @property
    def rows(self) -> int:
        """Rows of a line of letters."""
        return -(-PIXEL_ROWS * self.half_rows // 2)


SIZES = (
    LetterSize(8, 8),
    LetterSize(6, 6),
    LetterSize(4, 4),
    LetterSize(2, 2),
    LetterSize(1, 2),
    LetterSize(1, 1),
)
"""The largest first. A cell is about twice as high as wide: most of these keep letters in shape."""

_HALVES = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def large(words: str, *, columns: int, rows: int) -> list[str]:
    """Return words in the largest letters that fit.

    Parameters
    ----------
    words
        One line; letters are drawn as capitals.
    columns
        Cells there are.
    rows
        Rows there are.

    Returns
    -------
    list of str
        One line for each row, all equally wide; empty where no size fits or a letter has no drawing.
    """
    pixels = _pixels(words.upper())
    if not pixels:
        return []
    wide = len(pixels[0])
    for size in SIZES:
        if size.rows <= rows and size.cells * wide <= columns:
            return _drawn(pixels, size)
    return []


def sized(words: str, size: LetterSize) -> list[str]:
    """Return words in letters of one size, whatever room there is; empty where a letter has no drawing."""
    pixels = _pixels(words.upper())
    return _drawn(pixels, size) if pixels else []


def _pixels(words: str) -> list[str]:
    """Return the pixel rows of a whole line, one pixel free between letters."""
    if not words.strip() or any(letter not in FONT for letter in words):
        return []
    return [".".join(FONT[letter][y] for letter in words) for y in range(PIXEL_ROWS)]


def _drawn(pixels: list[str], size: LetterSize) -> list[str]:
    """Return pixels as glyphs: each pixel row stands in so many half rows, each pixel in so many cells."""
    halves = [row for row in pixels for _ in range(size.half_rows)]
    if len(halves) % 2:
        halves.append("." * len(pixels[0]))
    pairs = zip(halves[::2], halves[1::2], strict=True)
    return [
        "".join(_HALVES[a == "#", b == "#"] * size.cells for a, b in zip(upper, lower, strict=True))
        for upper, lower in pairs
    ]
