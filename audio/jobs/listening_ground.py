"""What rolls when somebody listens: a part's sounds, what plays under them, and where each file lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from msgspec.structs import replace

from audio.jobs.sounds import layers_of, unplayable
from audio.plan.keepers import keepers_of
from audio.plan.listening import as_passes_tell
from audio.session import records
from audio.session.opened import Session
from audio.session.opinions import opinions
from audio.vocab.balance import Balance
from audio.vocab.errors import UseError
from audio.vocab.layers import DI, Layer, original_key, variant_key
from audio.vocab.listening import BACKING, MOST_SOUNDS, OTHERS, ListeningNow, Sound, Under
from audio.vocab.messages import Span
from audio.vocab.opinion import Opinion
from audio.vocab.results import SoundHead
from audio.vocab.session_file import Part, Song
from audio.vocab.variant import VariantFile
from audio.vocab.wiring import Wiring
from audio.work.client import Worker

UNDER_DB = -6.0
"""Where what plays under the sounds stands until somebody turns it: heard, and not in the way."""

NO_OUTPUTS = (
    "the wiring names no output where people listen; add it on the wiring screen, or write listen:"
    " {outputs: [1, 2]} into it: never the send's"
)

STREAM = "the stream runs"
"""Whose rate it is that files must have."""


@dataclass(frozen=True, slots=True)
class Ground:
    """What is listened to, and what had to be left out of it."""

    now: ListeningNow
    said: tuple[str, ...]
    """A line each."""


@dataclass(frozen=True, slots=True)
class _Place:
    """Whose files they are, and what they say of themselves."""

    session: Session
    song: Song
    part: Part
    heads: dict[str, SoundHead]

    def stamp(self, part: Part) -> int:
        """Return the time stamp of a part's newest DI; 0 where nobody can read it."""
        return self.heads[di_path(self.session, part)].time_reference


def listening_ground(session: Session, worker: Worker, wiring: Wiring, *, part_name: str) -> Ground:
    """Return what rolls when the sounds of a part are listened to.

    Parameters
    ----------
    session
        Its variants, but for those that were discarded, the newest first; then originals and the bare DI.
    worker
        Reads what the files say of themselves.
    wiring
        Of the stream.
    part_name
        The part.

    Returns
    -------
    Ground
        The first sound is heard and all of the part goes round; balances as they were left; loudness as
        far as the passes tell of it.

    Raises
    ------
    UseError
        If the wiring has no listen outputs, there is nothing to listen to, or what was said of variants
        cannot be read.
    """
    if not wiring.listen_outputs:
        raise UseError(NO_OUTPUTS)
    song, part = session.part(part_name)
    said = opinions(session)
    sounds, levels, left = _sounds(session, part, said)
    beside, missing = _beside(session, song, part, said)
    paths = [layer.path for one in sounds for layer in one.layers]
    paths += [layer.path for one in beside for layer in one.layers]
    files = [di_path(session, one) for one in song.parts]
    files += [str(session.path(song.backing.file))] if song.backing else []
    place = _Place(session, song, part, worker.heads(dict.fromkeys((*paths, *files))))
    sounds, unfit = _playable(sounds, place.heads, rate=wiring.sample_rate)
    if not sounds:
        raise UseError(f"{part.name} has nothing that can be listened to: {(*unfit, *left)[0]}")
    under, unheard = _under(place, beside, wiring)
    keys = [one.key for one in sounds]
    ends = (
        layer.at_frame + place.heads[layer.path].frames for one in sounds for layer in one.layers
    )
    whole = max(ends)
    now = ListeningNow(
        part=part.name,
        sample_rate=wiring.sample_rate,
        sounds=sounds,
        heard=keys[0],
        before=keys[0],
        under=under,
        whole=whole,
        span=Span(start=0, end=whole),
        balances=_balances(said, part.name, keys),
    )
    now = as_passes_tell(now, {key: levels[key] for key in keys if key in levels})
    return Ground(now=now, said=(*left, *unfit, *missing, *unheard))


def di_path(session: Session, part: Part) -> str:
    """Return where a part's newest DI lies."""
    return str(session.path(part.revisions[-1].file))


# ---------------------------------------------------------------- the sounds


