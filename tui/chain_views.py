"""A chain is named, or written down."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from audio.vocab.names import chain_problem
from tui.screens.asking import NameScreen

if TYPE_CHECKING:
    from tui.app import Desk

ASKS = "What is plugged in? A name you will know next week, such as: fuzz into delay"


def name_chain(desk: Desk) -> None:
    """Ask for the name of what is plugged in."""
    if desk.model.doing == "pass":
        return
    named = partial(_named, desk)
    desk.push_screen(NameScreen(ASKS, first="", problem=chain_problem, named=named))


def _named(desk: Desk, name: str) -> None:
    desk.model.take_chain(name)
    desk.back_to_path("chain")


def write_chain(desk: Desk) -> None:
    """Write down the chain that is chosen, or start from it."""
    from tui.chain_draft import ChainDraft  # noqa: PLC0415 - most evenings never need it
    from tui.screens.chain_edit import ChainEditScreen  # noqa: PLC0415 - see above

    model = desk.model
    if model.busy or model.snapshot is None:
        return
    there = {one.chain.name: one.chain for one in model.snapshot.chains}
    base, wiring = there.get(model.chain), model.wiring()
    draft = ChainDraft(
        base=base,
        name=f"{model.chain} 2" if base else model.chain,
        returns=[one.name for one in wiring.returns] if wiring else [],
        taken=list(there),
    )
    desk.push_screen(ChainEditScreen(draft))
