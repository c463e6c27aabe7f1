"""What a listening page can play of a session: which files, where each lies, what is said of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from msgspec.structs import replace

from audio.grid.bars import bar_grid
from audio.jobs.sounds import layers_of, unplayable
from audio.jobs.tempos import song_tempo
from audio.session import layout, records
from audio.session.opened import Session
from audio.session.opinions import opinions
from audio.vocab.balance import of_microphones
from audio.vocab.errors import UseError
from audio.vocab.findings import heaviest_first
from audio.vocab.layers import Layer, original_key, variant_key
from audio.vocab.listening import BACKING
from audio.vocab.matching import LONGEST_S
from audio.vocab.opinion import Opinion
from audio.vocab.page import decimation
from audio.vocab.results import SoundHead
from audio.vocab.session_file import Part, Song
from audio.vocab.variant import Summary
from audio.work.client import Worker

ITS_DI = "its DI"
"""Whose rate it is that files must have."""

_MOST_CHANNELS = 2
"""Of a backing track: what people hear."""


@dataclass(frozen=True, slots=True)
class GroundSound:
    """One sound of a part."""

    key: str
    title: str
    reason: str
    trouble: str
    lies: str
    covers: str
    layers: tuple[Layer, ...]


@dataclass(frozen=True, slots=True)
class PartGround:
    """One part with all that is needed to play it; frames are the session's unless they say page."""

    song: str
    name: str
    rate: int
    frames: int
    """Until the last of its sounds ends."""
    sounds: tuple[GroundSound, ...]
    lengths: Mapping[str, int]
    """Frames of each file, by path."""
    backing: tuple[Layer, ...]
    """The track's channels on this part's timeline; none where there is no track."""
    first_bar: int
    bars: tuple[int, ...]
    """Page frames."""

    @property
    def by(self) -> int:
        """Of how many frames the page plays one."""
        return decimation(self.rate)

    @property
    def page_rate(self) -> int:
        """Frames a second on the page."""
        return self.rate // self.by

    @property
    def page_frames(self) -> int:
        """How long the part is there."""
        return -(-self.frames // self.by)

    @property
    def backing_at(self) -> int:
        """Where the track's first frame lies on the part's timeline."""
        return self.backing[0].at_frame

    @property
    def backing_frames(self) -> int:
        """How long the track is, up to what can be matched."""
        return min(self.lengths[self.backing[0].path], LONGEST_S * self.rate)

    @property
    def backing_alone(self) -> tuple[Layer, ...]:
        """The track's channels on its own timeline."""
        return tuple(replace(one, at_frame=0) for one in self.backing)


@dataclass(frozen=True, slots=True)
class Grounds:
    """Parts in the order in which they were asked for, and what had to be left out, a sentence each."""

    parts: tuple[PartGround, ...]
    left: tuple[str, ...]


def page_grounds(
    session: Session,
    worker: Worker,
    sounds: Sequence[tuple[str, int]],
    offsets: Mapping[tuple[str, str], str],
) -> Grounds:
    """Return what of some sounds can be played, part by part.

    Parameters
    ----------
    session
        Where they are.
    worker
        Reads what the files say of themselves.
    sounds
        Part and number of each variant.
    offsets
        Of part and original how that lies against its DI.

    Returns
    -------
    Grounds
        At least one part.

    Raises
    ------
    UseError
        If there is no such part, what was said of variants cannot be read, or nothing can be played.
    """
    said = {(one.part, one.number): one for one in opinions(session)}
    numbers: dict[str, list[int]] = {}
    for name, number in sounds:
        numbers.setdefault(session.part(name)[1].name, []).append(number)
    left: list[str] = []
    found = []
    for name, of in numbers.items():
        song, part = session.part(name)
        laid = _variants(session, part, of, said, left) + _originals(session, part, offsets, left)
        ground = _ground(session, worker, song, part, laid, left=left)
        found += [ground] if ground else []
    if not found:
        why = left[0] if left else "no sound was named; keep one, or name all"
        raise UseError(f"the listening page would be empty: {why}")
    return Grounds(parts=tuple(found), left=tuple(left))


# ---------------------------------------------------------------- the sounds


def _variants(
    session: Session,
    part: Part,
    numbers: Sequence[int],
    said: Mapping[tuple[str, int], Opinion],
    left: list[str],
) -> list[GroundSound]:
    found = []
    for number in dict.fromkeys(numbers):
        try:
            folder = layout.pass_folder(session.folder, part.name, number)
            seen = records.read_summary(folder)
            opinion = said.get((part.name, number), Opinion(part=part.name, number=number))
            found.append(_variant(session, seen, opinion))
        except UseError as error:
            left.append(f"{part.name} {number:03d} is not on the listening page: {error}")
    return found


def _variant(session: Session, seen: Summary, said: Opinion) -> GroundSound:
    names = [one.return_name for one in seen.files]
    balance = of_microphones(said.keeper.balance if said.keeper else said.balance, names)
    key = variant_key(seen.number)
    layers = layers_of(session, seen.part, key, balance)
    if not layers:
        raise UseError("all its microphones are shut; open one")
    return GroundSound(
        key=key,
        title=said.called or said.chain or seen.chain.name,
        reason=said.keeper.reason if said.keeper else "",
        trouble=_trouble(seen),
        lies="",
        covers=seen.covers.text if seen.covers else "",
        layers=layers,
    )


def _trouble(seen: Summary) -> str:
    """Return what the verdict says where it is not good: the word, and the heaviest reason."""
    if seen.verdict == "good":
        return ""
    first = heaviest_first(seen.findings)[:1]
    return ": ".join([seen.verdict, *(one.text for one in first)])


def _originals(
    session: Session, part: Part, offsets: Mapping[tuple[str, str], str], left: list[str]
) -> list[GroundSound]:
    found = []
    for one in part.originals:
        key = original_key(one.name)
        try:
            layers = layers_of(session, part.name, key)
        except UseError as error:
            left.append(f"{part.name}, original {one.name}, is not on the listening page: {error}")
            continue
        words = offsets.get((part.name, one.name), "")
        found.append(
            GroundSound(
                key=key,
                title=f"original, {one.name}",
                reason="",
                trouble="",
                lies=f"lies {words}" if words else "",
                covers="",
                layers=layers,
            )
        )
    return found


# ---------------------------------------------------------------- the part


def _ground(
    session: Session,
    worker: Worker,
    song: Song,
    part: Part,
    sounds: Sequence[GroundSound],
    *,
    left: list[str],
) -> PartGround | None:
    """Return a part with those of its sounds that can be played; None where none can."""
    di = str(session.path(part.revisions[-1].file))
    track = str(session.path(song.backing.file)) if song.backing else None
    paths = [layer.path for one in sounds for layer in one.layers]
    heads = worker.heads(dict.fromkeys([di, *paths, *([track] if track else [])]))
    rate = heads[di].sample_rate
    fit = []
    for one in sounds:
        if why := unplayable(one.layers, heads, rate=rate, whose=ITS_DI):
            left.append(f"{part.name}, {one.title}, is not on the listening page: {why}")
        else:
            fit.append(one)
    if not fit:
        return None
    frames = max(one.at_frame + heads[one.path].frames for f in fit for one in f.layers)
    if not 0 < frames <= LONGEST_S * rate:
        left.append(
            f"{part.name} is not on the listening page: it is longer than an hour, or empty"
        )
        return None
    first, bars = _bars(session, song, heads[di], frames)
    return PartGround(
        song=song.name,
        name=part.name,
        rate=rate,
        frames=frames,
        sounds=tuple(fit),
        lengths={path: head.frames for path, head in heads.items()},
        backing=_backing(heads, di=di, track=track, song=song.name, left=left),
        first_bar=first,
        bars=bars,
    )


def _backing(
    heads: Mapping[str, SoundHead],
    *,
    di: str,
    track: str | None,
    song: str,
    left: list[str],
) -> tuple[Layer, ...]:
    """Return the backing track's channels where its time stamp puts them."""
    if track is None:
        return ()
    head = heads[track]
    at = head.time_reference - heads[di].time_reference
    layers = tuple(
        Layer(name=BACKING, path=track, channel=channel, at_frame=at)
        for channel in range(min(max(head.channels, 1), _MOST_CHANNELS))
    )
    if why := unplayable(layers, heads, rate=heads[di].sample_rate, whose=ITS_DI):
        text = f"the backing track of {song} is not on the listening page: {why}"
        left += [] if text in left else [text]
        return ()
    return layers


def _bars(session: Session, song: Song, di: SoundHead, frames: int) -> tuple[int, tuple[int, ...]]:
    """Return the number of the first bar that begins in a part, and where bars begin, in page frames."""
    rate = di.sample_rate
    grid = bar_grid(
        song,
        tempo=song_tempo(session, song).map,
        time_reference=di.time_reference,
        rate=rate,
    )
    if grid is None:
        return 1, ()
    first, last = grid.bar_at(0), grid.bar_at(frames - 1)
    by = decimation(rate)
    inside = [round(grid.frame(bar) / by) for bar in range(first + 1, last + 1)]
    return first, (0, *(one for one in inside if one > 0), -(-frames // by))
