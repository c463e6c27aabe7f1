"""The recall sheet made of a session: what is asked of the worker, what is left out, and the originals."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest
from msgspec.structs import replace
from needs import needs_samples
from PIL import Image
from playing import phrase
from session_cases import WIRING, facts_of, noon, variant
from sheet_cases import Page, microphone
from stamped import write_stamped

from audio.jobs.deck import StoppedError
from audio.jobs.originals import originals_told
from audio.jobs.recall import make_sheet
from audio.session import layout, passes, records
from audio.session.folder import create, open_session
from audio.session.opened import Session
from audio.session.opinions import say
from audio.session.setups import keep
from audio.session.sounds import claim_sound, write_sound
from audio.vocab.answers import Answered, Failed
from audio.vocab.balance import Balance, Fader
from audio.vocab.errors import UseError
from audio.vocab.likeness import BandDifference, Likeness, Moved, SoundsCompared
from audio.vocab.requests import Asked
from audio.vocab.section import Covers
from audio.vocab.setup import Outcome, SilenceResult, SoundResult, StepUsed
from audio.vocab.sheet import SheetMade
from audio.vocab.sounds import Phrase, Sound
from audio.vocab.variant import ChainAsSet, DiUsed, Variant
from audio.work.client import Worker
from audio.work.process import Desk

RATE = 48_000
SECONDS = 6
PART = "riff"
CRUNCH = {"pedals": [{"name": "drive", "knobs": {"gain": "2:30"}}], "photos": ["floor.jpg"]}


class Here(Worker):
    """Answers in this process, with all that a worker answers by."""

    def __init__(self) -> None:
        super().__init__()
        self._desk = Desk()

    def ask(self, asked: Asked, timeout_s: float) -> Answered:  # noqa: ARG002 - as the worker's
        answered = self._desk.answer(asked)
        if isinstance(answered, Failed):
            raise UseError(answered.reason)
        return answered


def codes(sound: np.ndarray) -> np.ndarray:
    return np.round(sound.reshape(-1, 1) * 2.0**23).astype(np.int32)


def hits(seed: int, *, seconds: float = SECONDS) -> np.ndarray:
    """Return a note every half second, its last second silent."""
    rng, out = np.random.default_rng(seed), np.zeros(round(seconds * RATE))
    t = np.arange(RATE // 2) / RATE
    for at in range(0, out.size - RATE, RATE // 2):
        hz = float(rng.uniform(80, 400))
        out[at : at + t.size] = 0.2 * np.sin(2 * np.pi * hz * t) * np.exp(-8 * t)
    return out


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A part of 120 bpm, its DI 6 s from frame 1000 of the recorder; bar 1 begins half a second in."""
    folder = tmp_path_factory.mktemp("recall")
    source = write_stamped(folder / "a.wav", codes(hits(1)), rate=RATE, time_reference=1000)
    start = 1000 / RATE + 0.5
    made = create(
        folder / "s", name="evening", song="tide", bpm=120.0, metre="4/4", song_start_s=start
    )
    return made.add_part(source=source, facts=facts_of(source), name=PART, clock=noon).folder


@pytest.fixture
def session(template: Path, tmp_path: Path) -> Session:
    return open_session(shutil.copytree(template, tmp_path / "evening"))


def recorded(session: Session, seed: int = 2, frames: int | None = None, **changes: Any) -> Variant:
    """Claim a number, write its one file, and what is known of it."""
    claim = passes.claim(session, PART, clock=noon)
    path = claim.folder / "close.wav"
    sound = hits(seed)[:frames]
    at = changes.get("time_reference", 1000)
    write_stamped(path, codes(0.5 * sound), rate=RATE, time_reference=at)
    di = session.part(PART)[1].revisions[0].file
    facts = {
        "part": PART,
        "song": "tide",
        "chain": ChainAsSet(name="crunch", content=CRUNCH),
        "di": DiUsed(path=di, channel=1, file_sha256="", frames=SECONDS * RATE, peak_dbfs=-14.0),
        "time_reference": 1000,
        "files": (
            microphone(
                "close",
                2,
                path=path.relative_to(session.folder).as_posix(),
                frames=sound.size,
            ),
        ),
    }
    made = replace(variant(claim.number), **(facts | changes))
    records.write_variant(claim.folder, made)
    return made


