"""Chains in files: those of the session, and those of the user's own folder, for all sessions."""

from __future__ import annotations

import msgspec

from audio.session.opened import Session
from audio.vocab.chain import Chain, ChainFile


class Chains(msgspec.Struct, frozen=True, kw_only=True):
    """What one look has found."""

    found: tuple[ChainFile, ...]
    """The session's own first, then those of the user's folder whose names it has not, each by name."""
    problems: tuple[str, ...]
    """What is wrong in files, one sentence each."""

    def named(self, name: str) -> Chain | None:
        """Return the chain of a name."""
        return next((one.chain for one in self.found if one.chain.name == name), None)


def chains(session: Session) -> Chains:
    """Return all chains; what is wrong in their files is said, not raised."""
    del session
    return Chains(found=(), problems=())


def save_chain(session: Session, chain: Chain, *, own: bool) -> ChainFile:
    """Write a chain as a new file; none is ever replaced.

    Parameters
    ----------
    session
        The session.
    chain
        The chain, whole or extending another one (`Chain.like`).
    own
        Whether it belongs into the user's own folder.

    Returns
    -------
    ChainFile
        Where it lies.

    Raises
    ------
    UseError
        If there is a chain of that name there, a value cannot be, or the disk refuses.
    """
    raise NotImplementedError
