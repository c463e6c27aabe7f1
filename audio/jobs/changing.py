"""Orders that change the session and play nothing."""

from __future__ import annotations

from typing import assert_never

from audio.jobs.drop_ins import drop_in
from audio.jobs.orders import (
    AcceptFindings,
    AgainLine,
    DropIn,
    OrderLines,
    SaveChain,
    SayOfVariant,
    SkipLine,
    WantPasses,
)
from audio.jobs.unready import accept_open
from audio.session import plans
from audio.session.chains import save_chain
from audio.session.opened import Session
from audio.session.opinions import say
from audio.work.client import Worker

Changing = (
    SaveChain
    | SayOfVariant
    | DropIn
    | AcceptFindings
    | WantPasses
    | OrderLines
    | SkipLine
    | AgainLine
)


def change(session: Session, worker: Worker, asked: Changing) -> str:  # noqa: PLR0911 - one match over every order
    """Do it; return what was done, one line. `UseError` where it cannot be.

    Parameters
    ----------
    session
        Locked by the caller.
    worker
        Does what has to do with sound.
    asked
        What is to be changed.

    Returns
    -------
    str
        For the line of progress.
    """
    match asked:
        case SaveChain():
            saved = save_chain(session, asked.chain, own=asked.own)
            return f"{saved.chain.name} is saved as {saved.file}"
        case SayOfVariant():
            say(
                session,
                asked.part,
                asked.number,
                rating=asked.rating,
                words=asked.words,
                photo=asked.photo,
                called=asked.called,
                chain=asked.chain,
                discarded=asked.discarded,
                balance=asked.balance,
                keeper=asked.keeper,
                reason=asked.reason,
            )
            return _noted(asked)
        case DropIn():
            made = drop_in(session, worker, part=asked.part, base=asked.base, section=asked.section)
            return (
                f"{made.part} {made.number:03d} is made of {asked.base:03d} and {asked.section:03d}"
            )
        case AcceptFindings():
            accept_open(session, asked.part)
            return f"{asked.part} is sent as it is"
        case WantPasses():
            plans.want(session, parts=asked.parts, chains=asked.chains, section=asked.section)
            return "added to the plan"
        case OrderLines():
            plans.order_by_hand(session, asked.keys)
            return "the order is yours now" if asked.keys else "the order that replugs least"
        case SkipLine():
            plans.skip(session, asked.key, skipped=asked.skipped)
            return "skipped" if asked.skipped else "taken in again"
        case AgainLine():
            plans.again(session, asked.key)
            return "it will be played once more"
        case _:
            assert_never(asked)


def _noted(asked: SayOfVariant) -> str:
    name = f"{asked.part} {asked.number:03d}"
    if asked.keeper is not None:
        return f"{name} is a keeper" if asked.keeper else f"{name} is not kept any more"
    if asked.discarded:
        return f"{name} is discarded: out of sight; nothing is deleted, it can be taken back"
    return f"{name} is taken back" if asked.discarded is False else f"noted of {name}"
