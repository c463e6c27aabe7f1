"""Sessions whose sounds hold known signals, and listening pages made of them without a second process."""

from __future__ import annotations

import base64
import io
import json
import re
from collections.abc import Callable, Mapping, Sequence
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from msgspec.structs import replace
from stamped import write_stamped
from unit.session_cases import facts_of, noon, variant, variant_file

from audio.jobs.listening_page import make_page
from audio.session import passes, records
from audio.session.folder import create
from audio.session.opened import Session
from audio.vocab.answers import Answered, Failed
from audio.vocab.errors import UseError
from audio.vocab.requests import Asked
from audio.vocab.variant import ChainAsSet
from audio.work.client import Worker
from audio.work.process import Desk

RATE = 48_000
NAME, TOKEN = "tide-001", "7f3k9q2m"
DI_AT = 3_600 * RATE
"""Time stamp of every part's DI."""

Sound = np.ndarray
_CODES = 2**23


class Here(Worker):
    """Answers as the worker does, in this process; counts what it was asked."""

    def __init__(self) -> None:
        super().__init__()
        self._desk = Desk()
        self.asked: list[Asked] = []

    def ask(self, asked: Asked, timeout_s: float) -> Answered:  # noqa: ARG002 - there is nothing to wait for
        self.asked.append(asked)
        answered = self._desk.answer(asked)
        if isinstance(answered, Failed):
            raise UseError(answered.reason)
        return answered

    def count(self, kind: type[Any]) -> int:
        return sum(isinstance(one, kind) for one in self.asked)


def noise(seed: int, *, seconds: float, rate: int = RATE, peak: float = 0.25) -> Sound:
    """Return noise: no frame of it is like its neighbours, so each place in it is told from any other."""
    return np.random.default_rng(seed).uniform(-peak, peak, round(seconds * rate))


def stamped(path: Path, sound: Sound, *, at: int = DI_AT, rate: int = RATE) -> Path:
    """Write a sound, (frames,) or (frames, channels), as 24 bits with a time stamp."""
    codes = np.round(np.atleast_2d(sound.T).T * _CODES).astype(int)
    return write_stamped(path, codes, rate=rate, time_reference=at)


def session_of(
    folder: Path,
    parts: Mapping[str, Sequence[Mapping[str, Sound]]],
    *,
    rate: int = RATE,
    originals: Mapping[str, Sound] | None = None,
    backing: Sound | None = None,
    backing_at: int = DI_AT,
    bpm: float | None = 120.0,
    chains: Sequence[str] = ("fuzz", "crunch", "echo", "clean"),
    name: str = "evening",
) -> Session:
    """Make a session: of each part its variants, of each variant its microphones by name."""
    session = create(folder / "evening", name=name, song="tide", bpm=bpm, metre="4/4")
    if backing is not None:
        track = stamped(folder / "band.wav", backing, at=backing_at, rate=rate)
        session = session.add_backing(None, source=track, facts=facts_of(track), clock=noon)
    for part, variants in parts.items():
        longest = max(sound.size for one in variants for sound in one.values())
        di = stamped(folder / "di.wav", np.zeros(longest), rate=rate)
        session = session.add_part(source=di, facts=facts_of(di), name=part, clock=noon)
        for one, chain in zip(variants, chains, strict=False):
            leave(session, part, one, chain=chain, rate=rate)
    for original, sound in (originals or {}).items():
        mic = stamped(folder / "mic.wav", sound, rate=rate)
        part = next(iter(parts))
        session = session.add_original(
            part, source=mic, facts=facts_of(mic), channel=1, name=original, clock=noon
        )
    return session


def leave(
    session: Session, part: str, mics: Mapping[str, Sound], *, chain: str, rate: int = RATE,
    at: int = DI_AT, **fields: Any,
) -> int:  # fmt: skip
    """Leave a variant of some microphones; return its number."""
    claim = passes.claim(session, part, clock=noon)
    files = []
    for at_input, (mic, sound) in enumerate(mics.items(), start=2):
        path = stamped(claim.folder / f"{part}_{mic}.wav", sound, at=at, rate=rate)
        files.append(
            variant_file(
                mic, path.relative_to(session.folder).as_posix(), input=at_input, frames=sound.size
            )
        )
    made = replace(variant(claim.number, part=part), time_reference=at, files=tuple(files),
                   chain=ChainAsSet(name=chain), opening_click=(), **fields)  # fmt: skip
    records.write_variant(claim.folder, made)
    return claim.number


def made(
    session: Session,
    sounds: Sequence[tuple[str, int]],
    to: Path,
    *,
    worker: Worker | None = None,
    offsets: Mapping[tuple[str, str], str] | None = None,
    say: Callable[[str], None] = lambda _: None,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[str, ...]:
    """Make a page; return what had to be left out."""
    return make_page(session, worker or Here(), sounds, to=to, name=NAME, token=TOKEN,
                     offsets=offsets or {}, say=say, stop=stop)  # fmt: skip


# ---------------------------------------------------------------- reading a page again

_PIECE = re.compile(r'secondpass\.piece\("([0-9a-z]+)",([0-9]+),"([0-9A-Za-z+/=]+)"\);\n')


def flac_of(path: Path) -> bytes:
    """Return the FLAC file in a piece, which says of whom it is as its name does."""
    found = _PIECE.fullmatch(path.read_text(encoding="ascii"))
    assert found is not None, path
    assert path.name == f"{found[1]}-{found[2]}.js"
    return base64.b64decode(found[3], validate=True)


def decoded(folder: Path, track: str) -> tuple[np.ndarray, int]:
    """Return all pieces of a track joined, codes of 16 bits, (frames, channels), and the rate."""
    paths = sorted(folder.glob(f"sounds/{track}-*.js"), key=lambda one: int(one.stem.split("-")[1]))
    pieces = [
        soundfile.read(io.BytesIO(flac_of(one)), dtype="int16", always_2d=True) for one in paths
    ]
    return np.concatenate([one for one, _ in pieces]), pieces[0][1]


class Parsed(HTMLParser):
    """A page as a browser would see it: elements, their attributes, text outside scripts and styles."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.told = ""
        self._inside = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self._inside = tag

    def handle_endtag(self, tag: str) -> None:  # noqa: ARG002 - nothing is inside a script or a style
        self._inside = ""

    def handle_data(self, data: str) -> None:
        if self._inside == "script":
            self.told += data
        elif self._inside != "style":
            self.text += data

    @property
    def data(self) -> dict[str, Any]:
        """What the script is told."""
        found: dict[str, Any] = json.loads(self.told)
        return found

    def tags(self) -> list[str]:
        return [tag for tag, _ in self.elements]


def parsed(folder: Path) -> Parsed:
    return Parsed((folder / "index.html").read_text(encoding="utf-8"))
