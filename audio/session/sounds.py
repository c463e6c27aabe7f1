"""Sounds that were kept: a folder each, claimed before anything sounds, ``sound.json`` written last."""

from __future__ import annotations

from pathlib import Path

import msgspec

from audio.files import platform
from audio.files.text import write_new
from audio.session import journal, layout
from audio.session.copying import names_in_turn
from audio.session.disk import said_plainly
from audio.session.formatted import (
    content,
    decoded,
    place_problem,
    pretty,
    refuse_untrue,
    time_problem,
)
from audio.session.opened import Session
from audio.vocab.characters import shown
from audio.vocab.errors import UseError
from audio.vocab.names import chain_problem, shortened, slug, twin_key
from audio.vocab.sounds import Sound
from audio.vocab.variant import Broken

_LONGEST_FOLDER_BYTES = 80


class Sounds(msgspec.Struct, frozen=True, kw_only=True):
    """What a session keeps."""

    found: tuple[Sound, ...]
    """By the time they were kept."""
    broken: tuple[Broken, ...]


def claim_sound(session: Session, name: str) -> Path:
    """Make the folder of a sound to come; `UseError` if the name cannot be, or is taken."""
    if problem := chain_problem(name, of="sound"):
        raise UseError(problem)
    if twin_key(name) in {twin_key(one.name) for one in sounds(session).found}:
        raise UseError(
            f"the sound {shown(name)!r} is kept already and is never replaced; give another name"
        )
    parent = layout.sounds(session.folder)
    stem = shortened(slug(name), longest_bytes=_LONGEST_FOLDER_BYTES)
    with said_plainly(parent, doing="written"):
        parent.mkdir(exist_ok=True)
        # What a crash left without its record keeps its name; nothing is put into it.
        folder = next(one for one in names_in_turn(parent, stem, "") if _made(one))
        platform.sync_folder(parent)
    return folder


def write_sound(session: Session, folder: Path, sound: Sound) -> None:
    """Write ``sound.json`` into a claimed folder; `UseError` if the disk refuses."""
    path = layout.sound_json(folder)
    with said_plainly(path, doing="written"):
        write_new(path, pretty(sound))
    name = folder.relative_to(session.folder).as_posix()
    journal.append(session.folder, "sound kept", name=sound.name, file=name)


def sounds(session: Session) -> Sounds:
    """Return every sound a session keeps; those that cannot be read stand apart."""
    top, found, broken = layout.sounds(session.folder), [], []
    if not platform.is_taken(top):
        return Sounds(found=(), broken=())
    with said_plainly(top, doing="read"):
        paths = sorted(layout.sound_json(one) for one in top.iterdir() if one.is_dir())
    for path in paths:
        if not platform.is_taken(path):
            continue
        try:
            found.append(read_sound(path))
        except UseError as error:
            name = path.parent.relative_to(session.folder).as_posix()
            broken.append(Broken(folder=name, reason=str(error)))
    return Sounds(found=tuple(sorted(found, key=lambda sound: sound.made_at)), broken=tuple(broken))


def read_sound(path: Path) -> Sound:
    """Return one sound; `UseError` if the file cannot be read or is none."""
    sound = decoded(content(path), path, Sound)
    refuse_untrue(path, _problem(sound))
    return sound


def sound_named(session: Session, name: str) -> Sound:
    """Return the sound of a name; `UseError` naming those there are if it is none of them."""
    kept = sounds(session).found
    for one in kept:
        if twin_key(one.name) == twin_key(name):
            return one
    names = ", ".join(one.name for one in kept)
    way_out = f"kept are: {names}" if kept else "none is kept yet"
    raise UseError(f"{session.folder}: there is no sound {shown(name)!r}; {way_out}")


def _problem(sound: Sound) -> str:
    """Return what a program that kept a sound would never have written, empty if nothing."""
    phrase, rate = sound.phrase, sound.wiring.sample_rate
    counts = (phrase.frames, rate, sound.again_at - sound.kept_at)
    if min(counts) < 1 or min(sound.kept_at, phrase.rest_frames) < 0:
        return "a count of frames that cannot be"
    witness = [sound.witness.path] if sound.witness else []
    paths = (phrase.file, *(one.path for one in sound.files), *witness)
    return time_problem(sound.made_at) or place_problem(paths)


def _made(folder: Path) -> bool:
    try:
        folder.mkdir()
    except FileExistsError:
        return False
    return True
