"""Steps of the set-up at the desk, in the simulated room: measured, kept, told, named by the variant."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from msgspec.structs import replace
from needs import needs_samples
from playing import write_phrase
from sitting import RATE, Sitting, only, wired

from audio.files.inspect import inspect
from audio.jobs import news
from audio.jobs.deck import Deck
from audio.jobs.orders import CloseStream, OpenStream, RunPass, RunStep
from audio.jobs.setting import alone
from audio.jobs.talk import Silent
from audio.session.folder import create, open_session
from audio.session.opened import Session
from audio.session.setups import setups
from audio.vocab.air import air_cm
from audio.vocab.setup import AskDelay, AskPolarity, DelayResult, PolarityResult, SetupRecord
from audio.vocab.wiring import Amp, Loop, Microphone, Return, Wiring
from audio.vocab.wiring_text import wiring_text

APART_CM = 38.0
CONVERTERS = 131.37

pytestmark = needs_samples()


def two_amps() -> Wiring:
    """Return a wiring of two amps with two microphones each, the second amp upside down as a whole."""
    returns = (
        Return("left close", 2, amp="left"),
        Return("right far", 3, amp="right"),
        Return("left far", 4, amp="left"),
        Return("right close", 5, amp="right"),
    )
    cm = {2: 5.0, 3: 265.0, 4: 105.0, 5: 65.0}
    return replace(
        wired(
            inputs=5,
            amp=Amp(drive_db=6.0),
            second_amp=Amp(drive_db=20.0),
            microphones=tuple(
                Microphone(
                    input=one.input,
                    distance_cm=cm[one.input],
                    second_amp=one.amp == "right",
                    inverted=one.amp == "right",
                )
                for one in returns
            ),
        ),
        returns=returns,
        reference="left close",
        tail_s=1.0,
    )


def two_microphones() -> Wiring:
    """Return a wiring of two microphones, the far one upside down, and a loop cable."""
    device = {
        "microphones": (
            Microphone(input=2, distance_cm=5.0),
            Microphone(input=3, distance_cm=5.0 + APART_CM, inverted=True),
        ),
        "amp": Amp(drive_db=12.0),
        "converter_frames": CONVERTERS,
    }
    return replace(
        wired(**device),
        returns=(Return("close", 2), Return("room", 3)),
        loop=Loop(output=4, input=4),
        tail_s=1.0,
    )


@pytest.fixture(scope="module")
def sitting(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Sitting]:
    with Sitting(evening(tmp_path_factory.mktemp("setting"), two_microphones())).opened() as one:
        yield one


def evening(folder: Path, wiring: Wiring) -> Path:
    """Write a session with one part."""
    where = folder / "evening"
    text = wiring_text(wiring)
    session = create(where, name="evening", song="low water", wiring_text=text)
    di = write_phrase(folder / "riff.wav", rate=RATE, seconds=3.0, seed=4)
    session.add_part(source=di, facts=inspect(di), name="riff")
    return where


def measured(sitting: Sitting, asked: AskPolarity | AskDelay) -> SetupRecord:
    told = sitting.obeyed(RunStep(asked=asked, chain="bare path"))
    return only(told, news.StepDone).record


def test_the_microphones_are_told_apart_by_distance_and_polarity(sitting: Sitting) -> None:
    record = measured(sitting, AskPolarity())
    result = record.outcome.result
    assert isinstance(result, PolarityResult)
    close, room = result.returns
    assert (close.name, close.polarity) == ("close", "normal")
    assert (room.name, room.polarity) == ("room", "inverted")
    assert room.after_reference_cm == pytest.approx(APART_CM, abs=1.0)
    # The loop cable tells what the converters take: the rest of the way is air.
    assert close.from_speaker_cm == pytest.approx(5.0, abs=1.0)
    assert [one.code for one in record.outcome.findings] == ["pair-inverted"]


@pytest.mark.slow
def test_microphones_on_two_amps_stand_behind_the_reference_of_their_own(tmp_path: Path) -> None:
    with Sitting(evening(tmp_path, two_amps())).opened() as sitting:
        outcome = measured(sitting, AskPolarity()).outcome
    words = {row.name: row.word for row in outcome.rows}
    assert list(words) == ["left close", "left far", "right close", "right far"]
    assert words["left close"] == "reference"
    assert words["right far"] == "reference inverted"
    away = {row.name: row.value for row in outcome.rows}
    assert away["left far"] == pytest.approx(100.0, abs=1.0)
    assert away["right close"] == pytest.approx(-200.0, abs=1.0)
    assert outcome.findings == ()


def test_the_round_trip_is_the_rooms_own_and_the_loop_is_the_converters(sitting: Sitting) -> None:
    result = measured(sitting, AskDelay()).outcome.result
    assert isinstance(result, DelayResult)
    base = 2048 + CONVERTERS
    assert result.cable_frames == pytest.approx(base, abs=0.05)
    air = air_cm(1.0, rate=RATE, celsius=20.0)
    assert result.delay.delay_frames == pytest.approx(base + 5.0 / air, abs=1.0)


@pytest.mark.slow
def test_the_next_opening_is_held_against_the_last_and_both_are_kept(sitting: Sitting) -> None:
    before = measured(sitting, AskDelay())
    sitting.obeyed(CloseStream())
    sitting.obeyed(OpenStream())
    told = sitting.obeyed(RunStep(asked=AskDelay(), chain="bare path"))
    after = only(told, news.StepDone).record
    assert after.outcome.findings[-1].code == "converters-constant"
    kept = setups(open_session(sitting.folder)).found
    assert kept[-2:] == (before, after)
    assert only(told, news.Snapshot).setups == kept


@pytest.mark.slow
def test_a_variant_names_the_settings_it_was_made_under(sitting: Sitting) -> None:
    polarity = measured(sitting, AskPolarity())
    sitting.passed()
    steps = {one["step"]: one for one in sitting.variant(1)["setup"]["steps"]}
    assert steps["polarity"] == {"step": "polarity", "state": "set", "number": polarity.number}
    assert steps["wire"] == {"step": "wire", "state": "not set", "number": None}


def test_a_step_that_was_stopped_before_it_sounded_leaves_nothing(sitting: Sitting) -> None:
    before = setups(open_session(sitting.folder)).found
    sitting.runner.ask(RunStep(asked=AskPolarity()))
    sitting.runner.stop()
    sitting.runner.ask(RunStep(asked=AskPolarity()))
    told = [*sitting.to_idle(), *sitting.to_idle()]
    assert news.Stopped in {type(one) for one in told}
    after = setups(open_session(sitting.folder)).found
    assert len(after) - len(before) == sum(isinstance(one, news.StepDone) for one in told)


def test_a_cable_patched_to_an_input_that_is_not_there_is_refused(sitting: Sitting) -> None:
    told = sitting.obeyed(RunStep(asked=AskDelay(patched_input=99)))
    assert "there is no input 99" in only(told, news.Trouble).text


def test_a_step_without_a_stream_says_what_is_missing(tmp_path: Path) -> None:
    where = tmp_path / "evening"
    create(where, name="evening", song="low water", wiring_text=wiring_text(wired()))
    with Sitting(where) as sitting:
        told = sitting.obeyed(RunStep(asked=AskPolarity()))
        assert "the stream is not open" in only(told, news.Trouble).text


@pytest.mark.slow
def test_a_cable_for_one_measurement_proves_the_converters_at_two_openings_and_live_takes_it(
    tmp_path: Path,
) -> None:
    wiring = replace(two_microphones(), loop=None, align_to="live")
    where = evening(tmp_path, wiring)
    by_cable = AskDelay(patched_input=1)
    with Sitting(where) as sitting:
        for opening in (1, 2):
            sitting.obeyed(OpenStream())
            told = sitting.obeyed(RunPass(part="riff", chain="bare path"))
            assert "patched cable at two openings" in only(told, news.Trouble).text
            result = measured(sitting, by_cable).outcome.result
            assert isinstance(result, DelayResult)
            assert result.cable_frames == pytest.approx(2048 + CONVERTERS, abs=0.05)
            assert result.patched, f"opening {opening}"
            sitting.obeyed(CloseStream())
        sitting.obeyed(OpenStream())
        sitting.passed(chain="bare path")
        variant = sitting.variant(1)
    assert variant["delay_source"] == "patched cable"
    assert variant["shift_frames"] == round(2048 + CONVERTERS)


def test_each_step_of_the_command_line_takes_the_session_as_it_is_by_then(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    where = tmp_path / "evening"
    session = create(where, name="evening", song="low water", wiring_text=wiring_text(wired()))
    di = write_phrase(tmp_path / "riff.wav", rate=RATE, seconds=1.0, seed=4)
    session.add_part(source=di, facts=inspect(di), name="riff")
    trims = []

    def measured_now(_deck: Deck, now: Session, _asked: object, *, chain: str) -> None:
        assert not chain
        trims.append(now.part("riff")[1].trim_db)

    monkeypatch.setattr(alone, "run_step", measured_now)
    with alone.setting_up(where, chain="", part=None, listener=Silent()) as (held, run_step):
        run_step(AskPolarity())
        held.set_trim("riff", -2.5)
        run_step(AskPolarity())
    assert trims == [0.0, -2.5]
