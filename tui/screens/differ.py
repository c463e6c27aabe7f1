"""What is different between two sounds of a part: picture, figures, and what would make A like B."""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text
from textual.app import ComposeResult
from textual.containers import VerticalScroll

from audio.jobs.orders import CompareSounds
from audio.vocab.differences import SoundsApart
from audio.vocab.layers import SoundName
from tui.present.differ_picture import legend, picture
from tui.present.differ_table import table, title, words_lines
from tui.present.evidence_sheets import half, side_by_side
from tui.present.looks import BAD, FAINT, STRONG, paragraph, text
from tui.present.top import key_line
from tui.screens.face import Face, bindings
from tui.stepping import stepped
from tui.widgets.lines import Lines

KEYS = (
    ("back", ""),
    ("choose_up+choose_down", "choose B"),
    ("walk_left+walk_right", "choose A"),
    ("page_up+page_down", "read on"),
    ("go", "pass"),
    ("keys", ""),
)

TWO_SHEETS = 140
"""Cells from which words stand beside the figures."""

LEAST_PICTURE = 11
"""Rows of the picture on the smallest screen: six of the spectra's, one of figures, five of the bars'."""


class DifferScreen(Face):
    """Two sounds of one part.

    Parameters
    ----------
    part
        The part's name.
    a
        The sound that would have to change.
    b
        The sound it is held against.
    """

    ACTIONS = (
        "back",
        "differ",
        "choose_up",
        "choose_down",
        "walk_left",
        "walk_right",
        "page_up",
        "page_down",
        "go",
        "stop",
        "keys",
        "palette",
        "quit",
    )
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    DifferScreen { layout: vertical; }
    DifferScreen #head { height: auto; }
    DifferScreen #scroll { height: 1fr; scrollbar-size: 1 1; }
    DifferScreen #keys { height: 2; }
    """

    def __init__(self, part: str, a: SoundName, b: SoundName) -> None:
        super().__init__()
        self._part, self._a, self._b = part, a, b
        self._asked: tuple[SoundName, SoundName] | None = None

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="head")
        with VerticalScroll(id="scroll", can_focus=False):
            yield Lines(id="differences")
        yield Lines(id="keys")

    def keys_here(self) -> Sequence[tuple[str, str]]:
        """Return the keys of this view."""
        return KEYS

    def draw_body(self) -> None:
        """Draw the two sounds once they were compared; ask for that where nobody did."""
        columns, rows = self.size
        self._want()
        read = self.desk.model.apart
        self.lines("head").put(self._head())
        if self._a == self._b:
            shown = paragraph("the part has no other sound yet", columns, FAINT)
        elif read is None or (read.part, read.a, read.b) != (self._part, self._a, self._b):
            shown = [text(), text((" measuring both sounds …", FAINT))]
        elif read.apart is None:
            shown = [text(), *paragraph(read.problem, columns - 2, BAD)]
        else:
            shown = sheet(read.apart, columns - 1, rows - 4)
        self.lines("differences").put(shown)
        keys = key_line(KEYS, self.desk.settings, columns, main="back")
        self.lines("keys").put(self.foot(keys))

    def _head(self) -> list[Text]:
        read = self.desk.model.apart
        shown = read.apart if read is not None else None
        if shown is None or (shown.part, shown.a, shown.b) != (self._part, self._a, self._b):
            return [text((f" {self._part}", STRONG), f"  A {self._a}  ·  B {self._b}")]
        return [title(shown)]

    def _want(self) -> None:
        """Have the two compared; while one pair is measured no other one waits behind it."""
        read, pair = self.desk.model.apart, (self._a, self._b)
        if read is not None and read.part == self._part and (read.a, read.b) == self._asked:
            self._asked = None
        known = read is not None and (read.part, read.a, read.b) == (self._part, *pair)
        if self._asked is None and not known and self._a != self._b:
            self._asked = pair
            self.desk.runner_look(CompareSounds(part=self._part, a=self._a, b=self._b))

    # ------------------------------------------------------------ choosing

    def action_choose_up(self) -> None:
        """Hold A against the sound before."""
        self._b = self._other(self._b, -1, than=self._a)
        self.draw()

    def action_choose_down(self) -> None:
        """Hold A against the sound after."""
        self._b = self._other(self._b, 1, than=self._a)
        self.draw()

    def action_walk_left(self) -> None:
        """Take the sound before as A."""
        self._a = self._other(self._a, -1, than=self._b)
        self.draw()

    def action_walk_right(self) -> None:
        """Take the sound after as A."""
        self._a = self._other(self._a, 1, than=self._b)
        self.draw()

    def _other(self, name: SoundName, step: int, *, than: SoundName) -> SoundName:
        """Return the sound before or after one, never the one it is held against."""
        sounds = [one for one in self.desk.model.sounds(self._part) if one != than]
        if name not in sounds:
            return sounds[0] if sounds else name
        return stepped(sounds, sounds.index(name), step)

    # ------------------------------------------------------------ reading, leaving

    def action_page_up(self) -> None:
        """Read back."""
        self._read(-1)

    def action_page_down(self) -> None:
        """Read on."""
        self._read(1)

    def _read(self, way: int) -> None:
        scroll = self.query_one("#scroll", VerticalScroll)
        scroll.scroll_relative(y=way * max(scroll.size.height // 2, 1), animate=False)

    def action_back(self) -> None:
        """Go back."""
        self.desk.pop_screen()

    def action_differ(self) -> None:
        """Go back: the same key that brought it."""
        self.action_back()


def other_than(sounds: Sequence[SoundName], a: SoundName, *, last: SoundName) -> SoundName:
    """Return what a sound is held against at first.

    Parameters
    ----------
    sounds
        Of the part, the newest variant first.
    a
        The sound under the cursor.
    last
        What was held against last; empty where nothing was.

    Returns
    -------
    SoundName
        The last one where it is there and another sound, else the first other one; `a` itself where it is
        the only one.
    """
    others = [one for one in sounds if one != a]
    return last if last in others else next(iter(others), a)


def sheet(apart: SoundsApart, columns: int, rows: int) -> list[Text]:
    """Return the legend, the picture, figures and words.

    Parameters
    ----------
    apart
        Two sounds.
    columns
        Cells there are; words stand beside the figures where they have room.
    rows
        Rows there are: the picture takes what figures and words leave.

    Returns
    -------
    list of Text
        All of it; more lines than `rows` where they are few.
    """
    if columns >= TWO_SHEETS:
        left, right = table(apart, half(columns)), words_lines(apart, half(columns))
        below = side_by_side(left, right, columns)
    else:
        below = [*table(apart, columns), *words_lines(apart, columns)]
    high = max(rows - len(below) - 2, LEAST_PICTURE)
    drawn = picture(apart.differences, columns, high)
    return [legend(apart.a_text, apart.b_text), *drawn, text(), *below]
