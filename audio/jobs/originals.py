"""Where a part's original lies against its DI: what `align_to: original` puts the returns to."""

from __future__ import annotations

import msgspec

from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.results import AudioFacts
from audio.vocab.session_file import Original, Part
from audio.vocab.units import ms_from_frames
from audio.vocab.wiring import Wiring
from audio.work.client import Worker

FARTHEST_S = 0.2
"""An original further than this from its DI is another take or another start, not the air and the
converters of the evening it was recorded; the lead-in of a pass is longer."""

_USE_DI = "use align_to: di, which puts the returns on the DI's attacks"


class Lies(msgspec.Struct, frozen=True, kw_only=True):
    """How much later than its DI an original is."""

    frames: float
    plus_minus_frames: float


def original_lies(
    worker: Worker, session: Session, part: Part, di: AudioFacts, wiring: Wiring
) -> Lies:
    """Measure, by the music, how much later than the newest DI a part's original is.

    Parameters
    ----------
    worker
        Who measures.
    session
        Where the files are.
    part
        Its original of the reference return's name is taken, else its first.
    di
        The newest DI as it was read through.
    wiring
        Names the reference return.

    Returns
    -------
    Lies
        With both files' time stamps taken into account.

    Raises
    ------
    UseError
        If there is no original, the music cannot tell, or it is too far away.
    """
    if not part.originals:
        raise UseError(
            f"align_to: original: {part.name} has no original; add it (secondpass add"
            f" {session.folder} --original FILE --part {part.name}), or {_USE_DI}"
        )
    original = _of_reference(part, wiring)
    path = session.path(original.file)
    stamp = worker.inspect(path, channel=original.channel - 1).time_reference
    revision = part.revisions[-1]
    found = worker.compare(
        session.path(revision.file),
        path,
        di_channel=revision.channel - 1,
        channel=original.channel - 1,
    ).alignment
    if found.delay_frames is None:
        raise UseError(f"align_to: original: {original.file}: {found.reason} Or {_USE_DI}")
    frames = found.delay_frames + stamp - di.time_reference
    if abs(frames) > FARTHEST_S * wiring.sample_rate:
        far = ms_from_frames(frames, rate=wiring.sample_rate) / 1000.0
        raise UseError(
            f"align_to: original: {original.file} lies {far:.2f} s from its DI; export both from"
            f" the same start, or {_USE_DI}"
        )
    return Lies(frames=frames, plus_minus_frames=found.plus_minus_frames or 0.0)


def _of_reference(part: Part, wiring: Wiring) -> Original:
    named = [one for one in part.originals if one.name == wiring.reference]
    return (named or list(part.originals))[0]
