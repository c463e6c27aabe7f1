"""Sessions whose variants were told, not played: what lists and notes need of them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec
from invented import Names, variant
from rooms import make_session

from audio.session import records
from audio.session.opened import Session
from audio.session.passes import claim

PART = "riff"


def session_of(tmp_path: Path, count: int, **last: Any) -> Session:
    """Return a session with so many variants; the last one is what is said."""
    session = make_session(tmp_path, wiring=None)
    for _ in range(count):
        made = claim(session, PART)
        one = variant(Names(part=PART, chain=f"fuzz {made.number}"), made.number)
        if made.number == count:
            one = msgspec.structs.replace(one, **last)
        records.write_variant(made.folder, one)
    return session
