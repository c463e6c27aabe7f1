"""Two sounds on the command line: figures, words, and the picture as wide as the terminal."""

from __future__ import annotations

import sys

from audio.vocab.differences import SoundsApart
from tui.present.differ_picture import legend, picture
from tui.present.differ_table import table, title, words_lines
from tui.present.looks import text
from tui.present.terminal import tell, width

ROWS = 18
"""Of the picture."""


def tell_differences(apart: SoundsApart) -> None:
    """Print everything."""
    columns = width(sys.stdout)
    found = apart.differences
    lines = [title(apart), *table(apart, columns), text(), *words_lines(apart, columns), text()]
    lines += [legend(apart.a_text, apart.b_text), *picture(found, columns, ROWS)]
    for line in lines:
        tell(line.plain.rstrip())
