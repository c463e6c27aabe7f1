"""What a verdict rests on: which proof was used, both clicks, the placement along the pass, the noise."""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text
from textual.app import ComposeResult
from textual.containers import VerticalScroll

from audio.vocab.findings import heaviest_first
from audio.vocab.variant import Variant
from tui.present import click_picture, evidence_chart, evidence_tables
from tui.present.evidence_tables import NAME, head
from tui.present.evidence_words import both_clicks, placement, proofs, reference_at, round_trip
from tui.present.letters import large
from tui.present.looks import (
    FAINT,
    SHAPES,
    STATE_LOOKS,
    STRONG,
    VERDICT_LOOKS,
    fitted,
    folded,
    paragraph,
    text,
)
from tui.present.top import key_line
from tui.screens.face import Face, bindings
from tui.stages.variants import told
from tui.widgets.lines import Lines

KEYS = (("back", ""), ("choose_up+choose_down", "read on"), ("go", ""), ("keys", ""))

TWO_COLUMNS = 140
"""Cells from which two sheets of a narrow screen's width stand side by side."""
_BETWEEN = 2

TALL = 40
"""Rows from which pictures are higher."""

_VERDICT_SHAPES = {"good": SHAPES["set"], "look": SHAPES["stale"], "redo": SHAPES["wrong"]}


