"""Send level and return gain in the simulated room, whose boxes and cables are the truth."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from msgspec.structs import replace
from needs import needs_samples
from playing import phrase
from sitting import RATE, wired

from audio.files.inspect import inspect
from audio.jobs.deck import Deck, StoppedError
from audio.jobs.passes import run_pass
from audio.jobs.placing import Known
from audio.jobs.setting import looped
from audio.jobs.setting.steps import run_step
from audio.jobs.talk import Rolling, Silent
from audio.session.folder import create, open_session
from audio.session.opened import Session
from audio.vocab.errors import UseError
from audio.vocab.setup import (
    Asked,
    AskReturnGain,
    AskSendLevel,
    Live,
    ReturnGainResult,
    SendLevelResult,
    SetupRecord,
)
from audio.vocab.status import Status
from audio.vocab.wiring import Amp, Microphone, ReampBox, Wiring
from audio.vocab.wiring_text import wiring_text

pytestmark = needs_samples()

BOX, MIC, STRAY, WITNESS = 1, 2, 3, 4
"""Inputs: the one that recorded the part, the microphone's, one that nobody uses, the witness's."""


class Watching(Silent):
    """Keeps what is shown; stops a roll once so many frames of it have passed."""

    def __init__(self, *, stop_at: int | None = None) -> None:
        self.shown: list[Live] = []
        self.rolls: list[Rolling] = []
        self._stop_at = stop_at
        self._frame = 0

    def stop_once_rolling(self) -> None:
        self._stop_at = 1

    def live(self, live: Live) -> None:
        self.shown.append(live)

    def begins(self, roll: Rolling) -> None:
        self.rolls.append(roll)
        self._frame = 0

    def rolling(self, status: Status) -> None:
        self._frame = status.roll_frame

    def stop_asked(self) -> bool:
        return self._stop_at is not None and self._frame >= self._stop_at


def room(*faults: dict[str, Any], **boxes: Any) -> Wiring:
    usual = wired(
        faults=faults,
        microphones=(Microphone(input=MIC, cabinet="none", gain_db=3.0),),
        amp=Amp(clean=True),
        **boxes,
    )
    return replace(usual, witness_input=WITNESS, send_full_scale_dbu=18.0, tail_s=1.0)


ROOMS = {
    "plain": room(),
    "hot": room(
        {"kind": "clipping input", "input": MIC, "gain_db": 30.0}, reamp=ReampBox(gain_db=6.0)
    ),
    "one leg": room(reamp=ReampBox(one_leg_dead=True, inverted=True, highs_hz=3000.0)),
    "odd": room(
        {"kind": "swapped inputs", "inputs": [BOX, STRAY]},
        {"kind": "dead cable", "input": MIC},
        reamp=ReampBox(gain_db=-20.0),
    ),
}


@pytest.fixture(scope="module")
def decks() -> Iterator[dict[str, Deck]]:
    """One stream for each room: what starts processes is shared by all tests here."""
    with ExitStack() as held:
        yield {name: held.enter_context(Deck(one, Silent())) for name, one in ROOMS.items()}


def session_of(folder: Path, wiring: Wiring, di: np.ndarray | None = None) -> Session:
    where = folder / "evening"
    session = create(where, name="evening", song="low water", wiring_text=wiring_text(wiring))
    played = phrase(rate=RATE, seconds=6.0, seed=21) if di is None else di
    source = folder / "riff.wav"
    soundfile.write(source, played, RATE, "PCM_24")
    return session.add_part(source=source, facts=inspect(source), name="riff")


class Sitting:
    """A session of its own at one of the shared streams."""

    def __init__(self, folder: Path, deck: Deck, *, stop_at: int | None = None) -> None:
        self.deck = deck
        self.listener = deck.listener = Watching(stop_at=stop_at)
        self.session = session_of(folder, deck.wiring)

    def step(self, asked: Asked) -> SetupRecord:
        return run_step(self.deck, open_session(self.session.folder), asked)

    def edit(self, old: str, new: str) -> None:
        path = self.session.folder / "session.yaml"
        path.write_text(path.read_text().replace(old, new))


def sent(record: SetupRecord) -> SendLevelResult:
    assert isinstance(record.outcome.result, SendLevelResult)
    return record.outcome.result


def gained(record: SetupRecord) -> ReturnGainResult:
    assert isinstance(record.outcome.result, ReturnGainResult)
    return record.outcome.result


def codes(record: SetupRecord) -> set[str]:
    return {finding.code for finding in record.outcome.findings}


def ask(**changes: Any) -> AskSendLevel:
    usual: dict[str, Any] = {"part": "riff", "di_input": BOX, "unmoved": True, "cycles": 1}
    return AskSendLevel(**(usual | changes))


@pytest.mark.slow
def test_a_send_that_is_right_is_told_live_and_kept_with_its_part(
    tmp_path: Path, decks: dict[str, Deck]
) -> None:
    at = Sitting(tmp_path, decks["plain"])
    record = at.step(
        ask(cable="one red cable", cycles=12)
    )  # long enough to be looked at while it rolls
    assert (record.step, record.part, record.trim_db) == ("send level", "riff", 0.0)
    assert record.verdict == "good"
    result = sent(record)
    assert result.difference_db == pytest.approx(0.0, abs=0.02)
    assert result.copy is not None
    assert result.copy.polarity == "normal"
    assert result.copy.highs_db == pytest.approx(0.0, abs=0.1)
    assert result.witness_gain_db is None, "the box's output is in the DI input, not at the witness"
    assert "amp sees what the guitar gave" in record.outcome.headline
    assert [roll.what for roll in at.listener.rolls] == ["set"]
    assert at.listener.shown
    assert all("one red cable" in live.say for live in at.listener.shown)
    assert all("standby" in live.say for live in at.listener.shown)


@pytest.mark.slow
def test_a_hot_send_is_told_with_what_to_turn(tmp_path: Path, decks: dict[str, Deck]) -> None:
    record = Sitting(tmp_path, decks["hot"]).step(ask())
    assert sent(record).difference_db == pytest.approx(6.0, abs=0.02)
    assert record.outcome.headline == "reamp box trim down 6.0 dB"
    assert record.outcome.summary == "+6.0 dB"
    assert codes(record) == {"send-level-off"}


@pytest.mark.slow
def test_half_the_voltage_is_one_leg_and_the_path_is_told(
    tmp_path: Path, decks: dict[str, Deck]
) -> None:
    record = Sitting(tmp_path, decks["one leg"]).step(ask())
    assert codes(record) == {"one-leg-dead", "loop-inverted", "loop-highs-lost"}
    result = sent(record)
    assert result.copy is not None
    # A first-order loss at 3 kHz takes 6.5, 8.2 and 9.9 dB in the thirds from 5 to 10 kHz, 0.5 dB below.
    assert result.copy.highs_db == pytest.approx(-7.7, abs=1.0)


def test_the_witness_is_heard_while_the_amp_plays(tmp_path: Path, decks: dict[str, Deck]) -> None:
    record = Sitting(tmp_path, decks["hot"]).step(AskReturnGain(part="riff", cycles=1))
    assert gained(record).witness_gain_db == pytest.approx(6.0, abs=0.02)


@pytest.mark.slow
def test_a_figure_that_nobody_vouches_for_says_so_and_sets_no_trim(
    tmp_path: Path, decks: dict[str, Deck]
) -> None:
    at = Sitting(tmp_path, decks["hot"])
    record = at.step(ask(unmoved=False, apply_trim=True))
    assert record.verdict == "look"
    assert codes(record) == {"send-level-off", "send-level-unsure", "trim-not-set"}
    assert open_session(at.session.folder).part("riff")[1].trim_db == 0.0


def test_an_input_that_hears_nothing_is_named_with_the_one_that_does(
    tmp_path: Path, decks: dict[str, Deck]
) -> None:
    record = Sitting(tmp_path, decks["odd"]).step(ask())
    assert record.verdict == "redo"
    assert sent(record).elsewhere_input == STRAY
    assert "comes in on input 3, not on input 1" in record.outcome.headline


def test_a_digital_trim_makes_up_the_difference_and_is_the_records(
    tmp_path: Path, decks: dict[str, Deck]
) -> None:
    at = Sitting(tmp_path, decks["hot"])
    record = at.step(ask(apply_trim=True))
    assert sent(record).set_trim_db == -6.0
    assert record.trim_db == open_session(at.session.folder).part("riff")[1].trim_db == -6.0
    assert codes(record) == {"trim-set"}
    again = at.step(ask())
    assert sent(again).difference_db == pytest.approx(0.0, abs=0.02)


def test_a_trim_that_would_clip_is_left_alone(tmp_path: Path, decks: dict[str, Deck]) -> None:
    at = Sitting(tmp_path, decks["odd"])
    record = at.step(ask(di_input=STRAY, apply_trim=True))
    assert open_session(at.session.folder).part("riff")[1].trim_db == 0.0
    assert sent(record).set_trim_db is None
    assert "would clip by 8.0 dB" in sent(record).trim_problem
    assert "trim-not-set" in codes(record)


def test_a_stop_after_a_whole_cycle_is_enough(tmp_path: Path, decks: dict[str, Deck]) -> None:
    at = Sitting(tmp_path, decks["hot"], stop_at=6 * RATE)
    record = at.step(ask(cycles=None))
    assert sent(record).difference_db == pytest.approx(6.0, abs=0.02)


def test_a_stop_before_a_whole_cycle_leaves_nothing(
    tmp_path: Path, decks: dict[str, Deck], monkeypatch: pytest.MonkeyPatch
) -> None:
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(scratch))
    at = Sitting(tmp_path, decks["plain"])
    at.listener.stop_once_rolling()
    monkeypatch.setattr(looped, "SETTLE_S", 60.0)  # so much must have sounded before
    with pytest.raises(StoppedError):
        at.step(ask(cycles=None))
    assert not (at.session.folder / "setup").exists()
    assert list(scratch.iterdir()) == []


def test_nothing_of_scratch_stays(
    tmp_path: Path, decks: dict[str, Deck], monkeypatch: pytest.MonkeyPatch
) -> None:
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(scratch))
    at = Sitting(tmp_path, decks["plain"])
    at.step(ask())
    at.step(AskReturnGain(part="riff", cycles=1))
    assert list(scratch.iterdir()) == []


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"di_input": None}, "nobody noted which input recorded riff"),
        ({"di_input": 9}, "no input 9"),
        ({"di_input": 0}, "no input 0"),
        ({"part": "hook"}, "no part 'hook'"),
        ({"method": "voltmeter", "volts": 70.0}, "70 V cannot be"),
    ],
)
def test_what_cannot_be_measured_is_refused_before_anything_sounds(
    tmp_path: Path, decks: dict[str, Deck], changes: dict[str, Any], match: str
) -> None:
    at = Sitting(tmp_path, decks["plain"])
    with pytest.raises(UseError, match=match):
        at.step(ask(**changes))
    assert at.listener.rolls == []


def test_the_noted_input_needs_no_naming(tmp_path: Path, decks: dict[str, Deck]) -> None:
    at = Sitting(tmp_path, decks["plain"])
    at.edit("trim_db: 0.0", "trim_db: 0.0\n        recorded: {input: 1}")
    assert sent(at.step(ask(di_input=None))).di_input == BOX


def test_an_edit_through_a_pan_law_is_noticed_and_made_up_for(
    tmp_path: Path, decks: dict[str, Deck]
) -> None:
    at = Sitting(tmp_path, decks["plain"])
    raw, _ = soundfile.read(tmp_path / "riff.wav")
    edit = tmp_path / "edit.wav"
    soundfile.write(edit, np.roll(raw, 700) * 10 ** (3 / 20), RATE, "PCM_24")
    at.session.add_revision("riff", source=edit, facts=inspect(edit))
    record, same = at.step(ask()), at.step(ask(raw=str(edit)))
    assert sent(record).difference_db == pytest.approx(3.0, abs=0.03)
    assert codes(record) == {"edit-pan-law", "send-level-off"}
    assert sent(record).raw == "revision 1"
    assert sent(same).raw == "edit.wav"
    assert codes(same) == set()


# ------------------------------------------------------------------ voltmeter


def test_volts_say_what_the_box_gives(tmp_path: Path, decks: dict[str, Deck]) -> None:
    at = Sitting(tmp_path, decks["plain"])
    at.edit("trim_db: 0.0", "trim_db: 0.0\n        recorded: {pad_db: -10, full_scale_dbu: 0}")
    # 0.1 times the volts of 0 dBu, at a sine 20 dB under full scale: full scale is 0 dBu.
    record = at.step(ask(method="voltmeter", volts=0.0774597))
    assert at.listener.rolls == []
    result = sent(record)
    assert result.box is not None
    assert result.box.full_scale_dbu == pytest.approx(0.0, abs=1e-3)
    assert result.box.peak_dbu == pytest.approx(-12.0, abs=1e-3)
    assert [row.word for row in record.outcome.rows[1:3]] == [
        "0.775 V, −2.2 dBV",
        "0.195 V, −14.2 dBV",
    ]
    assert result.box.loss_db == pytest.approx(18.0, abs=1e-3)
    # 0 dBu at the input is 10 dBu at the guitar, ahead of the pad.
    assert result.difference_db == pytest.approx(-10.0, abs=1e-3)


def test_the_sine_plays_until_it_is_stopped_and_leaves_no_record(
    tmp_path: Path, decks: dict[str, Deck]
) -> None:
    at = Sitting(tmp_path, decks["plain"], stop_at=RATE)
    with pytest.raises(StoppedError):
        at.step(ask(method="voltmeter"))
    assert [roll.what for roll in at.listener.rolls] == ["set"]
    assert "−20 dBFS" in at.listener.shown[0].say
    assert not (at.session.folder / "setup").exists()


# ------------------------------------------------------------------ return gain


def test_returns_are_told_by_their_peaks_in_the_window(
    tmp_path: Path, decks: dict[str, Deck]
) -> None:
    # The DI's peak lies at −12 dBFS and the plain path to the microphone adds 3 dB.
    at = Sitting(tmp_path, decks["plain"])
    record = at.step(AskReturnGain(part="riff", cycles=1, high_dbfs=-11.0))
    right = at.step(AskReturnGain(part="riff", cycles=1, dba=94.0))
    (one,) = gained(record).returns
    assert one.cycle.peak_dbfs == pytest.approx(-9.0, abs=1.0)
    assert one.cycle.true_peak_dbfs >= one.cycle.peak_dbfs - 0.01
    assert record.outcome.headline.startswith("close: preamp down")
    assert codes(record) == {"return-gain-off"}
    assert record.part is None
    assert right.verdict == "good"
    assert "1.0 hours" in right.outcome.findings[0].text
    assert any(row.unit == "dBTP" for row in record.outcome.rows)
    assert all("ears" in live.say for live in at.listener.shown)


def test_a_clip_latches(tmp_path: Path, decks: dict[str, Deck]) -> None:
    record = Sitting(tmp_path, decks["hot"]).step(AskReturnGain(part="riff", cycles=1))
    assert codes(record) == {"return-clips"}
    assert record.outcome.rows[0].latched
    assert not record.outcome.rows[0].is_inside
    assert record.outcome.summary == "clips"


def test_a_dead_return_is_named(tmp_path: Path, decks: dict[str, Deck]) -> None:
    record = Sitting(tmp_path, decks["odd"]).step(AskReturnGain(part="riff", cycles=1))
    assert record.verdict == "redo"
    assert codes(record) == {"return-dead"}


@pytest.mark.parametrize(
    ("changes", "match"),
    [({"low_dbfs": -8.0, "high_dbfs": -18.0}, "lower end first"), ({"dba": 20.0}, "20 dBA")],
)
def test_windows_and_levels_that_cannot_be_are_refused(
    tmp_path: Path, decks: dict[str, Deck], changes: dict[str, Any], match: str
) -> None:
    at = Sitting(tmp_path, decks["plain"])
    with pytest.raises(UseError, match=match):
        at.step(AskReturnGain(part="riff", **changes))
    assert at.listener.rolls == []


# ------------------------------------------------------------------ the witness in passes


def test_a_pass_tells_that_the_box_was_turned_since_the_send_level_was_set(tmp_path: Path) -> None:
    turned = {"kind": "send trim", "gain_db": -0.6, "chain": "turned"}
    wiring = room(turned, chains={"turned": (), "plain": ()})
    with Deck(wiring, Watching()) as deck:
        at = Sitting(tmp_path, deck)
        at.step(ask())
        at.step(AskReturnGain(part="riff", cycles=1))
        findings = {
            chain: run_pass(
                deck, open_session(at.session.folder), part_name="riff", chain=chain, known=Known()
            ).variant.findings
            for chain in ("plain", "turned")
        }
    assert "send-level-moved" not in {one.code for one in findings["plain"]}
    (moved,) = [one for one in findings["turned"] if one.code == "send-level-moved"]
    assert "0.6 dB weaker than when the send level was set" in moved.text
