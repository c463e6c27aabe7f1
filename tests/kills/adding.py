"""Making a session and adding to it, killed at every single operation on a file."""

from __future__ import annotations

import hashlib
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

from playing import write_phrase
from unit.tempo_cases import END, midi, tempo_event

from audio.session.folder import open_session
from audio.vocab.errors import SecondpassError
from kills import looking
from kills.looking import Found
from kills.passes import WIRING
from kills.points import AtOperation, every, read_notes
from kills.running import Ran, run

RATE = 48_000

CHOOSE = """
import sys
from pathlib import Path
from audio.session.folder import open_session
from audio.vocab.wiring_file import read_wiring
open_session(Path(sys.argv[1])).choose_wiring(read_wiring(Path(sys.argv[2])), name="other")
"""


@dataclass(frozen=True)
class Kind:
    """One thing that is done to a session."""

    name: str
    words: tuple[str, ...]
    """With ``{session}`` and ``{sounds}`` for the folders."""
    done_already: str
    """What the same command says, once it has been done."""
    program: tuple[str, ...] = ()
    """What is run; the installed command when left out."""


KINDS = (
    Kind(
        "new",
        ("new", "{session}", "--di", "{sounds}/riff.wav", "--wiring", "{sounds}/room.yaml"),
        "not empty",
    ),
    Kind("a part", ("add", "{session}", "--di", "{sounds}/hook.wav"), "has already"),
    Kind("a revision", ("add", "{session}", "--di", "{sounds}/edit/riff.wav"), "has already"),
    Kind(
        "an original",
        ("add", "{session}", "--original", "{sounds}/amp.wav", "--part", "riff"),
        "already",
    ),
    Kind("a backing track", ("add", "{session}", "--backing", "{sounds}/band.wav"), "already"),
    Kind(
        "a song",
        ("add", "{session}", "--di", "{sounds}/hook.wav", "--new-song", "waltz", "--bpm", "108"),
        "already",
    ),
    Kind("a tempo file", ("add", "{session}", "--tempo", "{sounds}/click.mid"), "already"),
    Kind(
        "a song with its tempo file",
        (
            *("add", "{session}", "--di", "{sounds}/hook.wav", "--new-song", "ebb"),
            *("--tempo", "{sounds}/click.mid"),
        ),
        "already",
    ),
    Kind(
        "a wiring",
        ("{session}", "{sounds}/room.yaml"),
        "",
        program=(sys.executable, "-c", CHOOSE),
    ),
)


@dataclass(frozen=True)
class Added:
    """How one killing went."""

    moment: AtOperation
    found: Found
    processes_left: int
    hung: int


def prepare(folder: Path) -> Path:
    """Make the sound files and a session to add to; return the folder of both."""
    sounds = folder / "sounds"
    (sounds / "edit").mkdir(parents=True)
    for seed, name in enumerate(("riff", "hook", "amp", "band", "edit/riff")):
        write_phrase(sounds / f"{name}.wav", rate=RATE, seconds=1.0, seed=seed)
    (sounds / "room.yaml").write_text(WIRING)
    (sounds / "click.mid").write_bytes(midi(tempo_event(0, 500_000) + END))
    ran = _run(KINDS[0], folder / "template" / "evening", sounds)
    if ran.code != 0:
        raise RuntimeError(ran.said)
    return folder


def moments(kind: Kind, ground: Path, folder: Path) -> list[AtOperation]:
    """Return every moment at which this can die."""
    session = _ground(kind, ground, folder)
    notes = folder / "notes"
    ran = _run(kind, session, ground / "sounds", notes=notes)
    if ran.code != 0:
        raise RuntimeError(ran.said)
    return every(read_notes(notes), "face")


def attempt(kind: Kind, ground: Path, moment: AtOperation, folder: Path) -> Added:
    """Kill at one moment, do it again, and look at the session."""
    session = _ground(kind, ground, folder)
    was = looking.contents(session)
    killed = _run(kind, session, ground / "sounds", die=moment)
    found = Found()
    found.claim(killed.code == -9, f"did not die there: {killed.code} {killed.said}")
    before = looking.contents(session)
    written = ("session.yaml", "journal.jsonl")
    looking.compare(found, {k: v for k, v in was.items() if k not in written}, before, session)
    again = _run(kind, session, ground / "sounds")
    already = again.code == 2 and kind.done_already in again.said and bool(kind.done_already)
    found.claim(again.code == 0 or already, f"again: {again.code} {again.said}")
    found.claim("Traceback" not in again.said, again.said)
    looking.compare(
        found,
        {k: v for k, v in before.items() if k != "session.yaml"},
        looking.contents(session),
        session,
    )
    _whole(found, session)
    hung = (killed.code is None) + (again.code is None)
    return Added(moment, found, killed.left_behind + again.left_behind, hung)


def _whole(found: Found, session: Path) -> None:
    """Every file that is named is there, and is what was added."""
    try:
        opened = open_session(session)
    except SecondpassError as error:
        found.claim(False, str(error))
        return
    for song in opened.file.songs:
        named = [(one.file, one.file_sha256) for part in song.parts for one in part.revisions]
        named += [(one.file, one.file_sha256) for part in song.parts for one in part.originals]
        named += [(song.backing.file, song.backing.file_sha256)] if song.backing else []
        for file, sha256 in named:
            there = hashlib.sha256(opened.path(file).read_bytes()).hexdigest() == sha256
            found.claim(there, f"{file} is not what was added")
    parts = [part.name for song in opened.file.songs for part in song.parts]
    found.claim("riff" in parts, "the session has lost its part")
    found.claim(len(parts) == len(set(parts)), f"a part is there twice: {parts}")
    opened.wiring()


def _ground(kind: Kind, ground: Path, folder: Path) -> Path:
    evening = folder / "evening"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    if kind.name != "new":
        shutil.copytree(ground / "template" / "evening", evening)
    return evening


def _run(
    kind: Kind,
    session: Path,
    sounds: Path,
    *,
    notes: Path | None = None,
    die: AtOperation | None = None,
) -> Ran:
    session.parent.mkdir(exist_ok=True)
    words = [word.format(session=session, sounds=sounds) for word in kind.words]
    # The folder above is watched: a session is made beside its place and then moved there.
    return run(words, session.parent, program=kind.program, notes=notes, die=die)
