"""An evening to be handed over: recordings of noise with known codes, DIs, an original, a backing track.

Everything is invented; files are short, so that a hand-over takes no time.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import soundfile
from msgspec.structs import replace
from numpy.typing import NDArray
from stamped import write_stamped
from unit.session_cases import NOON, noon, variant, variant_file

from audio.files.capture import CaptureFile
from audio.files.codes import as_device
from audio.files.inspect import inspect
from audio.session import passes, records
from audio.session.folder import create
from audio.session.opened import Session
from audio.session.opinions import say
from audio.vocab.balance import Balance, Fader
from audio.vocab.variant import ChainAsSet, VariantFile

RATE = 48_000
HOUR = 3600 * RATE
"""Where the DIs lie on the recorder's timeline, as many recorders begin."""

FRAMES = 12_001


def codes(seed: int, frames: int = FRAMES, *, peak_db: float = -6.0) -> NDArray[np.int64]:
    """Return 24-bit codes of noise, (frames,)."""
    noise = np.random.default_rng(seed).uniform(-1.0, 1.0, frames)
    return np.rint(noise * (2**23 - 1) * 10 ** (peak_db / 20)).astype(np.int64)


def evening(
    tmp_path: Path,
    *,
    name: str = "harbour lights",
    song: str = "last ferry",
    song_start_s: float | None = 3600.0,
    parts: tuple[str, ...] = ("rhythm-left",),
    frames: int = FRAMES,
) -> Session:
    """Return a session whose parts have a DI at 01:00:00, an original 30 frames behind, a backing track."""
    made = create(
        tmp_path / "evening", name=name, song=song, bpm=96.0, metre="4/4", song_start_s=song_start_s
    )
    for number, part in enumerate(parts):
        di = stamped(tmp_path / f"{number}.wav", codes(number, frames), at=HOUR)
        made = made.add_part(source=di, facts=inspect(di), name=part, clock=noon)
        mic = stamped(tmp_path / f"{number}.mic.wav", codes(number + 50, frames), at=HOUR + 30)
        made = made.add_original(part, source=mic, facts=inspect(mic), name="close", clock=noon)
    backing = tmp_path / "backing.flac"
    two = np.stack([codes(90, 20_000), codes(91, 20_000)], axis=1)
    soundfile.write(backing, (two << 8).astype(np.int32), RATE, subtype="PCM_24")
    return made.add_backing(None, source=backing, facts=inspect(backing), clock=noon)


def stamped(path: Path, mono: NDArray[np.int64], *, at: int) -> Path:
    return write_stamped(path, mono[:, None], rate=RATE, time_reference=at)


def left(
    session: Session,
    part: str = "rhythm-left",
    *,
    chain: str = "fuzz into delay",
    seed: int = 7,
    peak_db: float = -12.0,
    microphones: tuple[str, ...] = ("close", "room"),
    at: int = HOUR,
    depth: int = 24,
    frames: int = FRAMES,
) -> int:
    """Leave a variant whose files hold `codes` of the seed and those behind it; return its number."""
    claim = passes.claim(session, part)
    files = tuple(
        _recorded(
            session, claim, chain, name, codes(seed + index, frames, peak_db=peak_db), at, depth
        )
        for index, name in enumerate(microphones)
    )
    made = replace(
        variant(claim.number, part=part),
        song=session.file.songs[0].name,
        chain=ChainAsSet(name=chain),
        time_reference=at,
        files=files,
        opening_click=(),
    )
    records.write_variant(claim.folder, made)
    return claim.number


def _recorded(  # noqa: PLR0917 - what one file is
    session: Session,
    claim: passes.Claim,
    chain: str,
    name: str,
    samples: NDArray[np.int64],
    at: int,
    depth: int,
) -> VariantFile:
    path = claim.folder / passes.capture_name(claim.part, claim.number, chain, name)
    file = CaptureFile(
        path,
        channels=1,
        rate=RATE,
        depth=24 if depth == 24 else 32,
        time_reference=at,
        description="",
        made_at=datetime(2026, 11, 25, tzinfo=UTC),
    )
    file.write(as_device(samples / 2.0**23, file.format))
    done = file.close()
    return variant_file(
        name,
        path.relative_to(session.folder).as_posix(),
        frames=done.frames,
        audio_sha256=done.audio_sha256,
        peak_dbfs=20.0 * float(np.log10(np.abs(samples).max() / 2.0**23)),
    )


def keep(
    session: Session, number: int, part: str = "rhythm-left", *, room_db: float | None = None
) -> None:
    """Keep a variant, its room turned down where that is said."""
    faders = () if room_db is None else (Fader(name="room", db=room_db),)
    say(
        session,
        part,
        number,
        keeper=True,
        reason="sits in the mix",
        balance=Balance(faders=faders),
        clock=lambda: NOON,
    )
