"""What blind sittings have come to, as the command line tells it."""

from __future__ import annotations

from pathlib import Path

import msgspec

from audio.plan.blind_result import Comparison, comparisons
from audio.session.blind import sittings
from audio.session.folder import open_session
from audio.vocab.blind import same_listener
from audio.vocab.characters import shown
from audio.vocab.errors import UseError


class BlindTold(msgspec.Struct, frozen=True, kw_only=True):
    """All comparisons of a session, or of what was asked for."""

    session: str
    """Its folder, absolute."""
    comparisons: tuple[Comparison, ...]


def blind_told(folder: Path, *, part: str | None = None, listener: str | None = None) -> BlindTold:
    """Return what blind sittings have come to; only reads: the session may be open in another program.

    Parameters
    ----------
    folder
        The session's folder.
    part
        Only sittings over this part; over all where left out.
    listener
        Only this listener's, capitals or not; everybody's where left out.

    Returns
    -------
    BlindTold
        Without comparisons where nobody has sat down yet.

    Raises
    ------
    UseError
        If it is no session, there is no such part, nobody of that name has sat down, or the journal
        cannot be read.
    """
    session = open_session(folder.absolute())
    found = sittings(session, part=session.part(part)[1].name if part is not None else None)
    if listener is not None:
        names = dict.fromkeys(one.sitting.listener for one in found)
        found = tuple(one for one in found if same_listener(one.sitting.listener, listener))
        if not found:
            way_out = f"those who did are: {', '.join(names)}" if names else "nobody has yet"
            raise UseError(f"{shown(listener)!r} has not sat down to listen blind; {way_out}")
    return BlindTold(session=str(session.folder), comparisons=comparisons(found))
