"""Chains in files: those of the session, and those of the user's own folder, for all sessions."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path

import msgspec

from audio.files.text import write_new
from audio.session import journal, layout
from audio.session.copying import names_in_turn
from audio.session.disk import local_now, said_plainly
from audio.session.opened import Session
from audio.vocab.chain import Chain, ChainFile, Chains
from audio.vocab.chain_file import Written, extended, parse_chain
from audio.vocab.chain_text import chain_text
from audio.vocab.errors import UseError
from audio.vocab.names import BARE_PATH, chain_problem, slug, twin_key
from audio.vocab.strict_yaml import Problems, read_text
from audio.vocab.variant import ChainAsSet

DEEPEST = 8
"""Chains that extend one another in a row; more is a circle, or a riddle."""


class _Read(msgspec.Struct, frozen=True, kw_only=True):
    """One file that could be read."""

    written: Written
    file: str
    own: bool


def chains(session: Session) -> Chains:
    """Return all chains; what is wrong in their files is said, not raised."""
    problems: list[str] = []
    read = [
        *_folder(layout.chains(session.folder), session.folder, problems, own=False),
        *_folder(layout.own_chains(), None, problems, own=True),
    ]
    by_name: dict[str, _Read] = {}
    behind: dict[str, _Read] = {}
    for one in read:
        key = twin_key(one.written.chain.name)
        other = by_name.setdefault(key, one)
        if other is not one and other.own != one.own:
            other = behind.setdefault(key, one)
        if other is not one:
            name = one.written.chain.name
            problems.append(f"{one.file}: {other.file} is called {name!r} too; rename one of them")
    found = (_whole(one, by_name, behind, problems) for one in by_name.values())
    whole = [one for one in found if one is not None]
    whole.sort(key=lambda one: (one.own, twin_key(one.chain.name)))
    return Chains(found=tuple(whole), problems=tuple(problems))


def as_set(known: Chains, name: str) -> ChainAsSet:
    """Return a chain as a variant keeps it: its name, and all that its file says."""
    chain = known.named(name)
    content = msgspec.json.decode(msgspec.json.encode(chain)) if chain is not None else {}
    content.pop("name", None)
    return ChainAsSet(name=name, content=content)


def save_chain(
    session: Session, chain: Chain, *, own: bool, clock: Callable[[], str] = local_now
) -> ChainFile:
    """Write a chain as a new file, whole; none is ever replaced.

    Parameters
    ----------
    session
        The session.
    chain
        The chain.
    own
        Whether it belongs into the user's own folder.
    clock
        Gives the time for the journal.

    Returns
    -------
    ChainFile
        Where it lies.

    Raises
    ------
    UseError
        If there is a chain of that name there, a value cannot be, or the disk refuses.
    """
    if problem := chain_problem(chain.name):
        raise UseError(problem)
    if twin_key(chain.name) == twin_key(BARE_PATH):
        raise UseError("the bare path has no pedal and needs no file; call the chain otherwise")
    there = chains(session)
    if any(f.own == own and twin_key(f.chain.name) == twin_key(chain.name) for f in there.found):
        raise UseError(
            f"there is a chain {chain.name!r} already, and none is ever replaced; call it otherwise"
        )
    folder = layout.own_chains() if own else layout.chains(session.folder)
    text = chain_text(chain)
    parse_chain(text, where=f"the chain {chain.name!r}", name=chain.name)
    path = _written(folder, slug(chain.name), text)
    file = str(path) if own else path.relative_to(session.folder).as_posix()
    journal.append(session.folder, "chain saved", name=chain.name, file=file, clock=clock)
    return ChainFile(chain=msgspec.structs.replace(chain, like=""), file=file, own=own)


def _written(folder: Path, stem: str, text: str) -> Path:
    with said_plainly(folder, doing="written"):
        folder.mkdir(parents=True, exist_ok=True)
        for path in names_in_turn(folder, stem, ".yaml"):
            try:
                write_new(path, text.encode())
            except FileExistsError:
                continue
            return path
    raise UseError(f"{folder} has no name left for {stem}; call the chain otherwise")


def _folder(folder: Path, base: Path | None, problems: list[str], *, own: bool) -> Iterator[_Read]:
    """Yield what lies in a folder; one that is not there holds nothing."""
    try:
        paths = sorted(one for one in folder.iterdir() if one.suffix in (".yaml", ".yml"))
    except FileNotFoundError:
        return
    except OSError as error:
        problems.append(f"{folder}: cannot be read ({error.strerror}); check its rights")
        return
    for path in paths:
        if path.name.startswith("."):
            continue
        try:
            seen = path.stat()
            written = _read(path, seen.st_mtime_ns, seen.st_size, seen.st_ino)
        except (OSError, UseError) as error:
            problems.append(str(error))
            continue
        file = str(path) if base is None else path.relative_to(base).as_posix()
        yield _Read(written=written, file=file, own=own)


@lru_cache(maxsize=1024)
def _read(path: Path, _mtime_ns: int, _size: int, _inode: int) -> Written:
    """Return what a file says; one that has not changed is not read again."""
    name = path.stem.replace("-", " ")
    return parse_chain(read_text(path), where=str(path), name=name)


def _whole(
    one: _Read, by_name: dict[str, _Read], behind: dict[str, _Read], problems: list[str]
) -> ChainFile | None:
    """Return a chain with everything those gave it that it extends; None where that cannot be.

    One of the session that extends a chain of its own name extends the user's own, which stands `behind`.
    """
    line = [one]
    while (like := line[-1].written.chain.like) and len(line) <= DEEPEST:
        key = twin_key(like)
        base = by_name.get(key)
        if base is line[-1]:
            base = behind.get(key, base)
        if base is None or base in line:
            problems.append(_no_base(one, like, known=base is not None))
            return None
        line.append(base)
    if len(line) > DEEPEST:
        problems.append(
            f"{one.file}: more than {DEEPEST} chains extend one another; write it flatter"
        )
        return None
    chain = line[-1].written.chain
    wrong = Problems(one.file)
    for each in reversed(line[:-1]):
        chain = extended(each.written, chain, problems=wrong)
    if wrong:
        problems.append(_first(wrong))
        return None
    return ChainFile(chain=chain, file=one.file, own=one.own)


def _no_base(one: _Read, like: str, *, known: bool) -> str:
    name = one.written.chain.name
    if known:
        return f"{one.file}: {name!r} extends {like!r}, which extends it again; break the circle"
    return f"{one.file}: there is no chain {like!r} for {name!r} to extend; check its name"


def _first(wrong: Problems) -> str:
    try:
        wrong.check()
    except UseError as error:
        return str(error)
    return ""
