"""The demo's recipe: which invented parts there are and which passes are made of them."""

from __future__ import annotations

import msgspec

from audio.vocab.strict_yaml import Problems, load
from demo import content


class PartOfRecipe(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One DI."""

    part: str
    di: str
    """File in the demo's folder."""


class PassOfRecipe(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One pass to make."""

    part: str
    chain: str
    why: str
    """What it is there to show, half a sentence."""


class Recipe(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What the demo does."""

    session: str
    song: str
    bpm: float
    metre: str
    first_beat_s: float
    """Where bar 1 begins in every DI, seconds."""
    parts: tuple[PartOfRecipe, ...]
    passes: tuple[PassOfRecipe, ...]


def read_recipe() -> Recipe:
    """Return the recipe that comes with the program."""
    file = content() / "recipe.yaml"
    problems = Problems(file.name)
    root = load(file.read_text(encoding="utf-8"), problems=problems)
    problems.check()
    return msgspec.convert(root.plain(), Recipe)
