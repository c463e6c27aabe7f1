"""Chain: what is plugged in now."""

from __future__ import annotations

from rich.text import Text

from audio.vocab.names import BARE_PATH
from audio.vocab.variant import Summary
from tui.model import Model
from tui.present.glyphs import cells_of, cut
from tui.present.looks import FAINT, HERE, STRONG, VERDICT_LOOKS, in_sight, text

KEYS = (
    ("choose_up+choose_down", "what is plugged in"),
    ("name", ""),
    ("write", ""),
    ("go", ""),
    ("walk_left+walk_right", "walk"),
    ("keys", ""),
)


def lines(model: Model, rows: int) -> list[Text]:
    """Return the chains to choose from, in at most so many rows."""
    head = [
        text(
            (
                " What is plugged in now? Set it by hand, then choose it here, or name a new one.",
                FAINT,
            )
        )
    ]
    chains = model.chains()
    names = min(max(cells_of(name) for name in chains), 40)
    newest = {model.notes.chain_of(one): one for one in reversed(model.variants())}
    at = chains.index(model.chain) if model.chain in chains else 0
    foot = [text(), text((" Pedals in order, knobs and the plan of passes will live here.", FAINT))]
    room = rows - len(head) - len(foot) - 1
    shown = [chains[i] for i in in_sight(len(chains), at, max(room, 1))]
    listed = [_chain(name, newest.get(name), names, here=name == model.chain) for name in shown]
    return [*head, text(), *listed, *foot][:rows]


def _chain(name: str, newest: Summary | None, names: int, *, here: bool) -> Text:
    line = text("  ▸ " if here else "    ", (cut(name, names), HERE if here else STRONG))
    if newest is not None:
        line += text(
            f"  {newest.number:03d} ", (newest.verdict.upper(), VERDICT_LOOKS[newest.verdict])
        )
    elif name == BARE_PATH:
        line += text(("  no pedal: run it first, as the reference", FAINT))
    return line
