"""Wire and silence in the simulated room: each way in which cables can be wrong is named by its name."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace
from sitting import RATE, wired

from audio.jobs.deck import Deck, StoppedError
from audio.jobs.setting.steps import run_step
from audio.jobs.talk import Silent
from audio.session.folder import create, open_session
from audio.session.opened import Session
from audio.session.setups import setups
from audio.vocab.errors import UseError
from audio.vocab.setup import (
    Asked,
    AskSilence,
    AskWire,
    Live,
    PatchState,
    SetupRecord,
    SilenceResult,
    WireResult,
)
from audio.vocab.status import Status
from audio.vocab.wiring import Amp, Click, Loop, Microphone, Return, Wiring
from audio.vocab.wiring_text import wiring_text

WITNESS = 5


class Watching(Silent):
    """Keeps what is shown; stops a kind of step once so many frames of a roll have passed."""

    def __init__(self) -> None:
        self.shown: list[Live] = []
        self.stop_at: int | None = None
        self._frame = 0

    def live(self, live: Live) -> None:
        self.shown.append(live)

    def rolling(self, status: Status) -> None:
        self._frame = status.roll_frame

    def ends(self) -> None:
        self._frame = 0

    def stop_asked(self) -> bool:
        return self.stop_at is not None and self._frame >= self.stop_at


def room(*faults: dict[str, Any], **rest: Any) -> Wiring:
    """Return a wiring of two microphones before a cabinet, and inputs nobody wired."""
    usual = wired(
        inputs=6,
        amp=Amp(drive_db=12.0),
        microphones=(Microphone(input=2, distance_cm=5.0), Microphone(input=3, distance_cm=43.0)),
        noise_dbfs=-84.0,
        faults=faults,
    )
    returns = (Return("close", 2), Return("room", 3))
    return replace(usual, returns=returns, tail_s=1.0, witness_input=WITNESS, **rest)


@pytest.fixture(scope="module")
def quiet(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Deck, Session, Watching]]:
    """Yield one room in which nothing is wrong, its session and its listener."""
    listener = Watching()
    wiring = replace(room(), loop=Loop(output=4, input=4))
    with at(tmp_path_factory.mktemp("quiet"), wiring, listener) as (deck, session):
        yield deck, session, listener


@contextmanager
def at(
    folder: Path, wiring: Wiring, listener: Silent | None = None
) -> Iterator[tuple[Deck, Session]]:
    session = create(folder / "evening", name="e", song="s", wiring_text=wiring_text(wiring))
    with Deck(wiring, listener or Silent()) as deck:
        yield deck, session


def measured(folder: Path, wiring: Wiring, asked: Asked) -> SetupRecord:
    with at(folder, wiring) as (deck, session):
        return run_step(deck, session, asked)


def wire(folder: Path, wiring: Wiring, *, seconds: float = 0.0) -> SetupRecord:
    return measured(folder, wiring, AskWire(seconds=seconds))


def codes(record: SetupRecord) -> list[str]:
    return [one.code for one in record.outcome.findings]


# ---------------------------------------------------------------- wire


def test_all_as_wired_is_said_and_the_witness_stands_still(
    quiet: tuple[Deck, Session, Watching],
) -> None:
    deck, session, listener = quiet
    record = run_step(deck, session, AskWire(seconds=3.0))
    assert (record.verdict, codes(record)) == ("good", [])
    assert record.outcome.summary == "all heard"
    result = record.outcome.result
    assert isinstance(result, WireResult)
    assert result.tone_dbfs == -40.0
    heard = {one.input: one.name for one in result.inputs if one.reading.gains_db}
    assert heard == {2: "close", 3: "room", 4: "loop", 5: "witness"}
    assert result.witness_moved_db == pytest.approx(0.0, abs=0.02)
    assert any(row.name == "close" and row.is_inside for row in listener.shown[1].rows)
    assert record in setups(open_session(session.folder)).found


@pytest.mark.slow
def test_a_cable_in_another_input_is_named_with_both_numbers(tmp_path: Path) -> None:
    record = wire(tmp_path, room({"kind": "swapped inputs", "inputs": [2, 4]}))
    assert codes(record) == ["wrong-input"]
    assert record.verdict == "redo"
    assert record.outcome.headline == (
        "close is wired to input 2, but the tone comes back on input 4."
    )
    assert record.outcome.summary == "in 4, not 2"


def test_a_dead_send_is_raised_to_the_ceiling_and_no_further(tmp_path: Path) -> None:
    wiring = room({"kind": "standby"}, click=Click(ceiling_dbfs=-30.0))
    record = wire(tmp_path, wiring, seconds=3.0)
    assert (record.verdict, codes(record)) == ("redo", ["nothing-came-back"])
    assert "from the first pedal on" in record.outcome.headline
    result = record.outcome.result
    assert isinstance(result, WireResult)
    assert result.tone_dbfs == -30.0
    assert result.witness_moved_db is None


@pytest.mark.slow
def test_leaks_and_a_dead_microphone_are_each_named_for_themselves(tmp_path: Path) -> None:
    faults = (
        {"kind": "crosstalk", "input": 2, "level_db": -30.0},
        {"kind": "crosstalk", "input": 6, "level_db": -20.0},
        {"kind": "dead cable", "input": 3},
    )
    record = wire(tmp_path, room(*faults))
    assert codes(record) == ["send-leaks", "return-silent", "send-astray"]
    assert record.outcome.summary == "room silent"
    assert "close (input 2)" in record.outcome.findings[0].text
    assert "Input 6" in next(f.text for f in record.outcome.findings if f.code == "send-astray")


@pytest.mark.slow
def test_a_leak_without_an_amp_is_not_taken_for_a_microphone(tmp_path: Path) -> None:
    faults = ({"kind": "crosstalk", "level_db": -40.0}, {"kind": "standby"})
    record = wire(tmp_path, room(*faults))
    assert codes(record) == ["only-leak", "only-leak"]
    assert record.verdict == "redo"


@pytest.mark.slow
def test_a_return_that_comes_round_again_is_told(tmp_path: Path) -> None:
    record = wire(tmp_path, room({"kind": "feedback", "gain_db": -6.0}))
    assert codes(record) == ["repeats-early"]
    assert "direct monitoring" in record.outcome.headline


@pytest.mark.slow
def test_a_witness_that_moves_under_the_steady_tone_is_told(tmp_path: Path) -> None:
    moves = {"kind": "level", "input": WITNESS, "gain_db": 1.2, "after_sound_s": 1.6}
    wiring = room(moves, click=Click(start_dbfs=-22.0))
    record = wire(tmp_path, wiring, seconds=4.0)
    assert codes(record) == ["monitor-reaches-send"]
    result = record.outcome.result
    assert isinstance(result, WireResult)
    assert result.witness_moved_db == pytest.approx(1.2, abs=0.05)


# ---------------------------------------------------------------- silence


def silence(record: SetupRecord) -> SilenceResult:
    result = record.outcome.result
    assert isinstance(result, SilenceResult)
    return result


def test_a_quiet_room_is_quiet_and_its_figures_are_shown_while_it_listens(
    quiet: tuple[Deck, Session, Watching],
) -> None:
    deck, session, listener = quiet
    record = run_step(deck, session, AskSilence())
    assert (record.verdict, record.outcome.summary) == ("good", "quiet")
    floor = silence(record).returns[0].floor
    assert floor.rms_dbfs == pytest.approx(-84.0, abs=0.2)
    assert [row.name for row in listener.shown[-1].rows] == ["close", "room"]
    assert "bypass every gate" in listener.shown[-1].say


def test_hum_and_whine_are_told_apart(tmp_path: Path) -> None:
    hum = {"kind": "hum", "hz": 50.0, "level_dbfs": -70.0, "input": 2}
    whine = {"kind": "whine", "family_hz": 8000, "level_dbfs": -75.0, "input": 3}
    record = measured(tmp_path, room(hum, whine), AskSilence(seconds=2.0))
    assert codes(record) == ["hum", "whine"]
    assert record.outcome.summary == "hum 50 Hz"
    assert record.outcome.rows[0].word == "hum 50 Hz −70"
    assert record.outcome.rows[1].word == "whine 8 kHz −75"
    floor = silence(record).returns[0].floor
    assert floor.hum is not None
    assert floor.hum.dbfs == pytest.approx(-70.0, abs=0.5)
    assert floor.hiss_dbfs == pytest.approx(-84.0, abs=0.5)


def in_three_states(deck: Deck, session: Session) -> list[SetupRecord]:
    """Return the three steps of the loop test."""
    states: tuple[PatchState, ...] = ("unplugged", "plugged", "lifted")
    return [run_step(deck, session, AskSilence(patch=p, seconds=2.0)) for p in states]


def looped(tmp_path: Path, *faults: dict[str, Any]) -> list[SetupRecord]:
    """Return the same in a room of its own."""
    with at(tmp_path, room(*faults)) as (deck, session):
        return in_three_states(deck, session)


def test_a_ground_loop_comes_with_the_cable_and_the_lift_cures_it(tmp_path: Path) -> None:
    loop = {"kind": "ground loop", "level_dbfs": -60.0, "lift_cures_db": 40.0}
    unplugged, plugged, lifted = looped(tmp_path, loop)
    assert (codes(unplugged), codes(plugged)) == ([], ["hum-by-cable"])
    assert "comes with the cable: −60 →" in plugged.outcome.headline
    assert "measure as lifted" in plugged.outcome.findings[0].advice
    assert (codes(lifted), lifted.verdict) == (["hum-cured"], "good")
    assert "leave it on" in lifted.outcome.findings[0].text


def test_hum_in_all_three_states_is_the_amps_own(tmp_path: Path) -> None:
    *_, lifted = looped(tmp_path, {"kind": "hum", "hz": 60.0, "level_dbfs": -60.0})
    assert codes(lifted) == ["hum-of-amp"]
    assert "not a loop" in lifted.outcome.headline
    assert "technician" in lifted.outcome.findings[0].advice


def test_without_hum_nothing_needs_a_cure(quiet: tuple[Deck, Session, Watching]) -> None:
    *_, lifted = in_three_states(*quiet[:2])
    assert (codes(lifted), lifted.verdict) == (["no-loop"], "good")


@pytest.mark.slow
def test_a_stop_while_it_listens_means_enough_and_too_early_leaves_nothing(tmp_path: Path) -> None:
    listener = Watching()
    with at(tmp_path, replace(room(), device=replace(room().device, pace="clock")), listener) as (
        deck,
        session,
    ):
        listener.stop_at = round(1.6 * RATE)
        record = run_step(deck, session, AskSilence(seconds=60.0))
        assert 1.0 <= silence(record).seconds < 3.0
        listener.stop_at = round(0.2 * RATE)
        with pytest.raises(StoppedError):
            run_step(deck, session, AskSilence(seconds=60.0))
    assert setups(open_session(session.folder)).found == (record,)


def test_what_is_too_short_to_tell_is_refused(quiet: tuple[Deck, Session, Watching]) -> None:
    with pytest.raises(UseError, match="told from hiss"):
        run_step(*quiet[:2], AskSilence(seconds=0.5))
    with pytest.raises(UseError, match="nobody turns a knob in 2 s"):
        run_step(*quiet[:2], AskWire(seconds=2.0))
