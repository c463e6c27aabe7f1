"""A return whose sound came in elsewhere: its click was heard on an input the wiring does not name."""

from __future__ import annotations

from audio.verdict.case import Case
from audio.verdict.heard import answered
from audio.verdict.words import listing
from audio.vocab.findings import Finding, Verdict
from audio.vocab.wiring import Return


def wrong_input(case: Case) -> list[Finding]:
    """Return which returns missed the opening click while an unwired input heard it.

    Weighs redo when the reference is among them, else look.
    """
    order, strays = case.order, case.order.stray_inputs
    pairs = zip(order.wiring.returns, order.opening_click, strict=False)
    missing = [r for r, click in pairs if not answered(click)]
    if not strays or not missing:
        return []
    reference = any(r.name == order.wiring.reference for r in missing)
    return [stray_finding(strays, missing, weight="redo" if reference else "look")]


def stray_finding(strays: tuple[int, ...], missing: list[Return], *, weight: Verdict) -> Finding:
    """Return what is said of a click that came back on inputs nobody wired."""
    came = listing([str(i) for i in strays])
    inputs = "inputs" if len(strays) > 1 else "input"
    says = listing([f"{r.input} for {r.name}" for r in missing])
    text = f"The click came back on {inputs} {came}; the wiring says {says}."
    advice = "Move the cable, or change the input in the wiring file."
    return Finding(code="wrong-input", weight=weight, text=text, advice=advice)
