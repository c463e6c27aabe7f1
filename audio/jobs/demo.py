"""The demo: an invented session, made and played in the simulated room."""

from __future__ import annotations

from importlib.resources import as_file
from pathlib import Path

import msgspec

from audio.jobs.deck import Deck, StoppedError
from audio.jobs.passes import run_pass
from audio.jobs.placing import Known
from audio.jobs.sessions import new_session
from audio.jobs.talk import Listener
from audio.session.lock import lock_session
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.variant import Variant
from audio.work.client import Worker
from demo import content
from demo.recipe import Recipe, read_recipe

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


def run_demo(out: Path | None, listener: Listener) -> Demo:
    """Make the invented session and run its passes.

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
    recipe = read_recipe()
    folder = (out or free_folder(recipe)).absolute()
    with as_file(content()) as source:
        session = _make(folder, source, recipe)
    listener.heading(f"made the session {folder}")
    variants: list[Variant] = []
    interrupted = _play(session, recipe, listener, variants)
    return Demo(session=str(folder), variants=tuple(variants), interrupted=interrupted)


def _make(folder: Path, source: Path, recipe: Recipe) -> Session:
    with Worker() as worker:
        session, _ = new_session(
            folder,
            dis=tuple(source / one.di for one in recipe.parts),
            channel=1,
            wiring_path=source / "wiring.yaml",
            song=recipe.song,
            bpm=recipe.bpm,
            metre=recipe.metre,
            worker=worker,
        )
    return session


def _play(session: Session, recipe: Recipe, listener: Listener, variants: list[Variant]) -> bool:
    """Run the passes, adding what they leave to `variants`; return whether the engineer stopped them."""
    known = Known()
    with (
        lock_session(session.folder, program="secondpass demo"),
        Deck(session.wiring(), listener) as deck,
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
