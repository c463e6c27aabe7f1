"""The chain card: a chain as it is set by hand, what changes in letters that are read across a room.

What has to be touched stands large as long as there is room for it, in the order of the work: what comes
out, then along the signal. What stays is there too, small, so that somebody who sets everything anew has it
all on one card. Where letters have no drawing, or the room ends, words stand in plain size: nothing is left
out for looks.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec.structs import replace
from rich.text import Text

from audio.vocab.card import CardLine
from tui.present.chain_words import IN_THE_LOOP
from tui.present.glyphs import cells_of, cut
from tui.present.letters import LetterSize, sized
from tui.present.looks import ACCENT, FAINT, STRONG, text, wrapped_text

WORD_CELLS = 7
NAME_CELLS = 16
LETTERS = (LetterSize(4, 4), LetterSize(2, 2), LetterSize(1, 1))
"""The largest that hold everything that changes; the smallest carry three metres at the size a terminal
usually has (tried by eye)."""


def drawn(lines: Sequence[CardLine], columns: int, rows: int) -> list[Text]:
    """Return a card's lines: as many of the changes large as fit in so many rows.

    Parameters
    ----------
    lines
        What stands on it.
    columns
        Cells there are.
    rows
        Rows there are; where even plain words need more, more lines are returned, to be scrolled.

    Returns
    -------
    list of Text
        From the top.
    """
    for size in LETTERS[:-1]:
        shown, all_of_it = _drawn(lines, columns, rows, size)
        if all_of_it:
            return shown
    return _drawn(lines, columns, rows, LETTERS[-1])[0]


def _drawn(
    lines: Sequence[CardLine], columns: int, rows: int, size: LetterSize
) -> tuple[list[Text], bool]:
    """Return a card in letters of a size, and whether all that changes is in them."""
    plain = [_plain(one, columns) for one in lines]
    left, all_of_it = rows - sum(len(one) for one in plain), True
    shown: list[Text] = []
    for one, small in zip(lines, plain, strict=True):
        sizes = list(_larger(one, columns, size))
        fits = (big for big in sizes if big and len(big) - len(small) <= left)
        chosen = next(fits, small)
        all_of_it = all_of_it and (not sizes or chosen is sizes[0])
        left -= len(chosen) - len(small)
        shown += chosen
    return shown, all_of_it


def _plain(one: CardLine, columns: int) -> list[Text]:
    """Return a line in plain words; what is too long goes on below its settings."""
    look = STRONG if one.word else FAINT
    told = [*one.settings, *([f"({one.was})"] if one.was else [])]
    margin = 1 + WORD_CELLS + NAME_CELLS
    pieces = wrapped_text("  ".join(told), max(columns - margin - 1, 10), look) or [Text()]
    head = text(
        " ",
        (f"{one.word:<{WORD_CELLS}}", ACCENT),
        (cut(one.name, NAME_CELLS - 1) + " ", look),
    )
    return [head + pieces[0], *(text(" " * margin) + piece for piece in pieces[1:])]


def _larger(one: CardLine, columns: int, size: LetterSize) -> Iterator[list[Text]]:
    """Yield a line drawn larger than plain words: all of it first, then its name alone."""
    if not one.word:
        return
    told = _told(one)
    yield _large(one, told, columns, size)
    if len(told) > 1:
        below = _plain(replace(one, word="", name=""), columns)
        name = _large(one, told[:1], columns, size)
        yield [*name[:-1], *below] if name else []


def _large(one: CardLine, told: Sequence[str], columns: int, size: LetterSize) -> list[Text]:
    """Return what is to be done with a thing in large letters; empty where they do not fit."""
    room = columns - 1 - WORD_CELLS
    rows: list[Text] = []
    for number, words in enumerate(_packed(told, room, size)):
        letters = _letters(words, room, size)
        if not letters:
            return []
        for at, row in enumerate(letters):
            word = one.word if number == 0 and at == size.rows // 2 else ""
            rows.append(text(" ", (f"{word:<{WORD_CELLS}}", ACCENT), (row, STRONG)))
    return [*rows, text()] if rows else []


def _told(one: CardLine) -> list[str]:
    """Return the pieces that are read from afar."""
    match one.word:
        case "new":
            return [one.name, *(words for words in one.settings if words != IN_THE_LOOP)]
        case "turn" | "moved":
            return [one.name, *([one.was] if one.word == "moved" else []), *one.changed]
        case _:
            return [one.name]


def _packed(pieces: Sequence[str], room: int, size: LetterSize) -> list[str]:
    """Return pieces in as few rows as hold them; one that is too wide by itself stands alone."""
    packed: list[str] = []
    for piece in pieces:
        joined = f"{packed[-1]}  {piece}" if packed else piece
        if packed and _letters(joined, room, size):
            packed[-1] = joined
        else:
            packed.append(piece)
    return packed


def _letters(words: str, room: int, size: LetterSize) -> list[str]:
    """Return words in letters of a size; empty where that does not fit."""
    drawing = sized(words, size)
    return drawing if drawing and cells_of(drawing[0]) <= room else []
