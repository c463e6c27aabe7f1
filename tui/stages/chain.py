"""Chain: what is plugged in now, and how it is set."""

from __future__ import annotations

from collections.abc import Callable

from rich.text import Text

from audio.jobs.times import times
from audio.vocab.errors import UseError
from audio.vocab.names import BARE_PATH
from audio.vocab.variant import Summary
from tui.model import Model
from tui.present.chain_words import chain_lines
from tui.present.glyphs import cells_of, cut
from tui.present.looks import BAD, FAINT, HERE, STRONG, VERDICT_LOOKS, in_sight, paragraph, text
from tui.present.tempo import bpm_words
from tui.tempi import chosen_bpm

KEYS = (
    ("choose_up+choose_down", "chain"),
    ("name", "name"),
    ("write", "write"),
    ("go", "pass"),
    ("run", ""),
    ("plan", ""),
    ("walk_left+walk_right", "walk"),
    ("keys", ""),
    ("section", ""),
)

LEAST_LISTED = 4
"""Chains of the list that stay in sight whatever is told of the chosen one."""

TOLD = ("quarter", "dotted eighth", "eighth", "triplet eighth", "sixteenth")
"""Note values that delays are set to most (common practice, no source); `secondpass times` has all."""

HEAD = " What is plugged in now? Set it by hand, then choose it here, or name a new one."


def lines(model: Model, columns: int, rows: int, *, key: Callable[[str], str]) -> list[Text]:
    """Return the chains to choose from and how the chosen one is set, in at most so many rows."""
    head = [text((HEAD, FAINT)), text()]
    chains = model.chains()
    below = _below(model, columns, key)
    listed = min(len(chains), max(rows - len(head) - len(below) - 1, LEAST_LISTED))
    names = min(max(cells_of(name) for name in chains), 40)
    newest = {model.notes.chain_of(one): one for one in reversed(model.variants())}
    at = chains.index(model.chain) if model.chain in chains else 0
    shown = [chains[i] for i in in_sight(len(chains), at, listed)]
    rest = [_chain(name, newest.get(name), names, here=name == model.chain) for name in shown]
    return [*head, *rest, text(), *below][:rows]


def _below(model: Model, columns: int, key: Callable[[str], str]) -> list[Text]:
    """Return how the chosen chain is set, or what to do about one without a file; then wrong files."""
    problems = model.snapshot.chain_problems if model.snapshot else ()
    said = [line for one in problems for line in paragraph(f"× {one}", columns, BAD)]
    chain = model.chain_as_set()
    if chain is not None:
        told = [line for one in chain_lines(chain) for line in paragraph(one, columns, indent=3)]
        return [*told, *_times(model, columns), *said]
    if model.chain and model.chain != BARE_PATH:
        words = "Nothing is written down of it: {key} writes its pedals and knobs, for its card."
        return [*paragraph(words.format(key=key("write")), columns, FAINT), *said]
    return said


def _times(model: Model, columns: int) -> list[Text]:
    """Return what a delay is set to at the song's tempo, in one line; nothing for a song without one."""
    bpm = chosen_bpm(model)
    if bpm is None:
        return []
    try:
        by_name = {one.name: one.ms for one in times(bpm).notes}
    except UseError:  # a fermata in a tempo map; the table says so
        return []
    words = " · ".join(f"{name} {by_name[name]:.1f}" for name in TOLD)
    return [text(), text((cut(f"   {bpm_words(bpm)} bpm, ms: {words}", columns), FAINT))]


def _chain(name: str, newest: Summary | None, names: int, *, here: bool) -> Text:
    line = text("  ▸ " if here else "    ", (cut(name, names), HERE if here else STRONG))
    if newest is not None:
        line += text(
            f"  {newest.number:03d} ", (newest.verdict.upper(), VERDICT_LOOKS[newest.verdict])
        )
    elif name == BARE_PATH:
        line += text(("  no pedal: run it first, as the reference", FAINT))
    return line
