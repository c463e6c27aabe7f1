"""What a verdict rests on: which proof was used, both clicks, the placement along the pass, the noise."""

from __future__ import annotations

from rich.style import Style
from rich.text import Text
from textual.app import ComposeResult
from textual.containers import VerticalScroll

from audio.vocab.findings import heaviest_first
from audio.vocab.variant import Summary, Variant
from tui.actions import RATE
from tui.present import evidence_sheets, evidence_tables
from tui.present.click_picture import SPANS_MS, USUAL
from tui.present.evidence_sheets import named, words_room
from tui.present.looks import BAD, FAINT, PLAIN, STRONG, paragraph, text, wrapped_text
from tui.present.note_words import sheet_lines
from tui.present.top import key_line
from tui.screens import note_keys
from tui.screens.face import bindings
from tui.screens.note_keys import NoteKeys
from tui.stages.variants import told
from tui.stepping import stepped
from tui.widgets.lines import Lines

KEYS = (
    ("back", ""),
    ("choose_up+choose_down", "read on"),
    ("zoom_in+zoom_out", "closer"),
    (RATE, "rate"),
    ("words", ""),
    ("go", "pass"),
    ("keys", ""),
    ("keep", ""),
)

TWO_SHEETS = 140
"""Cells from which two sheets of a narrow screen's width stand side by side."""


class EvidenceScreen(NoteKeys):
    """One variant's evidence."""

    ACTIONS = (
        "back",
        "evidence",
        "choose_up",
        "choose_down",
        "zoom_in",
        "zoom_out",
        "go",
        "stop",
        "keys",
        "palette",
        "quit",
        *note_keys.ACTIONS,
    )
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    EvidenceScreen { layout: vertical; }
    EvidenceScreen #head { height: auto; }
    EvidenceScreen #scroll { height: 1fr; scrollbar-size: 1 1; }
    EvidenceScreen #keys { height: 2; }
    """

    def __init__(self, part: str, number: int) -> None:
        super().__init__()
        self._part, self._number = part, number
        self._span = USUAL

    def body(self) -> ComposeResult:
        """Make the view."""
        yield Lines(id="head")
        with VerticalScroll(id="scroll", can_focus=False):
            yield Lines(id="evidence")
        yield Lines(id="keys")

    def keys_here(self) -> tuple[tuple[str, str], ...]:
        """Return the keys of this view."""
        return KEYS

    def draw_body(self) -> None:
        """Draw the evidence."""
        columns, rows = self.size
        read = self.desk.model.evidence
        if read is None or (read.part, read.number) != (self._part, self._number):
            self._put_words("reading what the pass left …", FAINT)
        elif read.variant is None:
            self._put_words(read.problem, BAD)
        else:
            self.lines("head").put(evidence_sheets.title(read.variant, columns, rows))
            shown = evidence(
                read.variant, columns - 2, rows=rows, earlier=read.earlier, span=self._span
            )
            self.lines("evidence").put([*shown, *self._notes(read.variant, columns - 2)])
        keys = key_line(KEYS, self.desk.settings, columns, main="back")
        self.lines("keys").put(self.foot(keys))

    def noted(self) -> Summary | None:
        """Return the variant, once it was read."""
        read = self.desk.model.evidence
        there = read is not None and (read.part, read.number) == (self._part, self._number)
        return read.variant if there and read is not None else None

    def _notes(self, variant: Variant, columns: int) -> list[Text]:
        """Return what was said of it, and its history."""
        self.want_history(variant)
        notes, key = self.desk.model.notes, (self._part, self._number)
        said, happened = notes.of(*key), notes.happened(*key)
        room = words_room(columns)
        told_of, tales = sheet_lines(said, happened, variant.chain.name, room)
        blocks = [named("said", told_of), named("history", tales)]
        return [line for block in blocks if block for line in [text(), *block]]

    def _put_words(self, words: str, look: Style) -> None:
        """Show words in the evidence's place."""
        self.lines("head").put([text((f" {self._part} {self._number:03d}", STRONG))])
        self.lines("evidence").put([text(), *paragraph(words, self.size.width - 2, look)])

    def action_back(self) -> None:
        """Go back."""
        self.desk.pop_screen()

    def action_evidence(self) -> None:
        """Go back: the same key that brought it."""
        self.action_back()

    def action_choose_up(self) -> None:
        """Read back."""
        self._read(-1)

    def action_choose_down(self) -> None:
        """Read on."""
        self._read(1)

    def action_zoom_in(self) -> None:
        """Look closer at the clicks."""
        self._zoom(1)

    def action_zoom_out(self) -> None:
        """See more of the clicks."""
        self._zoom(-1)

    def _zoom(self, step: int) -> None:
        self._span = stepped(range(len(SPANS_MS)), self._span, step)
        self.draw()

    def _read(self, way: int) -> None:
        """Scroll by half of what is seen: lines take too many presses, a whole page loses the place."""
        scroll = self.query_one("#scroll", VerticalScroll)
        scroll.scroll_relative(y=way * max(scroll.size.height // 2, 1), animate=False)


def evidence(
    variant: Variant,
    columns: int,
    *,
    rows: int = 24,
    earlier: Variant | None = None,
    span: int = USUAL,
) -> list[Text]:
    """Return everything a verdict rests on, in lines of at most so many cells.

    Parameters
    ----------
    variant
        Any, also one that was written before some of its evidence was kept.
    columns
        Cells there are; where two sheets have room they stand side by side.
    rows
        Of the whole screen: on a high one pictures are higher.
    earlier
        The pass before through the same chain, if there is one.
    span
        Which of `tui.present.click_picture.SPANS_MS` the clicks' pictures span.

    Returns
    -------
    list of Text
        In the order in which an engineer asks.
    """
    is_wide = columns >= TWO_SHEETS
    wide = evidence_sheets.half(columns) if is_wide else columns
    clicks = evidence_sheets.clicks(variant, wide, rows, earlier=earlier, span_ms=SPANS_MS[span])
    first = [_findings(variant, wide), evidence_sheets.proof(variant, wide), clicks]
    second = [
        evidence_sheets.along(variant, wide, rows),
        evidence_tables.noise(variant),
        evidence_tables.microphones(variant),
        evidence_tables.files(variant),
    ]
    if not is_wide:
        return evidence_sheets.sheet([*first, *second], wide)
    left, right = evidence_sheets.sheet(first, wide), evidence_sheets.sheet(second, wide)
    return evidence_sheets.side_by_side(left, right, columns)


def _findings(variant: Variant, columns: int) -> list[Text]:
    """Return the findings that weigh, or that there is none, then those that only inform."""
    shown: list[Text] = []
    if all(one.weight == "good" for one in variant.findings):
        nothing = [text(("nothing to say against it", STRONG))]
        shown += named(variant.verdict.upper(), nothing, STRONG)
    for one in heaviest_first(variant.findings):
        weighs = one.weight != "good"
        lines = wrapped_text(told(one), words_room(columns), STRONG if weighs else PLAIN)
        lines += wrapped_text(one.advice, words_room(columns), FAINT) if one.advice else []
        shown += named(one.weight.upper() if weighs else "note", lines, STRONG if weighs else FAINT)
    return shown
