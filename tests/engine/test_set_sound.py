"""A sound that is kept and found again, in the simulated room: the same one, or what moved since."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import soundfile
from msgspec.structs import replace
from needs import needs_samples
from playing import write_phrase
from sitting import RATE, wired
from unit.session_cases import variant

from audio.files.inspect import inspect
from audio.jobs.deck import Deck, StoppedError
from audio.jobs.passes import run_pass
from audio.jobs.placing import Known
from audio.jobs.setting.steps import run_step
from audio.jobs.talk import Silent
from audio.session.folder import create
from audio.session.layout import pass_folder
from audio.session.opened import Session
from audio.session.records import write_variant
from audio.session.sounds import sound_named
from audio.vocab.errors import UseError
from audio.vocab.section import Covers
from audio.vocab.setup import AskKeepSound, AskSound, Live, SetupRecord, SoundResult
from audio.vocab.wiring import Amp, Microphone, SimulatedDevice, Wiring
from audio.vocab.wiring_text import wiring_text

pytestmark = needs_samples()


def a_room(**device: Any) -> Wiring:
    """Return a wiring with one close microphone, a witness and a driven amp."""
    usual = {"amp": Amp(drive_db=18.0), "microphones": (Microphone(input=2),)}
    return replace(wired(**(usual | device)), witness_input=3, tail_s=1.0)


def later(wiring: Wiring, **device: Any) -> Wiring:
    """Return the same room on another day: its noise is another one."""
    assert isinstance(wiring.device, SimulatedDevice)
    return replace(wiring, device=replace(wiring.device, seed=77, **device))


def steps(session: Session, wiring: Wiring, *asked: AskKeepSound | AskSound) -> list[SetupRecord]:
    with Deck(wiring, Silent()) as deck:
        return [run_step(deck, session, one, chain="plain") for one in asked]


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Session:
    """A session that keeps the sound `lead`."""
    folder = tmp_path_factory.mktemp("sound")
    where = folder / "evening"
    text = wiring_text(a_room())
    made = create(where, name="evening", song="low water", wiring_text=text)
    di = write_phrase(folder / "riff.wav", rate=RATE, seconds=2.2, seed=4)
    made = made.add_part(source=di, facts=inspect(di), name="riff")
    (kept,) = steps(made, a_room(), AskKeepSound(name="lead", part="riff", notes="gain at two"))
    assert kept.verdict == "good", kept.outcome
    return made


def test_what_is_kept_is_the_phrase_twice_with_its_notes_and_checksums(session: Session) -> None:
    sound = sound_named(session, "lead")
    assert sound.notes == "gain at two"
    phrase, rate = soundfile.read(session.path(sound.phrase.file))
    assert (phrase.size, rate) == (sound.phrase.frames, RATE)
    for file in (*sound.files, sound.witness):
        assert file is not None
        recorded, _ = soundfile.read(session.path(file.path))
        assert recorded.size == sound.again_at + sound.phrase.cycle_frames
        with soundfile.SoundFile(session.path(file.path)) as opened:
            data = opened.read(dtype="int32")
        packed = b"".join(int(code >> 8).to_bytes(3, "little", signed=True) for code in data)
        assert hashlib.sha256(packed).hexdigest() == file.audio_sha256


CHANGES: dict[str, tuple[str, Callable[[Wiring], Wiring]]] = {
    "nothing": ("same", later),
    "distance": (
        "distance",
        lambda w: later(w, microphones=(Microphone(input=2, distance_cm=7.0),)),
    ),
    "level": ("level", lambda w: later(w, microphones=(Microphone(input=2, gain_db=-7.5),))),
}


@pytest.mark.slow
@pytest.mark.parametrize("change", CHANGES)
def test_what_moved_since_is_named(session: Session, change: str) -> None:
    expected, changed = CHANGES[change]
    (record,) = steps(session, changed(a_room()), AskSound(name="lead"))
    assert record.outcome.summary == expected, record.outcome.headline
    assert record.verdict == ("good" if expected == "same" else "look")
    result = record.outcome.result
    assert isinstance(result, SoundResult)
    assert result.compared.kept_twice
    assert result.compared.send_db == pytest.approx(0.0, abs=0.02)


@pytest.mark.slow
def test_the_phrase_is_sent_as_it_was_kept_whatever_trim_the_part_has_now(session: Session) -> None:
    text = (session.folder / "session.yaml").read_text()
    assert "trim_db: 0.0" in text
    (session.folder / "session.yaml").write_text(text.replace("trim_db: 0.0", "trim_db: 1.0"))
    try:
        (record,) = steps(session, later(a_room()), AskSound(name="lead"))
    finally:
        (session.folder / "session.yaml").write_text(text)
    assert record.outcome.summary == "same"


def test_a_name_that_is_taken_or_not_there_sounds_nothing(session: Session) -> None:
    with Deck(a_room(), Silent()) as deck:
        with pytest.raises(UseError, match="kept already"):
            run_step(deck, session, AskKeepSound(name="Lead", part="riff"))
        with pytest.raises(UseError, match="kept are: lead"):
            run_step(deck, session, AskSound(name="rhythm"))
        with pytest.raises(UseError, match="choose an earlier beginning"):
            run_step(deck, session, AskKeepSound(name="late", part="riff", from_s=2.4))
    assert sorted(one.name for one in (session.folder / "sounds").iterdir()) == ["lead"]


def test_a_return_that_is_not_wired_any_more_is_named(session: Session) -> None:
    other = replace(
        a_room(), returns=(replace(a_room().returns[0], name="edge"),), reference="edge"
    )
    with pytest.raises(UseError, match="a return named 'close'"):
        steps(session, other, AskSound(name="lead"))


# ------------------------------------------------------------------ other things to be held against


@pytest.fixture(scope="module")
def passed(session: Session) -> Session:
    """The same session with a pass of the part, and an original made of it: later, and 1 dB quieter."""
    with Deck(a_room(), Silent()) as deck:
        run_pass(deck, session, part_name="riff", chain="plain", known=Known())
    file = session.folder / "passes" / "riff" / "001" / "riff_001_plain_close.wav"
    recorded, _ = soundfile.read(file)
    made = session.folder.parent / "amp.wav"
    quieter = np.concatenate((np.zeros(300), recorded * 10.0 ** (-1.0 / 20.0)))
    soundfile.write(made, quieter, RATE, "PCM_24")
    return session.add_original("riff", source=made, facts=inspect(made), name="close")


@pytest.mark.slow
def test_an_old_variant_is_the_sound_it_is_held_against(passed: Session) -> None:
    (same,) = steps(passed, later(a_room()), AskSound(name="riff 001"))
    assert same.outcome.summary == "same", same.outcome.headline
    (moved,) = steps(
        passed,
        later(a_room(), microphones=(Microphone(input=2, gain_db=-9.0),)),
        AskSound(name="riff 001"),
    )
    assert moved.outcome.summary == "level", moved.outcome.headline
    assert "riff 001" in moved.outcome.headline


@pytest.mark.slow
def test_the_original_is_the_sound_it_is_held_against(passed: Session) -> None:
    (record,) = steps(passed, later(a_room()), AskSound(name="original riff"))
    assert record.outcome.summary == "level", record.outcome.headline
    result = record.outcome.result
    assert isinstance(result, SoundResult)
    assert result.compared.returns[0].level_db == pytest.approx(1.0, abs=0.05)
    assert not result.compared.kept_twice


def test_a_variant_or_an_original_that_is_not_there_sounds_nothing(session: Session) -> None:
    with Deck(a_room(), Silent()) as deck:
        with pytest.raises(UseError, match=r"variant\.json"):
            run_step(deck, session, AskSound(name="riff 099"))
        with pytest.raises(UseError, match="its parts are: riff"):
            run_step(deck, session, AskSound(name="original hook"))


def test_a_variant_of_a_section_is_refused_because_the_phrase_may_lie_elsewhere(
    session: Session,
) -> None:
    folder = pass_folder(session.folder, "riff", 50)
    folder.mkdir(parents=True)
    covers = Covers(
        text="bars 5-8", from_frame=10, frames=90, section_from_frame=20, section_to_frame=80
    )
    write_variant(folder, replace(variant(50, part="riff"), covers=covers))
    with (
        Deck(a_room(), Silent()) as deck,
        pytest.raises(UseError, match=r"riff 050 holds a section \(bars 5-8\).*the whole part"),
    ):
        run_step(deck, session, AskSound(name="riff 050"))


class Stops(Silent):
    """A listener that stops once so much was shown."""

    def __init__(self, *, after: int) -> None:
        self._left = after

    def live(self, live: Live) -> None:
        assert live.step == "sound"
        self._left -= 1

    def stop_asked(self) -> bool:
        return self._left < 0


@pytest.mark.slow
def test_turning_knobs_ends_when_it_is_enough_and_the_last_whole_cycle_counts(
    session: Session,
) -> None:
    with Deck(later(a_room()), Stops(after=3)) as deck:
        record = run_step(deck, session, AskSound(name="lead", cycles=None), chain="plain")
    assert record.outcome.summary == "same"


def test_a_stop_before_a_cycle_was_whole_measures_nothing(session: Session) -> None:
    with Deck(a_room(), Stops(after=0)) as deck, pytest.raises(StoppedError):
        run_step(deck, session, AskSound(name="lead", cycles=None), chain="plain")


def test_a_sound_that_was_stopped_while_it_was_kept_is_none(session: Session) -> None:
    with Deck(a_room(), Stops(after=0)) as deck, pytest.raises(StoppedError):
        run_step(deck, session, AskKeepSound(name="cut off", part="riff"), chain="plain")
    assert sorted(one.name for one in (session.folder / "sounds").iterdir()) == ["lead"]


class Shown(Silent):
    """A listener that keeps what is shown, and stops once figures were."""

    def __init__(self) -> None:
        self.lives: list[Live] = []

    def live(self, live: Live) -> None:
        self.lives.append(live)

    def stop_asked(self) -> bool:
        return any(one.rows for one in self.lives)


@pytest.mark.slow
def test_figures_are_shown_while_the_phrase_goes_round_by_the_clock(session: Session) -> None:
    by_the_clock, listener = later(a_room(), pace="clock"), Shown()
    with Deck(by_the_clock, listener) as deck:
        run_step(deck, session, AskSound(name="lead", cycles=3), chain="plain")
    shown = [row for live in listener.lives for row in live.rows]
    assert any(row.word == "level" and row.value is not None for row in shown)
