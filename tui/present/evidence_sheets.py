"""The evidence laid out: the verdict large, then blocks of lines, each with its name in front."""

from __future__ import annotations

from collections.abc import Sequence

from rich.style import Style
from rich.text import Text

from audio.plan.evidence_proofs import proofs
from audio.plan.evidence_words import both_clicks, placement, reference_at, round_trip
from audio.vocab.findings import Verdict
from audio.vocab.variant import Variant
from tui.present import click_picture, evidence_chart, evidence_tables
from tui.present.evidence_tables import NAME
from tui.present.letters import large
from tui.present.looks import (
    ACCENT,
    SHAPES,
    STATE_LOOKS,
    STRONG,
    VERDICT_LOOKS,
    fitted,
    folded,
    text,
    wrapped_text,
)

TALL = 40
"""Rows of a screen from which pictures are higher."""

REFERENCE_ROWS, OTHER_ROWS, LANE_ROWS = (5, 15), (3, 7), (3, 7)
"""Of a picture, on a low screen and on a high one."""

_BETWEEN = 2
"""Cells between two sheets."""

_PROOF = 12
"""Cells of a proof's shape and name."""

_VERDICT_SHAPES: dict[Verdict, str] = {
    "good": SHAPES["set"],
    "look": SHAPES["stale"],
    "redo": SHAPES["wrong"],
}


def title(variant: Variant, columns: int, rows: int) -> list[Text]:
    """Return the verdict in large letters, and beside it which pass this is and where it was placed."""
    look = VERDICT_LOOKS[variant.verdict]
    words = f"{_VERDICT_SHAPES[variant.verdict]} {variant.verdict.upper()}"
    drawn = large(words, columns=columns // 2, rows=5 if rows >= TALL else 3) or [words, "", ""]
    wide = max(len(line) for line in drawn)
    first = (len(drawn) - 3) // 2
    beside = [""] * first + _beside_verdict(variant) + [""] * (len(drawn) - 3 - first)
    shown = [
        fitted(text(" ", (f"{line:{wide}}", look), "   ", (words, STRONG)), columns)
        for line, words in zip(drawn, beside, strict=True)
    ]
    return [*shown, text()] if rows >= TALL else shown


def _beside_verdict(variant: Variant) -> list[str]:
    state = "" if variant.state == "kept" else f"; {variant.state}"
    return [
        f"{variant.part} {variant.number:03d} through {variant.chain.name}",
        round_trip(variant),
        f"proof: {proofs(variant)[0].proof}{state}",
    ]


def named(name: str, lines: Sequence[Text], look: Style = ACCENT) -> list[Text]:
    """Return lines with a name in front of the first, all of them indented alike."""
    names = [name, *[""] * (len(lines) - 1)]
    return [
        text(" ", (f"{word:{NAME}}", look), " ") + line
        for word, line in zip(names, lines, strict=False)
    ]


def words_room(columns: int) -> int:
    """Return the cells that words have behind a name."""
    return columns - NAME - 3


def proof(variant: Variant, columns: int) -> list[Text]:
    """Return what each proof tells, the one that was used first, and where the pass was placed."""
    told: list[Text] = []
    for one in proofs(variant):
        lines = wrapped_text(one.words, words_room(columns) - _PROOF)
        mark = text((SHAPES[one.state], STATE_LOOKS[one.state]), f" {one.proof:{_PROOF - 3}} ")
        told += [(text(" " * _PROOF) if i else mark) + line for i, line in enumerate(lines)]
    where = wrapped_text(placement(variant), words_room(columns))
    return [*named("proof", told), *named("placement", where)]


def clicks(
    variant: Variant, columns: int, rows: int, *, earlier: Variant | None, span_ms: float
) -> list[Text]:
    """Return both clicks of each return in figures, then drawn, the reference return's first and large."""
    shown = evidence_tables.clicks(variant, columns, earlier)
    at, found = reference_at(variant), both_clicks(variant)
    if not any(one is not None and one.shape for _, *both in found for one in both):
        return shown
    shown.append(click_picture.axis(columns, span_ms))
    for i in sorted(range(len(found)), key=lambda i: i != at):
        high = REFERENCE_ROWS if i == at else OTHER_ROWS
        shown += click_picture.picture(
            *found[i],
            rate=variant.sample_rate,
            columns=columns,
            rows=high[rows >= TALL],
            span_ms=span_ms,
        )
    return shown


def along(variant: Variant, columns: int, rows: int) -> list[Text]:
    """Return the placement along the pass, drawn; a line that says so where nothing was compared."""
    lanes = evidence_chart.along(variant, columns, LANE_ROWS[rows >= TALL])
    if not lanes:
        return [evidence_tables.head("along", " the pass: nothing was compared with the DI")]
    words = " the pass: frames later or earlier than at its beginning"
    return [evidence_tables.head("along", words), *lanes]


def sheet(blocks: Sequence[list[Text]], columns: int) -> list[Text]:
    """Return blocks one below the other, a line free between them, in lines of at most so many cells."""
    lines = [line for block in blocks if block for line in [text(), *block]]
    return [part for line in lines[1:] for part in folded(line, columns)]


def half(columns: int) -> int:
    """Return the cells of each of two sheets side by side."""
    return (columns - _BETWEEN) // 2


def side_by_side(left: list[Text], right: list[Text], columns: int) -> list[Text]:
    """Return two sheets of `half` so many cells beside each other."""
    most = max(len(left), len(right))
    pairs = zip(*([*one, *[text()] * (most - len(one))] for one in (left, right)), strict=True)
    return [fitted(a, half(columns)) + text(" " * _BETWEEN) + b for a, b in pairs]
