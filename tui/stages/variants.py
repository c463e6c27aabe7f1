"""Variants: what the passes of this part left."""

from __future__ import annotations

from collections.abc import Callable

from rich.text import Text

from audio.vocab.findings import Finding
from audio.vocab.units import clock_time
from audio.vocab.variant import Broken, Summary
from tui.model import Model
from tui.present.glyphs import cut
from tui.present.looks import FAINT, HERE, STRONG, VERDICT_LOOKS, in_sight, paragraph, text
from tui.present.plain import level

KEYS = (
    ("choose_up+choose_down", "variant"),
    ("evidence", ""),
    ("go", ""),
    ("next_part", ""),
    ("walk_left+walk_right", "walk"),
    ("keys", ""),
)

EMPTY = (
    "Every pass leaves a numbered variant here, with its verdict. For the first one choose a chain, then"
    " press {go}."
)


def lines(
    model: Model, columns: int, rows: int, *, at: int, key: Callable[[str], str]
) -> list[Text]:
    """Return the chosen part's variants, the newest first, and what is to be said of the one at `at`."""
    found = model.variants()
    broken = model.snapshot.broken if model.snapshot else ()
    if not found and not broken:
        return [text(), *paragraph(EMPTY.format(go=key("go")), columns, FAINT)]
    below = _below(found[at], columns) if found else []
    below = [*below, *_damaged(broken, columns, rows)][: max(rows - 3, 0)]
    room = max(rows - len(below) - 1, 1)
    listed = [_one(found[i], here=i == at) for i in in_sight(len(found), at, room)]
    return [*listed, text(), *below][:rows]


def _damaged(broken: tuple[Broken, ...], columns: int, rows: int) -> list[Text]:
    """Return why variants cannot be read; of thousands no more than could be seen."""
    return [line for one in broken[:rows] for line in paragraph(f"× {one.reason}", columns)]


def _one(one: Summary, *, here: bool) -> Text:
    verdict = (f" {one.verdict.upper():4} ", VERDICT_LOOKS[one.verdict])
    state = "" if one.state == "kept" else f"  {one.state}"
    peak = max((file.peak_dbfs for file in one.files), default=-200.0)
    name = (f"{one.number:03d} {cut(one.chain.name, 28)}", HERE if here else STRONG)
    return text(
        "  ▸ " if here else "    ",
        name,
        "  ",
        verdict,
        (f"  peak {level(peak)} dBFS  {one.made_at[11:16]}{state}", FAINT),
    )


def _below(one: Summary, columns: int) -> list[Text]:
    shown: list[Text] = []
    for finding in one.findings or ():
        shown += paragraph(told(finding), columns)
        if finding.advice:
            shown += paragraph(finding.advice, columns, FAINT, indent=3)
    if not one.findings:
        shown.append(text((" nothing to say against it", FAINT)))
    return shown


def told(finding: Finding) -> str:
    """Return a finding in one line: where, unless it says so itself, and what."""
    at = "" if finding.at_s is None else clock_time(finding.at_s)
    return finding.text if at in finding.text else f"{at} {finding.text}"