def _sounds(
    session: Session, part: Part, said: Sequence[Opinion]
) -> tuple[tuple[Sound, ...], dict[str, tuple[VariantFile, ...]], list[str]]:
    """Return every sound of a part, what its files came in at, and what had to be left out."""
    of = {one.number: one for one in said if one.part == part.name}
    found: list[Sound] = []
    levels: dict[str, tuple[VariantFile, ...]] = {}
    left: list[str] = []
    for one in reversed(records.variants(session, part.name).found):
        opinion = of.get(one.number, Opinion(part=part.name, number=one.number))
        if opinion.discarded:
            continue
        if len(found) == MOST_SOUNDS:
            left.append(
                f"{MOST_SOUNDS} variants are listened to at once, the newest ones; discard some to hear"
                " older ones"
            )
            break
        key = variant_key(one.number)
        levels[key] = one.files
        sound = Sound(
            key=key,
            title=opinion.called or opinion.chain or one.chain.name,
            number=one.number,
            layers=(),
            outside=one.covers.text if one.covers else "",
        )
        found += _laid(session, part, sound, left)
    for key, title in _unmade(part):
        found += _laid(session, part, Sound(key=key, title=title, layers=()), left)
    return tuple(found), levels, left


def _laid(session: Session, part: Part, one: Sound, left: list[str]) -> list[Sound]:
    """Return a sound with its files; where they cannot be laid on the timeline, none, and say why."""
    try:
        return [replace(one, layers=layers_of(session, part.name, one.key))]
    except UseError as error:
        left.append(_left_out(one, str(error)))
        return []


def _left_out(one: Sound, why: str) -> str:
    return f"{one.title} is left out: {why}"


def _unmade(part: Part) -> list[tuple[str, str]]:
    """Return the sounds that no pass has made: originals and the bare DI."""
    originals = [(original_key(one.name), f"original, {one.name}") for one in part.originals]
    return [*originals, (DI, "DI, as it was edited")]


def _playable(
    sounds: Sequence[Sound], heads: dict[str, SoundHead], *, rate: int
) -> tuple[tuple[Sound, ...], list[str]]:
    """Return the sounds whose files can all be played, and why the others cannot."""
    fit, unfit = [], []
    for one in sounds:
        if why := unplayable(one.layers, heads, rate=rate, whose=STREAM):
            unfit.append(_left_out(one, why))
        else:
            fit.append(one)
    return tuple(fit), unfit


def _balances(
    said: Sequence[Opinion], part: str, keys: Sequence[str]
) -> tuple[tuple[str, Balance], ...]:
    there = ((variant_key(one.number), one.balance) for one in said if one.part == part)
    return tuple((key, balance) for key, balance in there if key in keys and balance != Balance())


# ---------------------------------------------------------------- what plays under them


@dataclass(frozen=True, slots=True)
class _Beside:
    part: Part
    layers: tuple[Layer, ...]


def _beside(
    session: Session, song: Song, part: Part, said: Sequence[Opinion]
) -> tuple[list[_Beside], list[str]]:
    """Return the newest keeper of each other part of the song, as it was kept, and why one cannot be."""
    found: list[_Beside] = []
    missing: list[str] = []
    for other in song.parts:
        numbers = keepers_of(said, other.name)
        if other.name == part.name or not numbers:
            continue
        kept = next(one for one in said if (one.part, one.number) == (other.name, numbers[-1]))
        balance = kept.keeper.balance if kept.keeper else Balance()
        try:
            layers = layers_of(session, other.name, variant_key(kept.number), balance)
        except UseError as error:
            missing.append(_not_heard(other, str(error)))
        else:
            found.append(_Beside(other, layers))
    return found, missing


def _not_heard(part: Part, why: str) -> str:
    return f"{part.name} is not heard under it: {why}"


def _under(
    place: _Place, beside: Sequence[_Beside], wiring: Wiring
) -> tuple[tuple[Under, ...], list[str]]:
    """Return what plays under the sounds, and why something of it cannot."""
    under, missing = [], []
    backing = place.song.backing
    if backing is not None:
        track = _of_backing(place.heads[str(place.session.path(backing.file))], place)
        if why := unplayable(track, place.heads, rate=wiring.sample_rate, whose=STREAM):
            missing.append(f"the backing track is not heard: {why}")
        else:
            cue = wiring.cue.backing_db if wiring.cue else None
            db = UNDER_DB if cue is None else cue
            under.append(Under(name=BACKING, layers=track, db=db))
    layers = []
    for one in beside:
        if why := unplayable(one.layers, place.heads, rate=wiring.sample_rate, whose=STREAM):
            missing.append(_not_heard(one.part, why))
            continue
        later = place.stamp(one.part) - place.stamp(place.part)
        layers += [replace(layer, at_frame=layer.at_frame + later) for layer in one.layers]
    if layers:
        under.append(Under(name=OTHERS, layers=tuple(layers), db=None))
    return tuple(under), missing


def _of_backing(head: SoundHead, place: _Place) -> tuple[Layer, ...]:
    at = head.time_reference - place.stamp(place.part)
    return tuple(
        Layer(name=BACKING, path=head.path, channel=channel, at_frame=at)
        for channel in range(max(head.channels, 1))
    )
