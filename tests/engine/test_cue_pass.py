"""A pass with a cue in the simulated room: what people hear, by the frame, and a send that is the DI alone.

Every output is captured as it was sent. What must be heard is put together here from the files, the tempo
and the time stamps, not by the program's own sums.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
import soundfile
from msgspec.structs import replace
from sitting import RATE, wired
from stamped import write_stamped

from audio.files.inspect import inspect
from audio.jobs import rolls
from audio.jobs.deck import Deck
from audio.jobs.passes import Passed, run_pass
from audio.jobs.placing import Known
from audio.jobs.talk import Rolling, Silent
from audio.session.folder import create
from audio.session.opened import Session
from audio.session.records import read_order
from audio.vocab.errors import UseError
from audio.vocab.messages import Capture
from audio.vocab.order import Order
from audio.vocab.section import Section
from audio.vocab.wiring import Cue, Wiring
from audio.vocab.wiring_text import wiring_text

BPM, BEAT = 240.0, RATE // 4
"""A quarter of a second a beat."""

START_S = 10.25
DI_STAMP = 10 * RATE
"""The DI begins a beat before bar 1: a pickup."""

BACKING_STAMP = DI_STAMP - 20_000
BACKING_FRAMES = 230_000
"""It goes on where the DI ends, and must not be heard in the tail."""
DI_FRAMES = 176_400
"""Four seconds."""

CUE = Cue(backing_db=-6.0, count_in_bars=1, count_in_dbfs=-20.0)
FADE = round(0.010 * RATE)
SILENCE = RATE // 4


def room(cue: Cue | None) -> Wiring:
    return replace(wired(), listen_outputs=(1, 2), cue=cue, tail_s=1.0)


@dataclass
class Told(Silent):
    """Keeps what is said, and which rolls begin."""

    steps: list[str] = field(default_factory=list)
    rolls: list[Rolling] = field(default_factory=list)

    def step(self, text: str) -> None:
        self.steps.append(text)

    def begins(self, roll: Rolling) -> None:
        self.rolls.append(roll)


def noise(frames: int, channels: int, *, seed: int) -> np.ndarray:
    """Return bursts, louder and softer, as 24-bit codes."""
    rng = np.random.default_rng(seed)
    shape = np.exp(-(np.arange(frames) % 9000) / 3000.0)[:, None]
    return np.rint(rng.uniform(-0.4, 0.4, (frames, channels)) * shape * 2**23).astype(np.int32)


Evening = tuple[Session, np.ndarray, np.ndarray]


def make(folder: Path) -> Evening:
    """Return a session, its DI (frames,) and its backing track (frames, 2), both as codes."""
    di, backing = noise(DI_FRAMES, 1, seed=3200), noise(BACKING_FRAMES, 2, seed=3201)
    write_stamped(folder / "riff.wav", di, rate=RATE, time_reference=DI_STAMP)
    write_stamped(folder / "band.wav", backing, rate=RATE, time_reference=BACKING_STAMP)
    session = create(
        folder / "evening",
        name="evening",
        song="low water",
        bpm=BPM,
        metre="4/4",
        song_start_s=START_S,
        wiring_text=wiring_text(room(CUE)),
    )
    session = session.add_part(source=folder / "riff.wav", facts=inspect(folder / "riff.wav"))
    facts = inspect(folder / "band.wav")
    return session.add_backing(None, source=folder / "band.wav", facts=facts), di[:, 0], backing


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Evening:
    return make(tmp_path_factory.mktemp("cue"))


def play(
    session: Session,
    cue: Cue | None,
    patch: pytest.MonkeyPatch,
    section: Section | None = None,
) -> tuple[Passed, Order, np.ndarray, Told]:
    """Run a pass; return it, its order, what left every output (codes), and what was told."""
    told, usual = Told(), rolls.captures

    def captures(of: Session, order: Order, folder: Path) -> tuple[Capture, ...]:
        everything = Capture(path=str(folder / "outputs.wav"), outputs=(0, 1, 2, 3))
        return (*usual(of, order, folder), everything)

    patch.setattr(rolls, "captures", captures)
    with Deck(room(cue), told) as deck:
        done = run_pass(
            deck, session, part_name="riff", chain="plain", known=Known(), section=section
        )
    folder = session.folder / "passes" / "riff" / f"{done.variant.number:03d}"
    outputs = soundfile.read(folder / "outputs.wav", dtype="int32")[0] >> 8
    return done, read_order(folder), outputs, told


def heard_backing(backing: np.ndarray, *, first: int, until: int, rows: int) -> np.ndarray:
    """Return the backing as it must leave: 6 dB down, at its stamp, cut with fades of 10 ms.

    `first` is the roll frame of the DI's frame 0, `until` the one at which the DI ends.
    """
    at = first + BACKING_STAMP - DI_STAMP
    begin, end = max(0, at), min(until, at + BACKING_FRAMES)
    out = np.zeros((rows, 2))
    out[begin:end] = np.rint(backing[begin - at : end - at] * 10.0 ** (-6.0 / 20.0))
    fall = (0.5 + 0.5 * np.cos(np.pi * (np.arange(FADE) + 0.5) / FADE))[:, None]
    if begin > at:
        out[begin : begin + FADE] *= fall[::-1]
    if end < at + BACKING_FRAMES:
        out[end - FADE : end] *= fall
    return out


def begins(clicks: np.ndarray) -> np.ndarray:
    """Return where each click of one channel begins."""
    sounding = np.flatnonzero(np.abs(clicks) > 2)
    return sounding[np.flatnonzero(np.diff(sounding, prepend=-5000) > 4000)]


def test_a_pickup_is_counted_in_beside_the_backing_and_the_send_is_the_di_to_the_bit(
    evening: Evening, monkeypatch: pytest.MonkeyPatch
) -> None:
    session, di, backing = evening
    done, order, outputs, told = play(session, CUE, monkeypatch)
    lead = order.lead_in_frames
    assert lead == SILENCE + 3 * BEAT, "silence, then three beats before a pickup of one"
    send = np.zeros(len(outputs), dtype=np.int64)
    send[lead : lead + DI_FRAMES] = di
    np.testing.assert_array_equal(outputs[:, 2], send)
    assert not outputs[:, 3].any()

    expected = heard_backing(backing, first=lead, until=lead + DI_FRAMES, rows=len(outputs))
    clicks = outputs[:, :2] - expected
    np.testing.assert_allclose(clicks[:, 0], clicks[:, 1], atol=2)
    beats = [lead + BEAT - 4 * BEAT + k * BEAT for k in range(4)]
    np.testing.assert_allclose(begins(clicks[:, 0]), beats, atol=4)
    quiet = np.abs(clicks[beats[-1] + 2000 :])
    assert quiet.max() <= 1, (
        "the backing to the frame and gain, and nothing else behind the count-in"
    )
    assert np.abs(clicks).max() == pytest.approx(0.1 * 2**23, rel=1e-3), "-20 dBFS"
    loudest = [np.abs(clicks[at : at + 2000, 0]).max() for at in beats]
    assert loudest[0] > 1.3 * max(loudest[1:])

    (rolling,) = [one for one in told.rolls if one.what == "pass"]
    assert rolling.cue_outputs == (1, 2)
    assert all(not one.cue_outputs for one in told.rolls if one.what != "pass")
    said = [one for one in told.steps if "headphones" in one or "cue on outputs 1 and 2" in one]
    assert len(said) == 2
    assert "headphones" in said[0], "the caution stands first"
    assert all(len(one) < 80 for one in said)
    assert done.variant.setup["wiring"]["cue"]["count_in_bars"] == 1
    assert order.wiring.cue == CUE


def test_without_a_cue_the_send_is_the_same_to_the_bit_and_nobody_hears_anything(
    evening: Evening, monkeypatch: pytest.MonkeyPatch
) -> None:
    session, di, _ = evening
    done, order, outputs, told = play(session, None, monkeypatch)
    assert order.lead_in_frames == SILENCE
    np.testing.assert_array_equal(outputs[SILENCE : SILENCE + DI_FRAMES, 2], di)
    assert not outputs[:, :2].any()
    assert not any("cue" in step for step in told.steps)
    assert done.variant.verdict == "good"


@pytest.mark.slow
def test_a_section_is_counted_in_to_its_own_bar_line_and_its_backing_lies_where_the_song_has_it(
    evening: Evening, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bar 4 begins 3.25 s into the DI; what is played begins two seconds before it."""
    session, di, backing = evening
    section = Section(from_s=3.25, to_s=3.75)
    _, order, outputs, _ = play(session, CUE, monkeypatch, section)
    assert order.covers is not None
    first_played, frames = order.covers.from_frame, order.covers.frames
    lead = order.lead_in_frames
    assert lead == SILENCE, "the bar counted in lies over the lead-in of two seconds"
    played = outputs[lead + FADE : lead + frames - FADE, 2]
    np.testing.assert_array_equal(played, di[first_played + FADE : first_played + frames - FADE])
    first = lead - first_played
    expected = heard_backing(backing, first=first, until=lead + frames, rows=len(outputs))
    clicks = outputs[:, :2] - expected
    line = first + BEAT + 3 * 4 * BEAT
    np.testing.assert_allclose(
        begins(clicks[:, 0]), [line - k * BEAT for k in (4, 3, 2, 1)], atol=4
    )
    assert np.abs(clicks[line:]).max() <= 1


def changed(file: Path) -> None:
    file.chmod(0o644)
    with soundfile.SoundFile(file, "r+") as sound:
        sound.seek(100)
        sound.write(np.full((10, 2), 0.5))


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (changed, "is not the file that was added any more"),
        (Path.unlink, "cannot be read: No such"),
    ],
)
def test_a_backing_track_that_is_gone_or_changed_is_told_before_a_number_is_claimed(
    tmp_path: Path, spoil: object, said: str
) -> None:
    session, _, _ = make(tmp_path)
    assert callable(spoil)
    spoil(session.path("backing/low-water.wav"))
    with Deck(room(CUE), Silent()) as deck, pytest.raises(UseError, match=said) as refused:
        run_pass(deck, session, part_name="riff", chain="plain", known=Known())
    assert "take backing_db out of the wiring's cue" in str(refused.value)
    assert not list((session.folder / "passes").glob("riff/*"))
