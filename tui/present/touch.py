"""What a hand has to do between two chains, in words."""

from __future__ import annotations

from collections.abc import Sequence

from audio.vocab.chain import Change

UNKNOWN = "no file tells how this chain is set: set it as you know it"


def touched(change: Change) -> str:
    """Return one change in a few words, such as ``turn fuzz volume 2:30 → 3:00``."""
    name = change.name or ("amp" if change.at == "amp" else "")
    if change.kind != "turn":
        return " ".join(word for word in (change.kind, name, change.what) if word)
    way = f"{change.was} → {change.now}" if change.was else change.now
    return f"turn {name} {change.what} {way}"


def touches(changes: Sequence[Change]) -> str:
    """Return all of them in one line; a new pedal's own knobs are set with it and not told besides."""
    new = {(one.at, one.name) for one in changes if one.kind == "new"}
    told = [one for one in changes if one.kind != "turn" or (one.at, one.name) not in new]
    return ", ".join(touched(one) for one in told)
