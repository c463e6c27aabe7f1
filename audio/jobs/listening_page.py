"""The listening page of a hand-over: which sounds stand on it, matched in loudness, cut into pieces.

What a killed try left is used: a piece's name follows from all that its sound is made of, so one that is
there is the one that is wanted. ``index.html`` comes last.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from audio.files.text import write_atomic
from audio.handover.page import SCRIPT, index_html, script
from audio.jobs.deck import StoppedError
from audio.jobs.page_ground import PartGround, page_grounds
from audio.jobs.page_pieces import Cut, cut_backing, cut_sound, pieces_of
from audio.jobs.page_remembered import Remembered
from audio.session.disk import said_plainly
from audio.session.opened import Session
from audio.vocab.matching import CEILING_DBTP, Matched
from audio.vocab.page import Page, PagePart, PageSong, PageSound
from audio.vocab.requests import MatchSounds
from audio.work.client import Worker

SOUNDS = "sounds"

RAISED_DB = -12.0
"""What never comes near full scale is turned up until its peaks may reach this: 16 bits then hold it 80 dB
over their dither. What is louder stays as it is, because level weighs."""


@dataclass(frozen=True, slots=True)
class _Making:
    """Who makes it, where, and who is told."""

    worker: Worker
    to: Path
    say: Callable[[str], None]
    stop: Callable[[], bool]

    def step(self) -> None:
        """Go no further once somebody has asked to stop."""
        if self.stop():
            raise StoppedError


def make_page(
    session: Session,
    worker: Worker,
    sounds: Sequence[tuple[str, int]],
    *,
    to: Path,
    name: str,
    token: str,
    offsets: Mapping[tuple[str, str], str],
    say: Callable[[str], None],
    stop: Callable[[], bool],
) -> tuple[str, ...]:
    """Write the listening page into a folder.

    Parameters
    ----------
    session
        Where the sounds are.
    worker
        Reads, matches and cuts them.
    sounds
        Part and number of each variant, in the order they are to stand in. The originals of a part that has
        one come behind them.
    to
        The folder; made where it is missing. What an earlier try left there is used again, what does not
        belong to the page is taken away from ``sounds/``.
    name
        The hand-over's.
    token
        What tells it from any other.
    offsets
        Of part and original how that lies against its DI, in words: ``2.8 ms later than its DI``.
    say
        Hears a line now and then.
    stop
        Asked between two steps.

    Returns
    -------
    tuple of str
        What had to be left out, a sentence each.

    Raises
    ------
    StoppedError
        If `stop` said so; asked again it goes on where it was.
    UseError
        If a file cannot be read or written, or none of the sounds can be played.
    """
    making = _Making(worker, to, say, stop)
    with said_plainly(to, doing="written"):
        (to / SOUNDS).mkdir(parents=True, exist_ok=True)
        grounds = page_grounds(session, worker, sounds, offsets)
        remembered = Remembered(to)
        cuts: dict[str, Cut] = {}
        parts = [_part(making, one, remembered, cuts) for one in grounds.parts]
        _write_pieces(making, cuts)
        page = Page(
            session=session.file.name, name=name, token=token, songs=_songs(grounds.parts, parts)
        )
        _clear(to / SOUNDS, {path.name for cut in cuts.values() for path in _paths(to, cut)})
        write_atomic(to / SCRIPT, script())
        write_atomic(to / "index.html", index_html(page))
        remembered.forget()
    return grounds.left


def _part(
    making: _Making, ground: PartGround, remembered: Remembered, cuts: dict[str, Cut]
) -> PagePart:
    """Return a part matched in loudness; note what is to be cut for it."""
    making.step()
    making.say(f"{ground.name}: matching {len(ground.sounds)} sounds in loudness")
    matched, backing = _matched(making.worker, ground, remembered)
    found = []
    for one, level in zip(ground.sounds, matched.sounds, strict=True):
        file_db = _file_db(level.peak_dbtp)
        cut = cut_sound(one.layers, ground, file_db, what=f"{ground.name}, {one.title}")
        cuts[cut.track.id] = cut
        found.append(
            PageSound(
                key=one.key,
                title=one.title,
                reason=one.reason,
                trouble=one.trouble,
                lies=one.lies,
                covers=one.covers,
                loudness_lufs=level.loudness_lufs,
                match_db=level.match_db,
                file_db=file_db,
                track=cut.track,
            )
        )
    under = None
    if ground.backing:
        peaks = max(one.peak_dbtp for one in backing.sounds) if backing else 0.0
        under = cut_backing(ground, _file_db(peaks), what=f"{ground.song}, backing")
        cuts[under.track.id] = under
    return PagePart(
        name=ground.name,
        rate=ground.page_rate,
        frames=ground.page_frames,
        sounds=tuple(found),
        backing=None if under is None else under.placed(ground),
        backing_file_db=0.0 if under is None else under.gain_db,
        cut_matched_db=matched.cut_matched_db,
        cut_plain_db=matched.cut_plain_db,
        first_bar=ground.first_bar,
        bars=ground.bars,
    )


def _matched(
    worker: Worker, ground: PartGround, remembered: Remembered
) -> tuple[Matched, Matched | None]:
    """Return how loud a part's sounds are, and its backing track alone.

    The track plays under them as loud as it can be turned up on the page, so nothing clips there either.
    """
    span = {"from_frame": 0, "frames": ground.frames, "sample_rate": ground.rate}
    asked = MatchSounds(
        sounds=tuple(one.layers for one in ground.sounds), under=ground.backing, **span
    )
    matched = remembered.answer(asked, worker.match)
    if not ground.backing:
        return matched, None
    # On its own timeline, all of it: its pieces serve every part of the song.
    alone = MatchSounds(
        sounds=tuple((one,) for one in ground.backing_alone),
        from_frame=0,
        frames=ground.backing_frames,
        sample_rate=ground.rate,
    )
    return matched, remembered.answer(alone, worker.match)


def _file_db(peak_dbtp: float) -> float:
    """Return what a sound's files are turned by."""
    return min(CEILING_DBTP - peak_dbtp, max(0.0, RAISED_DB - peak_dbtp))


def _write_pieces(making: _Making, cuts: Mapping[str, Cut]) -> None:
    for done, cut in enumerate(cuts.values(), start=1):
        making.say(f"{cut.what}: sound {done} of {len(cuts)}")
        for path, asked in zip(
            _paths(making.to, cut), pieces_of(cut, making.to / SOUNDS), strict=True
        ):
            if not _is_whole(path):
                making.step()
                making.worker.make_piece(asked)


def _paths(to: Path, cut: Cut) -> list[Path]:
    return [Path(one.to) for one in pieces_of(cut, to / SOUNDS)]


def _is_whole(path: Path) -> bool:
    """Return whether a piece is there to its end; one that a failing disk cut off is made again."""
    try:
        with path.open("rb") as file:
            file.seek(-4, 2)
            return file.read() == b'");\n'
    except OSError:
        return False


def _clear(folder: Path, wanted: set[str]) -> None:
    """Take away what killed tries left behind, and sounds that are no longer asked for."""
    for path in folder.iterdir():
        if path.name not in wanted and path.is_file():
            path.unlink()


def _songs(grounds: Sequence[PartGround], parts: Sequence[PagePart]) -> tuple[PageSong, ...]:
    """Return the parts under their songs, in the order in which they were asked for."""
    found: dict[str, list[PagePart]] = {}
    for ground, part in zip(grounds, parts, strict=True):
        found.setdefault(ground.song, []).append(part)
    return tuple(PageSong(name=name, parts=tuple(of)) for name, of in found.items())
