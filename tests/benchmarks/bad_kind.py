"""What a kind of input is for `bench_bad_input`: valid files, how the program reads one, what is due."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random

from mutations import Draw, mutated

from audio.vocab.errors import UseError


class Wrong(Exception):  # noqa: N818 - said in a table, never raised to a user
    """The program did something it must not: the text says what."""


class Refused(Exception):  # noqa: N818 - the same
    """The program refused without an exception, with this sentence."""


@dataclass(frozen=True)
class Kind:
    """One kind of input."""

    name: str
    file: str
    """Name of the input in an otherwise empty folder."""
    read: Callable[[Path], None]
    """Everything the program does with such a file; it raises one of `refusals`, or `Refused`."""
    seeds: Callable[[], Sequence[bytes]]
    """Valid files, from which inputs are made."""
    extremes: Callable[[], Sequence[bytes]] = tuple
    """Inputs that are tried first, as they are."""
    words: Sequence[bytes] = ()
    head: int = 1 << 20
    """Bytes at the beginning in which most damage is done."""
    refusals: tuple[type[Exception], ...] = (UseError,)
    many_lines: bool = False
    """Whether a refusal may have one line for each mistake."""
    names_file: bool = True
    """Whether a refusal must name the file."""
    mends: bool = False
    """Whether reading may write to the file itself."""

    def inputs(self) -> Inputs:
        """Return what makes this kind's inputs."""
        return Inputs(self)


class Inputs:
    """The inputs of a kind by number: the extremes first, then mutated valid files."""

    def __init__(self, kind: Kind) -> None:
        self._kind = kind
        self._seeds = tuple(kind.seeds())
        self._extremes = tuple(kind.extremes())

    def made(self, seed: int, number: int) -> bytes:
        """Return one input; the same one for the same seed and number, whatever else was made."""
        if number < len(self._extremes):
            return self._extremes[number]
        random = Random(f"{seed} {zlib.crc32(self._kind.name.encode())} {number}")  # noqa: S311
        draw = Draw(random, words=self._kind.words, others=self._seeds, head=self._kind.head)
        return mutated(draw, random.choice(self._seeds))