def made(session: Session, *numbers: int, stop: Callable[[], bool] = lambda: False) -> SheetMade:
    to = session.folder / "recall.html"
    sounds = [(PART, number) for number in numbers]
    with Here() as worker:
        return make_sheet(
            session, worker, sounds, to=to, name="evening-001", say=lambda _: None, stop=stop
        )


def text_of(session: Session) -> str:
    return Page((session.folder / "recall.html").read_text(encoding="utf-8")).text


def test_a_session_becomes_a_sheet(session: Session) -> None:
    wiring = replace(WIRING, room_celsius=23.0)
    asked = Outcome(
        result=SilenceResult(patch="plugged", seconds=4.0, returns=()),
        rows=(),
        findings=(),
        headline="noise −84.2 dBFS on close",
        summary="",
    )
    record = keep(session, "silence", asked, wiring=wiring, clock=noon)
    steps = (
        StepUsed(step="silence", state="set", number=record.number),
        StepUsed(step="delay", state="stale", number=7),
    )
    setup = {"wiring": msgspec.to_builtins(wiring), "steps": msgspec.to_builtins(steps)}
    recorded(session, setup=setup)
    say(
        session,
        PART,
        1,
        keeper=True,
        reason="for the chorus",
        rating=5,
        photo="amp.jpg",
        clock=noon,
    )
    Image.new("RGB", (8, 8), "red").save(session.folder / "floor.jpg")
    told = made(session, 1)
    text = text_of(session)
    for words in (
        *("Recall sheet: evening", "tide · riff", "001 crunch", "for the chorus", "5 of 5"),
        *("drive gain 2:30", "23 °C", "noise −84.2 dBFS on close", "120 bpm, 4/4"),
        "delay: measured before, but not since something changed",
        "0:00.00 to 0:06.00 of the DI, from before bar 1 to bar 3; the loudest stretch",
        "secondpass set DIR --step sound --part riff --chain crunch --sound 'riff 001'",
    ):
        assert words in text, words
    assert told.left_out == (
        "riff 001, photo: amp.jpg is not in the session; put it into its folder photos",
    )
    page = (session.folder / "recall.html").read_text(encoding="utf-8")
    assert page.count("data:image/svg+xml") == 2
    assert page.count("data:image/jpeg") == 1


def test_a_corrected_chain_is_the_one_that_is_shown(session: Session) -> None:
    recorded(session)
    say(session, PART, 1, chain="fuzz nobody wrote down", clock=noon)
    made(session, 1)
    text = text_of(session)
    assert "001 fuzz nobody wrote down" in text
    assert "Nobody wrote the settings of this chain down" in text
    assert "2:30" not in text


def test_settings_of_another_form_are_shown_as_they_are(session: Session) -> None:
    recorded(session, chain=ChainAsSet(name="odd", content={"pedals": "two <of> them"}))
    made(session, 1)
    assert '"pedals": "two <of> them"' in text_of(session)


def test_a_stopped_pass_is_proven_by_what_it_holds(session: Session) -> None:
    recorded(session, state="stopped", frames=2 * RATE)
    made(session, 1)
    text = text_of(session)
    assert "0:00.00 to 0:02.00 of the DI" in text
    assert "it was stopped before its end" in text


def test_a_section_is_proven_within_its_bars(session: Session) -> None:
    covers = Covers(
        text="bars 2-3",
        from_frame=RATE,
        frames=4 * RATE,
        section_from_frame=2 * RATE,
        section_to_frame=4 * RATE,
    )
    recorded(session, covers=covers, time_reference=1000 + RATE, frames=4 * RATE)
    made(session, 1)
    text = text_of(session)
    assert "0:02.00 to 0:04.00 of the DI" in text
    assert "Frames96000 to 191999" in text


