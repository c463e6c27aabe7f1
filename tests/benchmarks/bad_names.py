"""Names: what becomes a piece of a path, and what two names become."""

from __future__ import annotations

import json
import unicodedata
from pathlib import Path, PurePosixPath, PureWindowsPath

from bad_kind import Kind, Refused, Wrong

from audio.session import layout
from audio.session.checks import file_stem
from audio.session.model import title_problem
from audio.session.passes import LONGEST_FILE_NAME_BYTES, capture_name
from audio.vocab.errors import UseError
from audio.vocab.names import chain_problem, name_problem, twin_key
from audio.vocab.wiring_file import parse_wiring

HOSTILE = (
    *("../x", "a/b", "a\\b", "..", ".", "~", "-rf", "a\0b", "a\nb", "\x1b[2J", "\x07", "\x9b31m"),
    *(
        "\u202egnp.wav",
        "a\u200bb",
        "\u2066a",
        "CON",
        "nul.txt",
        "COM1",
        "com¹",
        "aux .wav",
        "LPT9.x",
    ),
    *("a.", "a ", " a", "Hook", "hook", "HOOK", "née", "ne\u0301e", "hook", "ﬁne", "ß", "ss"),
    *("x" * 300, "é" * 41, "𝕏" * 100, "\udcff", "a\udc80b", "İstanbul", "ı", "K", "ſ", "\u3164"),
    *("a:b", "a|b", "CONIN$", "…", "a\ufe0f", "1", "null", "#", "a\u034fb", "C:", "\ufeffa", "🎸"),
)
LONGEST = 20_000
"""Characters of a name that is tried; what reads it from a file has limits of its own."""

_WORDS = tuple(name.encode("utf-8", "surrogatepass") for name in HOSTILE)
_WIRING = (
    "name: x\ndevice: {kind: portaudio, host: a, name: b}\nsample_rate: 48000\n"
    "send: {output: 3}\nreturns: [{name: %s, input: 1}, {name: %s, input: 2}]\n"
)


def kinds() -> tuple[Kind, ...]:
    """Return this file's kind."""
    seeds = ("rhythm-left", "fuzz into delay", "Lärm 3", "close", "last ferry")
    return (
        Kind(
            *("names", "name", _name),
            seeds=lambda: [name.encode() for name in seeds],
            extremes=lambda: list(_WORDS),
            words=_WORDS,
            names_file=False,
        ),
    )


def _name(path: Path) -> None:
    """Use some bytes as the name of everything that has one."""
    name = path.read_bytes().decode("utf-8", "surrogateescape")[:LONGEST]
    said = [_part(name), _chain(name), _return(name), _title(name)]
    _twins(name)
    if all(said):
        raise Refused(said[0])


def _part(name: str) -> str:
    """Check a part's and an original's name and what is made of it; return the refusal."""
    named = unicodedata.normalize("NFC", name)
    if problem := name_problem(named):
        return problem
    folder = Path("/session")
    for made in (
        folder / layout.DI / f"{named}.r12.wav",
        folder / layout.ORIGINALS / f"{named}.{named}.wav",
        layout.pass_folder(folder, named, 7),
        layout.pass_folder(folder, named, 7) / capture_name(named, 7, "fuzz", "close"),
    ):
        _safe(made.name)
        _safe(made.parent.name)
        if made.parent.parent not in (
            folder,
            layout.passes(folder),
            layout.part_passes(folder, named),
        ):
            raise Wrong(f"a part's file leaves its folder: {made}")
    return ""


def _chain(name: str) -> str:
    if problem := chain_problem(name):
        return problem
    made = capture_name("hook", 7, name, "close")
    _safe(made)
    if len(made.encode()) > LONGEST_FILE_NAME_BYTES:
        raise Wrong(f"a recording's name is too long: {made}")
    return ""


def _return(name: str) -> str:
    """Check a return's name, beside one that differs in case and accents only."""
    quoted = json.dumps(name), json.dumps(unicodedata.normalize("NFD", name).swapcase())
    try:
        wiring = parse_wiring(_WIRING % quoted, where="name")
    except UseError as error:
        said = str(error).partition("\n")[0]
    else:
        if _on_a_disk(json.loads(quoted[0])) != _on_a_disk(json.loads(quoted[1])):
            return ""
        raise Wrong(f"returns {quoted} share their file names")
    try:
        wiring = parse_wiring(_WIRING % (quoted[0], '"another one"'), where="name")
    except UseError:
        return said
    made = [capture_name("hook", 7, "fuzz", one.name) for one in wiring.returns]
    for one in made:
        _safe(one)
    if _on_a_disk(made[0]) == _on_a_disk(made[1]) and "another" not in name:
        raise Wrong(f"returns share a file: {made}")
    return ""


def _title(name: str) -> str:
    if problem := title_problem(name):
        return problem
    _safe(f"{file_stem(name)}.yaml")
    return ""


def _safe(piece: str) -> None:
    """Raise unless a file name is one piece of a path on every system, and shows as it is."""
    stem = piece.partition(".")[0].strip().casefold()
    if (
        PurePosixPath(piece).name != piece
        or PureWindowsPath(piece).name != piece
        or piece in (".", "..")
        or piece != piece.rstrip(". ")
        or stem in ("con", "prn", "aux", "nul", "com1", "lpt1")
        or any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") for c in piece)
    ):
        raise Wrong(f"no file can be called {piece!r} everywhere")


def _twins(name: str) -> None:
    """Raise where names that a disk takes for one are two for the program."""
    if name_problem(unicodedata.normalize("NFC", name)):
        return
    for form in ("NFC", "NFD"):
        for other in (name.upper(), name.lower(), name.swapcase(), name.title(), name):
            twin = unicodedata.normalize(form, other)
            if _on_a_disk(twin) == _on_a_disk(name) and twin_key(twin) != twin_key(name):
                raise Wrong(f"{name!r} and {twin!r} are one on some disk and two here")


def _on_a_disk(name: str) -> str:
    """Return a name as a disk compares it that folds case and composes nothing."""
    return unicodedata.normalize("NFD", unicodedata.normalize("NFD", name).casefold())
