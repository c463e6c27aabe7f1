"""Passes as somebody types them: ``hook, rhythm-left through crunch, fuzz; bars 5-8``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from audio.vocab.errors import UseError
from audio.vocab.names import chain_problem
from audio.vocab.section import Section
from audio.vocab.section_text import parse_section

ALL = "all"


@dataclass(frozen=True, slots=True)
class Wish:
    """Each of the parts through each of the chains."""

    parts: tuple[str, ...]
    chains: tuple[str, ...]
    section: Section | None = None


def read_wish(words: str, *, parts: Sequence[str]) -> Wish | str:
    """Return what was typed, or what is wrong with it and the way out.

    Parameters
    ----------
    words
        Parts, ``through``, chains; behind a semicolon a section. ``all`` stands for every part.
    parts
        Names of the parts there are.

    Returns
    -------
    Wish | str
        What is wanted, or one sentence.
    """
    names, through, rest = words.partition(" through ")
    if not through:
        return "write parts, then 'through', then chains: hook through crunch, fuzz"
    chains, _, where = rest.partition(";")
    wanted = _listed(names)
    if wanted == (ALL,):
        wanted = tuple(parts)
    if unknown := next((one for one in wanted if one not in parts), None):
        return f"there is no part {unknown!r}; the parts are: {', '.join(parts)}"
    sounds = _listed(chains)
    if problem := next((p for p in map(chain_problem, sounds or ("",)) if p), None):
        return problem
    try:
        section = parse_section(where) if where.strip() else None
    except UseError as error:
        return str(error)
    return Wish(parts=wanted, chains=sounds, section=section) if wanted else "name a part first"


def _listed(words: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.strip() for one in words.split(",") if one.strip()))