def test_the_phrase_is_that_of_the_kept_sound_of_this_part_and_chain(session: Session) -> None:
    recorded(session)
    for name, chain in (("other", "fuzz"), ("lead verse", "Crunch")):
        _keep(session, name, chain)
    made(session, 1)
    text = text_of(session)
    assert "0:01.00 to 0:02.00 of the DI, bar 1; that of the kept sound lead verse" in text
    assert "--sound 'lead verse'" in text
    assert "close: level 0.02 dB, a third octave up to 0.31 dB" in text


def _keep(session: Session, name: str, chain: str) -> None:
    folder = claim_sound(session, name)
    sound = Sound(
        name=name,
        made_at=noon(),
        wiring=WIRING,
        chain=chain,
        notes="",
        phrase=Phrase(
            part=PART,
            revision=1,
            from_frame=RATE,
            frames=RATE,
            rest_frames=RATE,
            trim_db=0.0,
            file=f"sounds/{folder.name}/phrase.wav",
            loudest_dbfs=-12.0,
        ),
        kept_at=0,
        again_at=2 * RATE,
        shift_frames=0,
        files=(),
        click=(),
    )
    write_sound(session, folder, sound)
    band = BandDifference(hz=1000.0, difference_db=0.1, floor_db=0.31)
    compared = SoundsCompared(
        sample_rate=RATE,
        playing_s=1.0,
        kept_twice=True,
        distance_by="nothing",
        returns=(Likeness(name="close", level_db=0.0, level_floor_db=0.02, bands=(band,)),),
    )
    result = SoundResult(
        name=name,
        kept=True,
        compared=compared,
        moved=Moved(cause="nothing", is_same=True, text="the same"),
    )
    outcome = Outcome(result=result, rows=(), findings=(), headline="kept", summary="kept")
    keep(session, "sound", outcome, wiring=WIRING, clock=noon)


def test_what_cannot_be_read_is_left_out_with_a_sentence(session: Session) -> None:
    recorded(session)
    lost, broken = recorded(session), recorded(session)
    session.path(lost.files[0].path).unlink()
    folder = layout.pass_folder(session.folder, PART, broken.number)
    layout.variant_json(folder).write_text("{", encoding="utf-8")
    told = made(session, 1, 2, 3, 4)
    assert [one[:30] for one in told.left_out if "photo" not in one] == [
        "riff 003 is not on the sheet: ",
        "riff 004 is not on the sheet: ",
        "riff 002 has neither figures n",
    ]
    text = text_of(session)
    assert str(session.folder) not in text + " ".join(told.left_out)
    assert "There are no figures" in text
    assert "002 crunch" in text
    assert "003 crunch" not in text


def test_a_stop_leaves_the_old_sheet(session: Session) -> None:
    recorded(session)
    to = session.folder / "recall.html"
    to.write_text("as it was", encoding="utf-8")
    asked: list[int] = []

    def stop() -> bool:
        asked.append(1)
        return len(asked) > 1

    with pytest.raises(StoppedError):
        made(session, 1, stop=stop)
    assert to.read_text(encoding="utf-8") == "as it was"
    assert [one.name for one in session.folder.iterdir() if "tmp" in one.name] == []


def test_an_unknown_part_is_refused(session: Session) -> None:
    with Here() as worker, pytest.raises(UseError, match="no part 'hook'"):
        make_sheet(
            session,
            worker,
            [("hook", 1)],
            to=session.folder / "recall.html",
            name="x",
            say=lambda _: None,
            stop=lambda: False,
        )


# ------------------------------------------------------------------ originals


@pytest.fixture(scope="module")
def playing() -> np.ndarray:
    return phrase(rate=RATE, seconds=8.0, seed=31)


def with_original(folder: Path, dis: list[np.ndarray], original: np.ndarray, *, at: int) -> Session:
    """Return a session of these edits, from frame 5000 of the recorder, and an original from `at`."""
    session = create(folder / "evening", name="evening", song="tide")
    for number, di in enumerate(dis):
        source = write_stamped(folder / f"{number}.wav", codes(di), rate=RATE, time_reference=5000)
        if number:
            session = session.add_revision(PART, source=source, facts=facts_of(source), clock=noon)
        else:
            session = session.add_part(source=source, facts=facts_of(source), name=PART, clock=noon)
    mic = write_stamped(folder / "mic.wav", codes(original), rate=RATE, time_reference=at)
    return session.add_original(PART, source=mic, facts=facts_of(mic), name="close", clock=noon)


