"""The demo: an invented session, made and played in the simulated room."""

from __future__ import annotations

from importlib.resources import as_file
from pathlib import Path

import msgspec

from audio.files.text import write_new
from audio.jobs.deck import Deck, StoppedError
from audio.jobs.passes import run_pass
from audio.jobs.placing import Known
from audio.jobs.talk import Listener
from audio.session import layout
from audio.session.folder import create
from audio.session.lock import lock_session
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.strict_yaml import read_text
from audio.vocab.variant import Variant
from audio.vocab.wiring import Wiring
from audio.work.client import Worker
from demo import content
from demo.recipe import Recipe, SongOfRecipe, read_recipe

TRIES = 1000
"""How many names are tried for a new demo folder."""


class Demo(msgspec.Struct, frozen=True, kw_only=True):
    """What the demo made."""

    session: str
    """Its folder, absolute."""
    variants: tuple[Variant, ...]
    interrupted: bool = False


def free_folder(recipe: Recipe) -> Path:
    """Return a name in the working directory that is not taken: ``harbour-lights``, then ``-2`` ..."""
    stem = recipe.session.replace(" ", "-")
    for number in range(1, TRIES):
        folder = Path.cwd() / (stem if number == 1 else f"{stem}-{number}")
        if not folder.exists():
            return folder
    raise UseError(f"there are {TRIES - 1} demos here already; name a folder with --out")


def make_demo(out: Path | None) -> Session:
    """Make the invented session, without a pass in it.

    `UseError` if the folder is not free, `DeviceError` if a process of the program dies.

    Parameters
    ----------
    out
        Folder to make; a free name in the working directory when left out.

    Returns
    -------
    Session
        Songs, parts, backing track, original, and a wiring that runs by the clock; not locked.
    """
    recipe = read_recipe()
    folder = (out or free_folder(recipe)).absolute()
    with as_file(content()) as source, Worker() as worker:

        def with_songs(session: Session) -> Session:
            for song in recipe.songs[1:]:
                session = session.add_song(
                    song.song, bpm=song.bpm, metre=song.metre, song_start_s=song.song_start_s
                )
            for song in recipe.songs:
                session = _filled(session, song, source, worker)
            _write_chains_and_plan(session, source)
            return session

        first = recipe.songs[0]
        return create(
            folder,
            name=recipe.session,
            song=first.song,
            bpm=first.bpm,
            metre=first.metre,
            song_start_s=first.song_start_s,
            wiring_text=read_text(source / "wiring.yaml"),
            fill=with_songs,
        )


def _write_chains_and_plan(session: Session, source: Path) -> None:
    """Write the files that people would have written; the folder is new, so nothing is in their place."""
    folder = layout.chains(session.folder)
    folder.mkdir()
    for file in sorted((source / "chains").glob("*.yaml")):
        write_new(folder / file.name, file.read_bytes())
    write_new(layout.plan_yaml(session.folder), (source / "plan.yaml").read_bytes())


def _filled(session: Session, song: SongOfRecipe, source: Path, worker: Worker) -> Session:
    for part in song.parts:
        di = source / part.di
        session = session.add_part(
            source=di,
            facts=worker.inspect(di),
            name=part.part,
            song=song.song,
            recorded=part.recorded,
        )
        for original in part.originals:
            file = source / original.file
            session = session.add_original(
                part.part, source=file, facts=worker.inspect(file), name=original.name
            )
    if song.backing is not None:
        file = source / song.backing
        session = session.add_backing(song.song, source=file, facts=worker.inspect(file))
    return session


def run_demo(out: Path | None, listener: Listener) -> Demo:
    """Make the invented session and run its passes, as fast as the machine can.

    `UseError` if the folder is not free, `DeviceError` if a process of the program dies.

    Parameters
    ----------
    out
        Folder to make; a free name in the working directory when left out.
    listener
        Hears the steps.

    Returns
    -------
    Demo
        Every variant, with its verdict.
    """
    session = make_demo(out)
    listener.heading(f"made the session {session.folder}")
    variants: list[Variant] = []
    interrupted = _play(session, read_recipe(), listener, variants)
    return Demo(session=str(session.folder), variants=tuple(variants), interrupted=interrupted)


def without_clock(wiring: Wiring) -> Wiring:
    """Return the demo's wiring for who does not watch: the room as fast as the machine can."""
    return msgspec.structs.replace(
        wiring, device=msgspec.structs.replace(wiring.device, pace="free")
    )


def _play(session: Session, recipe: Recipe, listener: Listener, variants: list[Variant]) -> bool:
    """Run the passes, adding what they leave to `variants`; return whether the engineer stopped them."""
    known = Known()
    with (
        lock_session(session.folder, program="secondpass demo"),
        Deck(without_clock(session.wiring()), listener) as deck,
    ):
        for number, one in enumerate(recipe.passes, start=1):
            listener.heading(f"pass {number} of {len(recipe.passes)}: {one.why}")
            try:
                done = run_pass(deck, session, part_name=one.part, chain=one.chain, known=known)
            except StoppedError:
                return True
            variants.append(done.variant)
            listener.step(done.variant.verdict)
            if done.interrupted:
                return True
    return False
