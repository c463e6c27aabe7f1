"""A session to listen to in the simulated room, and what left every output while somebody did.

Variants are told, not played: each microphone is a tone of its own in bursts, so that a recording tells
which one was heard at which gain. The recording is the roll's own: a capture of all outputs is added to it.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from accidents import wait_for
from msgspec.structs import replace
from playing import write_phrase
from sitting import RATE, Sitting, wired
from unit.session_cases import variant_file

from audio.files.inspect import inspect
from audio.jobs import news
from audio.jobs.deck import Deck
from audio.jobs.orders import Listen
from audio.session import passes, records
from audio.session.folder import create
from audio.vocab.listening import ListeningNow
from audio.vocab.messages import Capture, Ended
from audio.vocab.opinion import Opinion
from audio.vocab.status import Status
from audio.vocab.variant import ChainAsSet, DiUsed, Variant, VariantFile
from audio.vocab.wiring_text import wiring_text

PART = "riff"
SECONDS = 3.0
FRAMES = round(SECONDS * RATE)
EARS, SEND = (0, 1), 2
TONES = {"001": {"close": 400, "room": 700}, "002": {"close": 1000, "room": 1700}}
ROUNDS = 6
"""What is asked of the engine reaches it long before so many have gone by, as fast as they may."""
LEVELS_DB = {"001": -30.0, "002": -14.0}
"""Peak of each variant's microphones, dBFS."""


def make_session(folder: Path, *, pace: str = "free", listen: tuple[int, ...] = EARS) -> Path:
    """Make a session of one part whose variants are `TONES`; return its folder."""
    wiring = replace(wired(pace=pace), listen_outputs=tuple(one + 1 for one in listen))
    session = create(
        folder / "evening", name="evening", song="low water", wiring_text=wiring_text(wiring)
    )
    di = write_phrase(folder / "riff.wav", rate=RATE, seconds=SECONDS, seed=3)
    session = session.add_part(source=di, facts=inspect(di), name=PART)
    for key, tones in TONES.items():
        claim = passes.claim(session, PART)
        files = []
        for name, hz in tones.items():
            path = claim.folder / f"{PART}_{claim.number:03d}_{name}.wav"
            soundfile.write(path, tone(hz, LEVELS_DB[key]), RATE, subtype="PCM_24")
            files.append(_file(name, path.relative_to(session.folder).as_posix()))
        records.write_variant(claim.folder, _variant(claim.number, tuple(files)))
    return session.folder


def tone(hz: float, peak_dbfs: float) -> np.ndarray:
    """Return bursts of a tone, two a second: whole periods, so that it goes round without a step."""
    at = np.arange(FRAMES) / RATE
    envelope = 0.5 - 0.5 * np.cos(2 * np.pi * 2 * at)
    return 10 ** (peak_dbfs / 20) * envelope * np.sin(2 * np.pi * hz * at)


def _file(name: str, path: str) -> VariantFile:
    return variant_file(name, path, frames=FRAMES)


def _variant(number: int, files: tuple[VariantFile, ...]) -> Variant:
    return Variant(
        number=number,
        part=PART,
        revision=1,
        song="low water",
        chain=ChainAsSet(name=f"fuzz {number}"),
        state="kept",
        verdict="good",
        findings=(),
        made_at=f"2026-11-25T21:0{number}:00+01:00",
        sample_rate=RATE,
        di=DiUsed(path="di/riff.r1.wav", channel=1, file_sha256="ab" * 32, frames=FRAMES, peak_dbfs=-12.0),
        trim_db=0.0,
        time_reference=0,
        align_to="di",
        delay_frames=700.0,
        plus_minus_frames=0.02,
        shift_frames=700,
        residual_frames=0.0,
        delay_source="opening click",
        chain_adds_frames=None,
        dropouts=(),
        clock_ppm=None,
        setup={},
        opening_click=(),
        closing_click=(),
        files=files,
    )  # fmt: skip


@contextmanager
def recorded(folder: Path) -> Iterator[list[Path]]:
    """Record every output of each roll that people listen to; give the files, as they are made."""
    files: list[Path] = []
    play = Deck.play

    def recording(deck: Deck, **asked: Any) -> Ended:
        if asked["what"] == "flip":
            files.append(folder / f"sent {len(files)}.wav")
            asked["captures"] = (Capture(path=str(files[-1]), outputs=(0, 1, 2, 3)),)
        return play(deck, **asked)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Deck, "play", recording)
        yield files


class Ears:
    """Somebody who listens at a sitting's desk."""

    def __init__(self, desk: Sitting) -> None:
        self.desk = desk

    def listen(self, **asked: Any) -> ListeningNow:
        """Let it roll; return how it begins."""
        self.desk.runner.ask(Listen(part=PART, **asked))
        first = self.desk.until(news.ListeningStands).now
        self.desk.until(news.RollBegins)
        return first

    def until_measured(self) -> ListeningNow:
        return self.desk.until(news.ListeningStands, lambda one: one.now.measured).now

    def rolls_on(self, seconds: float) -> int:
        """Wait until so much more has rolled; return the roll's frame."""
        end = self.frame() + round(seconds * RATE)
        wait_for(lambda: self.frame() > end, "it does not roll")
        return self.frame()

    def frame(self) -> int:
        """Return the roll's frame."""
        return self.status().roll_frame

    def status(self) -> Status:
        """Return the newest picture of the roll under way."""
        seen: list[Status] = []

        def there() -> bool:
            one = self.desk.runner.status()
            if one is not None and one.roll_id == self.desk.roll_number:
                seen.append(one)
            return bool(seen)

        wait_for(there, "nothing rolls")
        return seen[0]

    def hear_round(self) -> slice:
        """Hear some rounds; return the frames of the last whole one: what was asked has come by then."""
        behind = self.rolls_on(ROUNDS * SECONDS) // FRAMES * FRAMES
        return slice(behind - FRAMES, behind)

    def stopped(self) -> list[news.News]:
        self.desk.runner.stop()
        return self.desk.to_idle()

    def said(self, number: int) -> Opinion:
        """Return what was said of a variant, by the newest picture of the session."""
        shots = [one for one in self.desk.heard if isinstance(one, news.Snapshot)]
        return next(
            (one for one in shots[-1].opinions if one.number == number),
            Opinion(part=PART, number=number),
        )


def sent(file: Path) -> np.ndarray:
    """Return a recording of the outputs, shape (frames, 4)."""
    return soundfile.read(file, always_2d=True)[0]


def level_db(sound: np.ndarray, hz: float) -> float:
    """Return the peak of the bursts of a tone in a sound, dBFS; an envelope of mean one half."""
    wave = np.exp(-2j * np.pi * hz * np.arange(len(sound)) / RATE)
    return float(20 * np.log10(max(4 * abs(np.mean(sound * wave)), 1e-12)))
