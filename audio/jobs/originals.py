"""Where a part's originals lie against its DI, and how loud they are beside its sounds."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from audio.jobs.sounds import layers_of
from audio.plan.keepers import balance_of
from audio.session.layout import pass_folder
from audio.session.opened import Session
from audio.session.opinions import opinions
from audio.session.records import read_variant
from audio.vocab.alignment import Alignment
from audio.vocab.errors import SecondpassError, UseError
from audio.vocab.layers import original_key, variant_key
from audio.vocab.requests import MatchSounds
from audio.vocab.results import AudioFacts, SoundHead
from audio.vocab.session_file import Original, Part, Revision
from audio.vocab.sheet import OriginalTold
from audio.vocab.units import ms_from_frames
from audio.vocab.wiring import Wiring
from audio.work.client import Worker

FARTHEST_S = 0.2
"""An original further than this from its DI is another take or another start, not the air and the
converters of the evening it was recorded; the lead-in of a pass is longer."""

MATCHED_S = 60.0
"""How much of a part is compared in loudness: enough for any gate, and read in a second."""

_USE_DI = "use align_to: di, which puts the returns on the DI's attacks"


class Lies(msgspec.Struct, frozen=True, kw_only=True):
    """How much later than its DI an original is."""

    frames: float
    plus_minus_frames: float


def original_lies(
    worker: Worker, session: Session, part: Part, di: AudioFacts, wiring: Wiring
) -> Lies:
    """Measure how much later than the newest DI an original is: what `align_to: original` puts returns to.

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
    found = _compared(worker, session, part.revisions[-1], original)
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


def originals_told(
    session: Session, worker: Worker, part: str, numbers: Sequence[int]
) -> tuple[OriginalTold, ...]:
    """Measure every original of a part: where it lies, and what makes it as loud as some sounds.

    Parameters
    ----------
    session
        Where the files are.
    worker
        Who measures.
    part
        Name of the part.
    numbers
        Its variants that the originals are matched to, each at its balance: as a keeper where it is one.

    Returns
    -------
    tuple of OriginalTold
        In the session's order. What cannot be told says so; nothing is raised for a file that cannot be
        read.
    """
    of = session.part(part)[1]
    if not of.originals:
        return ()
    try:
        heads = _heads(session, worker, of)
        matches = _matches_db(session, worker, of, heads[-1], numbers)
        told = zip(of.originals, matches, strict=True)
        return tuple(_told(session, worker, of, one, heads, match_db=db) for one, db in told)
    except SecondpassError as error:
        why = session.inside(str(error))
        return tuple(_unknown(of, one, why) for one in of.originals)


def later_words(ms: float, *, than: str) -> str:
    """Return how much later than something a recording is, ``2.8 ms later than its DI``."""
    size, way = abs(ms), "later" if ms > 0 else "earlier"
    if size < 0.05:
        return f"where {than} is, to 0.1 ms"
    shown = f"{size:.1f} ms" if size < 1000.0 else f"{size / 1000.0:.2f} s"
    return f"{shown} {way} than {than}"


def _heads(session: Session, worker: Worker, part: Part) -> list[SoundHead]:
    """Return what the files of a part's edits say of themselves, the newest last."""
    paths = [str(session.path(one.file)) for one in part.revisions]
    found = worker.heads(paths)
    return [found[path] for path in paths]


def _told(
    session: Session,
    worker: Worker,
    part: Part,
    one: Original,
    heads: Sequence[SoundHead],
    *,
    match_db: float | None,
) -> OriginalTold:
    """Return where an original lies against the newest edit that it follows."""
    path = str(session.path(one.file))
    head = worker.heads([path])[path]
    if head.problem:
        return _unknown(part, one, session.inside(head.problem))
    reason = ""
    for number in range(len(heads), 0, -1):
        try:
            found = _compared(worker, session, part.revisions[number - 1], one)
        except SecondpassError as error:
            reason = reason or session.inside(str(error))
            continue
        if found.delay_frames is None:
            reason = reason or found.reason or "the music does not tell"
            continue
        return _lies(part, one, found, number, (head, *heads), match_db=match_db)
    begins = head.time_reference - heads[-1].time_reference
    ms = ms_from_frames(begins, rate=head.sample_rate)
    by_stamp = later_words(ms, than="its DI") if begins else "where its DI begins"
    return msgspec.structs.replace(
        _unknown(part, one, reason, match_db=match_db),
        at_frame=begins,
        text=(
            f"not known by the music ({reason}); after an edit the DI's notes lie elsewhere. By its time"
            f" stamp its file begins {by_stamp}"
        ),
    )


