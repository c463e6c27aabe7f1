"""The JSON files of a pass: what was ordered, what the engine did, what it left.

``order.json`` may be written again until the pass rolls; ``variant.json`` is written once.
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import msgspec

from audio.files import platform
from audio.files.text import write_atomic, write_new
from audio.session import layout
from audio.session.disk import said_plainly
from audio.session.formatted import (
    Formatted,
    content,
    decoded,
    place_problem,
    pretty,
    refuse_untrue,
)
from audio.session.opened import Session
from audio.session.passes import Claim, folders
from audio.vocab.errors import UseError
from audio.vocab.messages import Ended, decode_event
from audio.vocab.order import Order
from audio.vocab.variant import Broken, ChainNamed, Joined, Summary, Variant


class _Through(Formatted, frozen=True, kw_only=True):
    """Which chain a variant was made through, and whether it was played."""

    chain: ChainNamed
    joined: Joined | None = None


class Variants(msgspec.Struct, frozen=True, kw_only=True):
    """What a session has recorded."""

    found: tuple[Variant, ...]
    """By part, then number."""
    broken: tuple[Broken, ...]


def write_order(pass_folder: Path, order: Order) -> None:
    """Write ``order.json``; `UseError` if the disk refuses."""
    path = layout.order_json(pass_folder)
    with said_plainly(path, doing="written"):
        write_atomic(path, pretty(order))


def read_order(pass_folder: Path) -> Order:
    """Return what was ordered; `UseError` if the file is missing or no order."""
    path = layout.order_json(pass_folder)
    order = decoded(content(path), path, Order)
    refuse_untrue(path, _order_problem(order))
    return order


def read_roll(pass_folder: Path) -> Ended:
    """Return the engine's record; `UseError` if the file is missing or no such record."""
    path = layout.roll_json(pass_folder)
    data = content(path)
    try:
        event = decode_event(data)
    except msgspec.ValidationError as error:
        raise UseError(
            f"{path} is no record of a roll ({error}); restore it from a copy"
        ) from error
    if not isinstance(event, Ended):
        raise UseError(f"{path} is no record of a roll's end; restore it from a copy")
    return event


def write_variant(pass_folder: Path, variant: Variant) -> None:
    """Write ``variant.json``, which must not exist yet; `UseError` if it does or the disk refuses."""
    path = layout.variant_json(pass_folder)
    with said_plainly(path, doing="written"):
        try:
            write_new(path, pretty(variant))
        except FileExistsError:
            text = f"{path} is there already and is never replaced"
            raise UseError(f"{text}; the pass has been judged") from None


def read_variant(pass_folder: Path) -> Variant:
    """Return what a pass left; `UseError` if the file is missing or no variant."""
    path = layout.variant_json(pass_folder)
    return _whole(content(path), path)


def read_summary(pass_folder: Path) -> Summary:
    """Return what a list tells of a pass; fails as `read_variant`, but does not look at the rest."""
    path = layout.variant_json(pass_folder)
    return decoded(content(path), path, Summary)


def variants(session: Session, part: str | None = None, *, chain: str | None = None) -> Variants:
    """Return variants of a session; those that cannot be read stand apart.

    Parameters
    ----------
    session
        The session.
    part
        Name of the only part whose variants are wanted.
    chain
        Name of the only chain; the variants of others are read no further than to their names.

    Returns
    -------
    Variants
        By part, then number.
    """
    found, broken = [], []
    for one in folders(session, part):
        path = layout.variant_json(one.folder)
        if not platform.is_taken(path):
            continue
        try:
            data = content(path)
            if chain is None or decoded(data, path, _Through).chain.name == chain:
                found.append(_whole(data, path))
        except UseError as error:
            broken.append(broken_at(session, one, error))
    return Variants(found=tuple(found), broken=tuple(broken))


def newest(
    session: Session, part: str, *, chain: str | None = None, before: int | None = None
) -> Variant | None:
    """Return the played variant of a part's highest number that can be read; None where there is none.

    One that was joined of others says nothing about where the next pass lies.

    Parameters
    ----------
    session
        The session.
    part
        Name of the part.
    chain
        Name of the only chain to be looked for.
    before
        Number that it must be under.

    Returns
    -------
    Variant or None
        The whole of it.
    """
    for one in reversed(folders(session, part)):
        if before is not None and one.number >= before:
            continue
        path = layout.variant_json(one.folder)
        with suppress(UseError):
            data = content(path)
            seen = decoded(data, path, _Through)
            if seen.joined is None and chain in (None, seen.chain.name):
                return _whole(data, path)
    return None


def broken_at(session: Session, one: Claim, error: UseError) -> Broken:
    """Return what is told of a pass whose variant cannot be read."""
    return Broken(folder=one.folder.relative_to(session.folder).as_posix(), reason=str(error))


def _whole(data: bytes, path: Path) -> Variant:
    variant = decoded(data, path, Variant)
    refuse_untrue(path, _variant_problem(variant))
    return variant


def _order_problem(order: Order) -> str:
    """Return what a program that wrote an order would never have written, empty if nothing."""
    returns = order.wiring.returns
    if order.wiring.reference not in [one.name for one in returns]:
        return "its reference is none of its returns"
    if len(order.paths) != len(returns) or len(order.opening_click) not in (0, len(returns)):
        return "its returns, files and clicks are not as many"
    return _place_problem(order.wiring.sample_rate, (*order.paths, order.di.path))


def _variant_problem(variant: Variant) -> str:
    """Return the same of a variant."""
    clicks = (len(variant.opening_click), len(variant.closing_click))
    if any(0 < count < len(variant.files) for count in clicks):
        return "it has more files than clicks"
    paths = (one.path for one in variant.files)
    return _place_problem(variant.sample_rate, (*paths, variant.di.path))


def _place_problem(sample_rate: int, paths: tuple[str, ...]) -> str:
    if sample_rate < 1:
        return f"a sample rate of {sample_rate}"
    return place_problem(paths)
