"""Is a DI ready to be sent: all that is to be said of it, each with its place.

What a finding of a DI weighs: ``redo`` will spoil a pass and can be mended in the editor first; ``look``
may be heard and may be meant; ``good`` informs.
"""

from __future__ import annotations

from collections.abc import Callable

from msgspec.structs import replace

from audio.verdict.di_between import findings_of_between
from audio.verdict.di_edit import findings_of_edit_points
from audio.verdict.di_file import findings_of_file
from audio.verdict.di_level import findings_of_level
from audio.verdict.edited import findings_of_edit
from audio.vocab.findings import Finding
from audio.vocab.looped import EditGain
from audio.vocab.readiness import DiFinding, DiMeasures
from audio.vocab.wiring import Wiring

Place = Callable[[float], str]
"""Tells a frame of the DI in bars and beats; empty where no tempo is known."""


def findings_of(
    measures: DiMeasures,
    *,
    wiring: Wiring | None = None,
    edit: EditGain | None = None,
    place: Place = lambda _: "",
) -> tuple[DiFinding, ...]:
    """Return all that is to be said of a DI, the heaviest first, then by place.

    Parameters
    ----------
    measures
        What was measured.
    wiring
        What it will be sent through; None where it is not known.
    edit
        The DI held against the raw one; None where there is none.
    place
        Tells places in bars.

    Returns
    -------
    tuple of DiFinding
        See the modules that make them.
    """
    found = [
        *findings_of_file(measures, wiring=wiring),
        *findings_of_level(measures),
        *(_of_edit(one) for one in _edit_findings(edit)),
        *findings_of_edit_points(measures),
        *findings_of_between(measures),
    ]
    placed = [one if one.frame is None else replace(one, place=place(one.frame)) for one in found]
    return tuple(sorted(placed, key=_order))


_WEIGHTS = ("redo", "look", "good")


def _order(one: DiFinding) -> tuple[int, float]:
    return _WEIGHTS.index(one.weight), -1.0 if one.at_s is None else one.at_s


def _edit_findings(edit: EditGain | None) -> list[Finding]:
    return [] if edit is None else findings_of_edit(edit, raw="the raw DI")


def _of_edit(one: Finding) -> DiFinding:
    return DiFinding(
        code=one.code, weight=one.weight, text=one.text, at_s=one.at_s, advice=one.advice
    )