def _lies(
    part: Part,
    one: Original,
    found: Alignment,
    number: int,
    heads: Sequence[SoundHead],
    *,
    match_db: float | None,
) -> OriginalTold:
    """Return where it lies against edit `number`; `heads` are its own, then those of all edits."""
    head, di, newest = heads[0], heads[number], heads[-1]
    in_file = found.delay_frames or 0.0
    frames = in_file + head.time_reference - di.time_reference
    ms = ms_from_frames(frames, rate=di.sample_rate)
    than = "its DI" if di is newest else f"edit {number} of its DI"
    return OriginalTold(
        part=part.name,
        name=one.name,
        offset_frames=frames,
        plus_minus_frames=found.plus_minus_frames,
        offset_ms=ms,
        revision=number,
        at_frame=di.time_reference - newest.time_reference - round(in_file),
        polarity=found.polarity,
        match_db=match_db,
        text=later_words(ms, than=than),
    )


def _unknown(
    part: Part, one: Original, reason: str, *, match_db: float | None = None
) -> OriginalTold:
    return OriginalTold(
        part=part.name,
        name=one.name,
        offset_frames=None,
        plus_minus_frames=None,
        offset_ms=None,
        polarity="unsure",
        match_db=match_db,
        text=f"not known: {reason}",
        reason=reason,
    )


def _compared(worker: Worker, session: Session, di: Revision, one: Original) -> Alignment:
    return worker.compare(
        session.path(di.file),
        session.path(one.file),
        di_channel=di.channel - 1,
        channel=one.channel - 1,
    ).alignment


def _matches_db(
    session: Session, worker: Worker, part: Part, di: SoundHead, numbers: Sequence[int]
) -> list[float | None]:
    """Return the gain of each original; None of all where a file of the sounds cannot be read."""
    none: list[float | None] = [None] * len(part.originals)
    if not numbers or di.problem:
        return none
    said = opinions(session)
    try:
        begin, frames = _stretch(session, worker, part, di, numbers)
        sounds = [
            layers_of(session, part.name, variant_key(one), balance_of(said, part.name, one))
            for one in numbers
        ]
        originals = [
            layers_of(session, part.name, original_key(one.name)) for one in part.originals
        ]
        asked = MatchSounds(
            sounds=(*sounds, *originals),
            from_frame=begin,
            frames=frames,
            sample_rate=di.sample_rate,
        )
        told = [one.loudness_lufs for one in worker.match(asked).sounds]
    except SecondpassError:
        return none
    heard = [lufs for lufs in told[: len(sounds)] if lufs is not None]
    if not heard:
        return none
    mean = sum(heard) / len(heard)
    return [None if lufs is None else mean - lufs for lufs in told[len(sounds) :]]


def _stretch(
    session: Session, worker: Worker, part: Part, di: SoundHead, numbers: Sequence[int]
) -> tuple[int, int]:
    """Return what is compared: the DI's loudest minute; where there are sections alone, of the first."""
    found = [read_variant(pass_folder(session.folder, part.name, one)) for one in numbers]
    covers = [one.covers for one in found]
    first = covers[0]
    begin, frames = 0, di.frames
    if first is not None and None not in covers:
        begin = first.section_from_frame
        frames = first.section_to_frame - begin
    loudest = worker.find_loudest(
        session.path(part.revisions[-1].file),
        channel=part.revisions[-1].channel - 1,
        seconds=MATCHED_S,
        from_frame=begin,
        frames=frames,
    )
    return loudest.at_frame, loudest.frames


def _of_reference(part: Part, wiring: Wiring) -> Original:
    named = [one for one in part.originals if one.name == wiring.reference]
    return (named or list(part.originals))[0]