@needs_samples()
def test_an_original_lies_where_its_playing_does_time_stamps_counted(
    tmp_path: Path, playing: np.ndarray
) -> None:
    """137 frames later in its file, whose stamp is 240 frames earlier: 103 frames earlier in all."""
    late = np.concatenate([np.zeros(137), np.tanh(8 * playing) / 4])
    session = with_original(tmp_path, [playing], late, at=4760)
    with Here() as worker:
        (one,) = originals_told(session, worker, PART, [])
    assert one.offset_frames == pytest.approx(-103, abs=1.0)
    assert one.offset_ms == pytest.approx(1000 * -103 / RATE, abs=0.02)
    assert one.text == "2.1 ms earlier than its DI"
    assert one.at_frame == pytest.approx(-137, abs=1)
    assert (one.polarity, one.revision, one.match_db, one.reason) == ("normal", 1, None, None)


@needs_samples()
def test_an_original_is_told_by_the_edit_it_still_follows(
    tmp_path: Path, playing: np.ndarray
) -> None:
    """The newest edit is another take; the first is the one that was recorded beside the amp."""
    edited = phrase(rate=RATE, seconds=8.0, seed=32)
    late = np.concatenate([np.zeros(137), -0.5 * playing])
    session = with_original(tmp_path, [playing, edited], late, at=5000)
    with Here() as worker:
        (one,) = originals_told(session, worker, PART, [])
    assert one.text == "2.9 ms later than edit 1 of its DI"
    assert (one.revision, one.polarity) == (1, "inverted")


@needs_samples()
def test_an_original_that_follows_no_edit_stands_by_its_time_stamp(
    tmp_path: Path, playing: np.ndarray
) -> None:
    session = with_original(tmp_path, [playing], phrase(rate=RATE, seconds=8.0, seed=33), at=5480)
    with Here() as worker:
        (one,) = originals_told(session, worker, PART, [])
    assert (one.offset_frames, one.at_frame) == (None, 480)
    assert one.reason is not None
    assert "By its time stamp its file begins 10.0 ms later than its DI" in one.text


def test_an_original_is_matched_to_the_average_of_its_sounds_at_their_balances(
    session: Session, tmp_path: Path
) -> None:
    """Sounds of −6 and −12 dB, the second turned down by 6 more, over an original of 0 dB: −12 dB."""
    mic = write_stamped(tmp_path / "m.wav", codes(hits(5)), rate=RATE, time_reference=1000)
    session = session.add_original(PART, source=mic, facts=facts_of(mic), name="close", clock=noon)
    first, second = recorded(session, 5), recorded(session, 5)
    louder, quieter = (session.path(one.files[0].path) for one in (first, second))
    write_stamped(louder, codes(hits(5) / 10 ** (6 / 20)), rate=RATE, time_reference=1000)
    write_stamped(quieter, codes(hits(5) / 10 ** (12 / 20)), rate=RATE, time_reference=1000)
    balance = Balance(faders=(Fader(name="close", db=-6.0),))
    say(session, PART, 2, keeper=True, balance=balance, clock=noon)
    with Here() as worker:
        (one,) = originals_told(session, worker, PART, [1, 2])
    # all at one gain: the gates let through the same
    assert one.match_db == pytest.approx(-12.0, abs=0.02)


def test_a_lost_original_is_told_and_harms_nothing(session: Session, tmp_path: Path) -> None:
    mic = write_stamped(tmp_path / "m.wav", codes(hits(5)), rate=RATE, time_reference=1000)
    session = session.add_original(PART, source=mic, facts=facts_of(mic), name="close", clock=noon)
    session.path(session.part(PART)[1].originals[0].file).unlink()
    recorded(session)
    told = made(session, 1)
    assert told.originals[0].reason is not None
    assert told.originals[0].at_frame is None
    assert str(session.folder) not in text_of(session) + told.originals[0].text
    assert "neither figures" not in " ".join(told.left_out)


def test_a_part_without_originals_has_none_told(session: Session) -> None:
    with Here() as worker:
        assert originals_told(session, worker, PART, []) == ()
