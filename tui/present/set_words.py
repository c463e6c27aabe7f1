"""The set-up in words and columns, made to be read at 80 columns."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from audio.plan.setup import StepStatus
from audio.vocab.setup import SetupRecord
from tui.present.target import band_columns
from tui.present.terminal import clean, tell, width, wrapped

NAME_CELLS = 12
STATE_CELLS = 8


def tell_record(record: SetupRecord) -> None:
    """Print what a step found: its state and headline, each figure, and what to do."""
    outcome = record.outcome
    of = f" of {record.part}" if record.part else ""
    state = "wrong" if record.verdict == "redo" else "look" if record.verdict == "look" else "set"
    _tell(f"{state.upper():5} {record.step}{of}: {outcome.headline}", 0)
    names = max((len(clean(row.name)) for row in outcome.rows), default=0)
    figures = max((len(row.figure) for row in outcome.rows), default=0)
    for row in outcome.rows:
        head = f"      {clean(row.name):{names}}  {row.figure:>{figures}}"
        tell(f"{head}  {clean(row.word)}".rstrip())
        if row.bands_db:
            tell(f"      {'':{names}}  {band_columns(row.bands_db)}  100 Hz to 5 kHz, ±3 dB")
    for finding in outcome.findings:
        if finding.text != outcome.headline:
            _tell(finding.text, 6)
        _tell(finding.advice, 8)


def tell_standing(found: Sequence[StepStatus]) -> None:
    """Print every step as it stands: its state, what it was set to, or why it does not hold."""
    for one in found:
        what = one.record.outcome.summary if one.record and one.state == "set" else one.why
        of = f" of {one.record.part}" if one.record and one.record.part else ""
        head = f"{one.state:{STATE_CELLS}}  {one.step + of:{NAME_CELLS}}  "
        tell(f"{head}{what}".rstrip())


def _tell(text: str, indent: int) -> None:
    for line in wrapped(text, columns=width(sys.stdout), indent=indent):
        tell(line)