class EvidenceScreen(Face):
    """One variant's evidence."""

    ACTIONS = (
        "back",
        "evidence",
        "choose_up",
        "choose_down",
        "go",
        "stop",
        "keys",
        "palette",
        "quit",
    )
    BINDINGS = bindings(*ACTIONS)
    DEFAULT_CSS = """
    EvidenceScreen { layout: vertical; }
    EvidenceScreen #head { height: auto; }
    EvidenceScreen #scroll { height: 1fr; scrollbar-size: 1 1; }
    EvidenceScreen #keys { height: 2; }
    """

    def __init__(self, variant: Variant) -> None:
        super().__init__()
        self._variant = variant

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
        variant, (columns, rows) = self._variant, self.size
        self.lines("head").put(title(variant, columns, rows))
        shown = evidence(variant, columns - 2, rows=rows, earlier=self._earlier())
        self.lines("evidence").put(shown)
        keys = key_line(KEYS, self.desk.settings, columns, main="back")
        self.lines("keys").put(self.foot(keys))

    def _earlier(self) -> Variant | None:
        """Return the pass before this one of the same part through the same chain."""
        here = self._variant
        others = self.desk.model.snapshot.variants if self.desk.model.snapshot else ()
        alike = [
            one
            for one in others
            if one.part == here.part
            and one.chain.name == here.chain.name
            and one.number < here.number
        ]
        return max(alike, key=lambda one: one.number, default=None)

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

    def _read(self, way: int) -> None:
        """Scroll by half of what is seen: lines take too many presses, a whole page loses the place."""
        scroll = self.query_one("#scroll", VerticalScroll)
        scroll.scroll_relative(y=way * max(scroll.size.height // 2, 1), animate=False)


def title(variant: Variant, columns: int, rows: int) -> list[Text]:
    """Return the verdict in large letters, and beside it which pass this is and where it was placed."""
    look, shape = VERDICT_LOOKS[variant.verdict], _VERDICT_SHAPES[variant.verdict]
    words = f"{shape} {variant.verdict.upper()}"
    drawn = large(words, columns=columns // 2, rows=5 if rows >= TALL else 3) or [words]
    state = "" if variant.state == "kept" else f", {variant.state}"
    beside = [
        (f"{variant.part} {variant.number:03d} through {variant.chain.name}{state}", STRONG),
        (round_trip(variant), STRONG),
        (f"proof: {proofs(variant)[0].proof}", STRONG),
    ]
    beside = [("", STRONG)] * ((len(drawn) - len(beside)) // 2) + beside
    lines = [*drawn, *[" " * len(drawn[0])] * (len(beside) - len(drawn))]
    beside += [("", STRONG)] * (len(lines) - len(beside))
    return [
        fitted(text(" ", (line, look), "   ", side), columns)
        for line, side in zip(lines, beside, strict=True)
    ]


def evidence(
    variant: Variant, columns: int, *, rows: int = 24, earlier: Variant | None = None
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

    Returns
    -------
    list of Text
        In the order in which an engineer asks.
    """
    side_by_side = columns >= TWO_COLUMNS
    wide = (columns - _BETWEEN) // 2 if side_by_side else columns
    left = _sheet(
        [_findings(variant, wide), _proof(variant, wide), _clicks(variant, wide, rows, earlier)],
        wide,
    )
    right = _sheet(
        [
            _along(variant, wide, rows),
            evidence_tables.noise(variant),
            evidence_tables.microphones(variant),
            evidence_tables.files(variant),
        ],
        wide,
    )
    return _beside(left, right, wide) if side_by_side else [*left, text(), *right]


def _sheet(blocks: Sequence[list[Text]], columns: int) -> list[Text]:
    """Return blocks one below the other, a line free between them."""
    lines = [line for block in blocks if block for line in [text(), *block]]
    return [part for line in lines[1:] for part in folded(line, columns)]


def _beside(left: list[Text], right: list[Text], columns: int) -> list[Text]:
    most = max(len(left), len(right))
    pairs = zip(*([*side, *[text()] * (most - len(side))] for side in (left, right)), strict=True)
    return [fitted(one, columns) + text(" " * _BETWEEN) + other for one, other in pairs]


def _findings(variant: Variant, columns: int) -> list[Text]:
    if not variant.findings:
        return [
            text(" ", (f"{variant.verdict.upper():{NAME}}", STRONG), " nothing to say against it")
        ]
    shown: list[Text] = []
    for one in heaviest_first(variant.findings):
        shown += _worded(one.weight.upper(), told(one), columns)
        if one.advice:
            shown += paragraph(one.advice, columns, FAINT, indent=NAME + 2)
    return shown


def _worded(name: str, words: str, columns: int) -> list[Text]:
    """Return words in lines, a name in front of the first."""
    lines = paragraph(words, columns, STRONG, indent=NAME + 2)
    lines[:1] = [text(" ", (f"{name:{NAME}}", STRONG), " ") + one[NAME + 2 :] for one in lines[:1]]
    return lines


def _proof(variant: Variant, columns: int) -> list[Text]:
    shown: list[Text] = []
    for one in proofs(variant):
        lines = paragraph(one.words, columns - 12, indent=NAME)
        mark = text((SHAPES[one.state], STATE_LOOKS[one.state]), f" {one.proof:9} ")
        shown += [text(" " * (NAME + 2)) + mark + lines[0][NAME:]] if lines else []
        shown += [text(" " * 14) + line for line in lines[1:]]
    shown[0] = head("proof") + shown[0][NAME + 1 :]
    where = paragraph(placement(variant), columns, indent=NAME + 2)
    where[0] = head("placement") + where[0][NAME + 1 :]
    return [*shown, *where]


def _clicks(variant: Variant, columns: int, rows: int, earlier: Variant | None) -> list[Text]:
    shown = evidence_tables.clicks(variant, columns, earlier)
    at, found = reference_at(variant), both_clicks(variant)
    if not any(one is not None and one.shape for _, *both in found for one in both):
        return shown
    shown.append(click_picture.axis(columns))
    for i in sorted(range(len(found)), key=lambda i: i != at):
        shown += click_picture.picture(
            *found[i], rate=variant.sample_rate, columns=columns, rows=_high(rows, i == at)
        )
    return shown


def _high(rows: int, is_reference: bool) -> int:
    """Return the rows of a click's picture."""
    if rows >= TALL:
        return 11 if is_reference else 5
    return 5 if is_reference else 3


def _along(variant: Variant, columns: int, rows: int) -> list[Text]:
    lanes = evidence_chart.along(variant, columns, 5 if rows >= TALL else 3)
    lost = evidence_tables.dropouts(variant)
    if not lanes and not lost:
        return []
    words = " frames later or earlier than at the beginning"
    return [head("along", words), *lanes, *lost]
