"""The demo's recipe: which invented songs and parts there are and which passes are made of them."""

from __future__ import annotations

import msgspec

from audio.vocab.session_file import Recorded
from audio.vocab.strict_yaml import Problems, load
from demo import content


class OriginalOfRecipe(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The amp as a part was first recorded."""

    name: str
    file: str
    """File in the demo's folder."""


class PartOfRecipe(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One DI."""

    part: str
    di: str
    """File in the demo's folder."""
    originals: tuple[OriginalOfRecipe, ...] = ()
    recorded: Recorded | None = None
    """How it was recorded."""


class SongOfRecipe(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One song."""

    song: str
    bpm: float
    metre: str
    song_start_s: float
    """Where bar 1 lies on the recorder's timeline, seconds; the song's files begin at its zero."""
    parts: tuple[PartOfRecipe, ...]
    backing: str | None = None
    """File in the demo's folder."""


class PassOfRecipe(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One pass to make."""

    part: str
    chain: str
    why: str
    """What it is there to show, half a sentence."""


class Recipe(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What the demo's session holds and what is done with it."""

    session: str
    songs: tuple[SongOfRecipe, ...]
    """One at least."""
    passes: tuple[PassOfRecipe, ...]


def read_recipe() -> Recipe:
    """Return the recipe that comes with the program."""
    file = content() / "recipe.yaml"
    problems = Problems(file.name)
    root = load(file.read_text(encoding="utf-8"), problems=problems)
    problems.check()
    return msgspec.convert(root.plain(), Recipe)
