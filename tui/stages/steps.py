"""The steps of the set-up that belong to a stage: how each stands, and what to mind there."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from rich.text import Text

from audio.plan.path import STEPS_AT, StageName
from audio.plan.setup import StepStatus
from audio.vocab.step_names import StepName
from tui.model import Model
from tui.present.glyphs import cut
from tui.present.looks import FAINT, HERE, SHAPES, STATE_LOOKS, STRONG, paragraph, text

KEYS = (
    ("choose_up+choose_down", "step"),
    ("set", ""),
    ("go", ""),
    ("walk_left+walk_right", "walk"),
    ("keys", ""),
)

CAUTIONS: dict[StageName, str] = {
    "amp": (
        "Keep a speaker or its rated load on a valve amp; standby while you replug. Against hum use the"
        " ground lift of the reamp or DI box, never lift the mains safety earth. The inside of an amp is"
        " for a qualified technician. Local rules come first."
    ),
    "mics": (
        "Standby before you go near the speaker. Phantom power off wherever it could meet the patch, and"
        " before a ribbon is moved."
    ),
    "returns": (
        "The amp plays as loud as it is set. Loud amps harm hearing: NIOSH 98-126 recommends at most 85 dBA"
        " over 8 hours, half the time for each 3 dB more."
    ),
}
"""Common cautions of the trade; where a figure stands, its source."""

EMPTY: dict[StageName, str] = {
    "amp": "What the amp sounds like when nothing plays: its noise, and hum with its cure. {set} listens.",
    "mics": "Which microphones are upside down, and how far they stand. {set} sends the test click.",
}


def steps_of(stage: StageName) -> tuple[StepName, ...]:
    """Return the steps walked at a stage; none at some."""
    return STEPS_AT.get(stage, ())


def step_rows(model: Model, stage: StageName, *, at: int) -> list[Text]:
    """Return a line for each step of a stage, the one at `at` under the cursor."""
    return [
        step_row(status, here=index == at) for index, status in enumerate(_standing(model, stage))
    ]


def lines(
    model: Model, stage: StageName, columns: int, rows: int, *, at: int, key: Callable[[str], str]
) -> list[Text]:
    """Return a stage that is its steps: what it is for, how they stand, what the newest says, cautions."""
    standing = _standing(model, stage)
    shown = [text(), *paragraph(EMPTY[stage].format(set=key("set")), columns, FAINT), text()]
    if any(one.record for one in standing):
        shown = [text()]
    shown += step_rows(model, stage, at=at)
    if standing:
        shown += said_of(standing[min(at, len(standing) - 1)], columns)
    return [*shown, text(), *paragraph(CAUTIONS[stage], columns, FAINT)][:rows]


def said_of(status: StepStatus, columns: int) -> list[Text]:
    """Return what the newest record of a step says."""
    if status.record is None:
        return []
    outcome = status.record.outcome
    shown = [text(), *paragraph(outcome.headline, columns, STRONG, indent=4)]
    for finding in outcome.findings:
        if finding.text != outcome.headline:
            shown += paragraph(finding.text, columns, indent=4)
        if finding.advice:
            shown += paragraph(finding.advice, columns, FAINT, indent=6)
    return shown


def _standing(model: Model, stage: StageName) -> Sequence[StepStatus]:
    here = steps_of(stage)
    return [one for one in model.standing() if one.step in here]


def step_row(status: StepStatus, *, here: bool) -> Text:
    """Return one step in a line: its state, what it was set to, when."""
    record = status.record
    when = f"{record.made_at[5:10]} {record.made_at[11:16]}" if record else ""
    what = record.outcome.summary if record else ""
    return text(
        "  ▸ " if here else "    ",
        (f"{status.step:<12}", HERE if here else STRONG),
        "  ",
        (f"{SHAPES[status.state]} {status.state:<8}", STATE_LOOKS[status.state]),
        f"  {cut(what, 22)}",
        (f"  {when}", FAINT),
    )
