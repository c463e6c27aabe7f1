"""How things look: one accent, three weights for verdicts, and words that need no colour."""

from __future__ import annotations

from rich.console import Console
from rich.style import Style
from rich.text import Text

from audio.plan.path import StageState
from audio.vocab.findings import Verdict
from tui.present.terminal import clean

PLAIN = Style()
STRONG = Style(bold=True)
FAINT = Style(color="#8a9099")
ACCENT = Style(color="#e8b04b", bold=True)
HERE = Style(color="#e8b04b", bold=True, reverse=True)
"""Where the cursor is: reversed, so that it is seen without colour."""
WELL = Style(color="#7fc08a")
CARE = Style(color="#e8b04b")
BAD = Style(color="#ef7a6d", bold=True)

SHAPES: dict[StageState, str] = {"set": "■", "not set": "□", "stale": "▲", "wrong": "×"}
STATE_LOOKS: dict[StageState, Style] = {"set": WELL, "not set": FAINT, "stale": CARE, "wrong": BAD}
VERDICT_LOOKS: dict[Verdict, Style] = {"good": WELL, "look": CARE, "redo": BAD}


def text(*pieces: str | tuple[str, Style]) -> Text:
    """Return one line of pieces, each plain or with a look; nothing in them can steer the terminal."""
    line = Text(no_wrap=True, end="")
    for piece in pieces:
        words, look = (piece, PLAIN) if isinstance(piece, str) else piece
        line.append(clean(words), look)
    return line


def fitted(line: Text, columns: int) -> Text:
    """Return a line cut or filled to exactly so many cells."""
    copy = line.copy()
    copy.truncate(max(columns, 0), overflow="ellipsis", pad=True)
    return copy


def two_sided(left: Text, right: Text, columns: int) -> Text:
    """Return a line with one text at each end; where they meet, the right one keeps a third of the line."""
    most = max(columns - left.cell_len, columns // 3)
    end = right if right.cell_len <= most else fitted(right, most)
    return fitted(left, columns - end.cell_len) + end


def wrapped_text(words: str, columns: int, look: Style = PLAIN) -> list[Text]:
    """Return words in lines of at most so many cells."""
    line = Text.assemble((clean(words), look))
    wrapped = line.wrap(_WRAPPING, max(columns, 1), tab_size=1)
    for one in wrapped:
        one.rstrip()
    return list(wrapped)


def folded(line: Text, columns: int) -> list[Text]:
    """Return a line as it is, or in several of at most so many cells where it is wider."""
    if line.cell_len <= columns:
        return [line]
    return list(line.wrap(_WRAPPING, max(columns, 1), tab_size=1, no_wrap=False))


def paragraph(words: str, columns: int, look: Style = PLAIN, *, indent: int = 1) -> list[Text]:
    """Return words in lines of at most so many cells, all of them indented alike."""
    return [text(" " * indent) + one for one in wrapped_text(words, columns - indent - 1, look)]


def window(listed: list[Text], at: int, rows: int) -> list[Text]:
    """Return as many lines as there is room for, the one at `at` among them."""
    seen = in_sight(len(listed), at, rows)
    return listed[seen.start : seen.stop]


def in_sight(count: int, at: int, rows: int) -> range:
    """Return which of so many lines there is room for, the one at `at` among them."""
    if count <= rows:
        return range(count)
    first = min(max(at - rows // 2, 0), count - rows)
    return range(first, first + rows)


_WRAPPING = Console(width=80, no_color=True)
"""Wraps by cells; nothing is ever printed to it."""
