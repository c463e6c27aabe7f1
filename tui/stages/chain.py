"""Chain: what is plugged in now."""

from __future__ import annotations

from rich.text import Text

from audio.vocab.names import BARE_PATH
from tui.model import Model
from tui.present.glyphs import cells_of, cut
from tui.present.looks import FAINT, HERE, STRONG, VERDICT_LOOKS, text, window

KEYS = (
    ("choose_up+choose_down", "what is plugged in"),
    ("name", ""),
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
    listed = [_chain(model, name, names) for name in chains]
    at = chains.index(model.chain) if model.chain in chains else 0
    foot = [text(), text((" Pedals in order, knobs and the plan of passes will live here.", FAINT))]
    room = rows - len(head) - len(foot) - 1
    return [*head, text(), *window(listed, at, max(room, 1)), *foot][:rows]


def _chain(model: Model, name: str, names: int) -> Text:
    here = name == model.chain
    line = text("  ▸ " if here else "    ", (cut(name, names), HERE if here else STRONG))
    played = [one for one in model.variants() if one.chain.name == name]
    if played:
        newest = played[0]
        line += text(
            f"  {newest.number:03d} ", (newest.verdict.upper(), VERDICT_LOOKS[newest.verdict])
        )
    elif name == BARE_PATH:
        line += text(("  no pedal: run it first, as the reference", FAINT))
    return line
