"""What the stages of the path depend on, from what the screen knows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from audio.plan.keepers import keepers_of
from audio.plan.path import PathFacts

if TYPE_CHECKING:
    from tui.model import Model


def path_facts(model: Model) -> PathFacts:
    """Return all that the states of the path depend on."""
    wiring = model.wiring()
    variants = model.variants()
    return PathFacts(
        part=model.part,
        di_problem=_di_problem(model),
        di_worst=len(model.checks.open_worst(model.part or "")),
        di_looks=_looks(model),
        wiring_problem=_wiring_problem(model),
        send_output=wiring.send_output if wiring else None,
        stream=stream_state(model),
        stream_problem=model.stream_lost,
        chain=model.chain,
        click=_click(model),
        click_problem=_click_problem(model),
        returns=len(wiring.returns) if wiring else 0,
        variants=len(variants),
        keepers=_keepers(model),
        steps=model.standing(),
        newest_is_redo=bool(variants) and variants[0].verdict == "redo",
    )


def _keepers(model: Model) -> int:
    said = model.snapshot.opinions if model.snapshot else ()
    return len(keepers_of(said, model.part or ""))


def _wiring_problem(model: Model) -> str:
    snap = model.snapshot
    if snap is None or snap.wiring is not None:
        return ""
    if snap.file.wiring is None:  # the way out leads over the screen here, not over a command
        return "the session has no wiring yet; choose device, send and returns"
    return snap.wiring_problem


def _looks(model: Model) -> int:
    checked = model.checks.of(model.part or "")
    return sum(1 for one in checked.findings if one.weight == "look") if checked is not None else 0


def _di_problem(model: Model) -> str:
    read, wiring = model.dis.get(model.part or ""), model.wiring()
    if read is None:
        return ""
    if read.problem or read.facts is None:
        return read.problem
    if wiring is not None and read.facts.sample_rate != wiring.sample_rate:
        return (
            f"{model.part} is recorded at {read.facts.sample_rate} Hz and the wiring runs at"
            f" {wiring.sample_rate} Hz; set sample_rate in the wiring, or export the DI at that rate"
        )
    return ""


def stream_state(model: Model) -> Literal["closed", "open", "other", "lost"]:
    """Return how the stream stands; ``other``: it runs with another wiring than the session's."""
    if model.opened is not None:
        return "open" if model.stream_wiring == model.wiring() else "other"
    return "lost" if model.stream_lost else "closed"


def _click(model: Model) -> Literal["none", "heard", "unheard", "old"]:
    if model.delay is None:
        return "none"
    if model.delay_is_old:
        return "old"
    return "unheard" if any(one.delay_frames is None for one in model.delay.returns) else "heard"


def _click_problem(model: Model) -> str:
    if model.delay is None or not model.delay.findings:
        return "the test click was not heard"
    first = model.delay.findings[0]
    return f"{first.text} {first.advice}".strip()
