"""Photos that are named in a session: where they lie. Never outside of it."""

from __future__ import annotations

from pathlib import Path

from audio.session import layout
from audio.session.opened import Session
from audio.vocab.characters import shown
from audio.vocab.errors import UseError
from audio.vocab.saying import photo_problem


def find_photo(session: Session, part: str, number: int, name: str) -> Path:
    """Return where a photo lies that is named with a variant or with its chain.

    Parameters
    ----------
    session
        Whose folder is looked in.
    part
        The variant's part.
    number
        Its number.
    name
        The file's name alone, as somebody said it.

    Returns
    -------
    Path
        A file: in the session's folder, in its `photos` or `chains`, or in the pass folder.

    Raises
    ------
    UseError
        If the name is none of a file, nothing lies there, or a link leads out of the session.
    """
    if problem := photo_problem(name):
        raise UseError(problem)
    inside = session.folder.resolve()
    for folder in _rooms(session, part, number):
        path = folder / name
        if not _is_file(path):
            continue
        if not path.resolve().is_relative_to(inside):
            raise UseError(
                f"{shown(name)} is a link that leads out of the session; put the photo itself there"
            )
        return path.resolve()
    raise UseError(f"{shown(name)} is not in the session; put it into its folder {layout.PHOTOS}")


def _rooms(session: Session, part: str, number: int) -> tuple[Path, ...]:
    folder = session.folder
    return (
        folder,
        layout.photos(folder),
        layout.chains(folder),
        layout.pass_folder(folder, part, number),
    )


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False
