"""Listening at the desk, with the engine and the worker as they are: heard, steered, noted, never sent."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from accidents import wait_for
from listened import (
    EARS,
    LEVELS_DB,
    PART,
    RATE,
    ROUNDS,
    SECONDS,
    SEND,
    TONES,
    Ears,
    level_db,
    make_session,
    recorded,
    sent,
)
from needs import needs_samples
from sitting import Sitting, begins, kinds, only

from audio.jobs import desk_listening, news
from audio.jobs.listening_ground import NO_OUTPUTS
from audio.jobs.orders import (
    AnswerBlind,
    BeginBlind,
    EndBlind,
    Listen,
    LookAtSounds,
    OpenStream,
    RunPass,
    SayOfVariant,
)
from audio.plan.listening import cut_db
from audio.session import layout
from audio.vocab.balance import Balance, Fader
from audio.vocab.listening import Flip, GoRound, LeaveOut, MatchThem, SetBalance
from audio.vocab.messages import Span
from audio.work.client import Worker

pytestmark = needs_samples()

BLEND = Balance(faders=(Fader(name="room", db=-12.0),))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_session(tmp_path_factory.mktemp("heard"))


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Path]]:
    with recorded(tmp_path_factory.mktemp("sent")) as made:
        yield made


@pytest.fixture(scope="module")
def desk(folder: Path, files: list[Path]) -> Iterator[Sitting]:
    assert files == []
    with Sitting(folder) as one:
        yield one.opened()


@pytest.fixture
def ears(desk: Sitting) -> Iterator[Ears]:
    one = Ears(desk)
    yield one
    desk.forget_moments()
    if not desk.nothing_sounds():
        one.stopped()


def lufs(sound: np.ndarray) -> float:
    return float(pyloudnorm.Meter(RATE).integrated_loudness(sound))


# ------------------------------------------------------------------ heard


@pytest.mark.slow
def test_every_sound_is_heard_equally_loud_on_the_listen_outputs_and_nothing_is_sent(
    ears: Ears, files: list[Path]
) -> None:
    first = ears.listen()
    assert [one.key for one in first.sounds] == ["002", "001", "di"]
    now = ears.until_measured()
    heard: dict[str, slice] = {}
    for key in ("001", "di", "002"):
        ears.desk.runner.steer(Flip(key=key))
        heard[key] = ears.hear_round()
    ears.stopped()
    outputs = sent(files[-1])
    assert not outputs[:, [SEND, 3]].any(), "nothing of it is sent, nor goes anywhere else"
    np.testing.assert_array_equal(outputs[:, EARS[0]], outputs[:, EARS[1]])
    # BS.1770 by a second library, over a whole round: the stretch that is matched.
    told = {key: lufs(outputs[where, EARS[0]]) for key, where in heard.items()}
    assert max(told.values()) - min(told.values()) < 0.1, told
    quietest = min(one.loudness_lufs + one.match_db for _, one in now.levels if one.loudness_lufs)
    assert told["001"] == pytest.approx(quietest + cut_db(now), abs=0.1)


@pytest.mark.slow
def test_a_flip_is_one_sound_alone_and_unmatched_each_is_as_loud_as_it_is(
    ears: Ears, files: list[Path]
) -> None:
    ears.listen(steers=(Flip(key="001"), MatchThem(on=False)))
    now = ears.until_measured()
    heard = {}
    for key in TONES:
        ears.desk.runner.steer(Flip(key=key))
        heard[key] = ears.hear_round()
    ears.stopped()
    outputs = sent(files[-1])[:, EARS[0]]
    for key, where in heard.items():
        for other, tones in TONES.items():
            for hz in tones.values():
                expected = LEVELS_DB[key] + now.cut_plain_db if other == key else -100.0
                level = level_db(outputs[where], hz)
                assert level == pytest.approx(expected, abs=0.02) if other == key else level < -80


@pytest.mark.slow
def test_faders_are_heard_at_once_and_end_in_the_journal_when_it_is_over(
    ears: Ears, files: list[Path]
) -> None:
    ears.listen(steers=(Flip(key="001"), MatchThem(on=False)))
    ears.until_measured()
    ears.desk.runner.steer(SetBalance(key="001", balance=BLEND))
    ears.until_measured()
    faded = ears.hear_round()
    alone = Balance(faders=BLEND.faders, solo=("room",))
    ears.desk.runner.steer(SetBalance(key="001", balance=alone))
    ears.until_measured()
    soloed = ears.hear_round()
    ears.stopped()
    assert ears.said(1).balance == alone
    assert ears.said(2).balance == Balance()
    outputs = sent(files[-1])[:, EARS[0]]
    close, room = TONES["001"].values()
    beside = level_db(outputs[faded], room) - level_db(outputs[faded], close)
    assert beside == pytest.approx(-12.0, abs=0.02)
    assert level_db(outputs[soloed], close) < -80
    assert level_db(outputs[soloed], room) > -60


def test_a_fader_that_stands_still_is_noted_while_it_rolls(
    ears: Ears, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(desk_listening, "SETTLED_S", 0.01)
    ears.listen()
    balance = Balance(faders=(Fader(name="close", db=-1.0),))
    ears.desk.runner.steer(SetBalance(key="002", balance=balance))
    shot = ears.desk.until(news.Snapshot)
    assert [one.balance for one in shot.opinions if one.number == 2] == [balance]
    assert not ears.desk.nothing_sounds()
    told = ears.stopped()
    assert news.Snapshot not in kinds(told), "it is noted once"


def test_bars_that_are_moved_go_round_from_then_on(ears: Ears) -> None:
    bars = Span(start=RATE // 2, end=RATE)
    assert ears.listen(steers=(GoRound(span=bars),)).span == bars
    ears.rolls_on(2.0)
    span = Span(start=2 * RATE, end=2 * RATE + RATE // 2)
    ears.desk.runner.steer(GoRound(span=span))
    wait_for(lambda: ears.status().timeline_frame >= span.start, "the bars were not moved")
    for _ in range(20):
        ears.rolls_on(0.07)
        assert span.start <= ears.status().timeline_frame <= span.end
    ears.desk.until(news.ListeningStands, lambda one: one.now.measured and one.now.span == span)


def test_what_is_steered_before_it_has_begun_holds_once_it_has(
    ears: Ears, files: list[Path]
) -> None:
    span = Span(start=2 * RATE, end=2 * RATE + RATE // 2)
    steer = ears.desk.runner.steer
    ears.desk.when(
        begins("flip"), lambda: steer(GoRound(span=span)), lambda: steer(Flip(key="001"))
    )
    as_recorded = SetBalance(
        key="001", balance=Balance()
    )  # the journal may know another one by now
    bars = GoRound(span=Span(start=RATE // 2, end=RATE))
    ears.listen(steers=(bars, MatchThem(on=False), as_recorded))
    ears.rolls_on(ROUNDS * SECONDS)  # by then all that was asked has come
    assert span.start <= ears.status().timeline_frame <= span.end
    ears.stopped()
    outputs = sent(files[-1])[:, EARS[0]]
    close, _ = TONES["001"].values()
    other, _ = TONES["002"].values()
    heard = outputs[-2 * RATE : -RATE]
    assert level_db(heard, close) > LEVELS_DB["001"] - 12
    assert level_db(heard, other) < -80


def test_what_is_left_out_is_not_matched_to(ears: Ears) -> None:
    ears.listen(steers=(LeaveOut(key="001", out=True), LeaveOut(key="di", out=True)))
    now = ears.until_measured()
    level = now.level("002")
    assert level is not None
    assert level.match_db == 0.0, "it is the only one"


# ------------------------------------------------------------------ said meanwhile


def test_a_rating_is_noted_while_it_rolls_on(ears: Ears) -> None:
    ears.listen()
    roll = ears.desk.roll_number
    ears.desk.runner.ask(SayOfVariant(part=PART, number=2, rating=4))
    told = ears.desk.until(news.Snapshot)
    assert [one.rating for one in told.opinions if one.number == 2] == [4]
    ears.rolls_on(1.0)
    assert ears.desk.roll_number == roll
    assert only(ears.stopped(), news.RollEnds)


def test_a_variant_is_kept_while_it_rolls_with_the_balance_that_is_heard(ears: Ears) -> None:
    ears.listen()
    ears.desk.runner.steer(SetBalance(key="001", balance=BLEND))
    said = SayOfVariant(part=PART, number=1, keeper=True, reason="it sits", balance=BLEND)
    ears.desk.runner.ask(said)
    ears.desk.until(news.Said)
    ears.rolls_on(1.0)
    ears.stopped()
    keeper = ears.said(1).keeper
    assert keeper is not None
    assert (keeper.reason, keeper.balance) == ("it sits", BLEND)


def test_a_blind_sitting_is_begun_answered_and_ended_while_it_rolls(ears: Ears) -> None:
    ears.listen()
    roll, desk = ears.desk.roll_number, ears.desk
    desk.runner.ask(
        BeginBlind(part=PART, mode="apart", sounds=("001", "002"), listener="Mara", planned=5)
    )
    now = desk.until(news.BlindStands).now
    trial = now.next_trial
    assert trial is not None
    desk.runner.ask(AnswerBlind(number=now.sitting.number, trial=trial.index, said="tie"))
    assert len(desk.until(news.BlindStands).now.answers) == 1
    desk.runner.ask(EndBlind(number=now.sitting.number))
    assert desk.until(news.BlindStands).told
    ears.rolls_on(0.5)
    assert desk.roll_number == roll
    ears.stopped()


def test_what_cannot_be_said_is_one_sentence_and_it_rolls_on(ears: Ears) -> None:
    ears.listen()
    ears.desk.runner.ask(SayOfVariant(part=PART, number=9, rating=4))
    assert "has no variant 009" in ears.desk.until(news.Trouble).text
    ears.rolls_on(1.0)


# ------------------------------------------------------------------ its end


def test_a_stop_ends_it_and_a_steer_afterwards_changes_nothing(ears: Ears) -> None:
    ears.listen()
    told = ears.stopped()
    assert kinds(told)[-2:] == [news.RollEnds, news.Idle]
    assert news.Trouble not in kinds(told)
    ears.desk.runner.steer(Flip(key="001"))
    assert news.ListeningStands not in kinds(ears.desk.obeyed(OpenStream()))


@pytest.mark.slow
def test_a_pass_that_is_ordered_ends_the_listening_and_then_runs(tmp_path: Path) -> None:
    with Sitting(make_session(tmp_path)) as desk, recorded(tmp_path) as made:
        Ears(desk.opened()).listen()
        desk.runner.ask(RunPass(part=PART, chain="plain"))
        over = desk.to_idle()
        assert news.PassDone not in kinds(over)
        assert only(over, news.RollEnds)
        done = only(desk.to_idle(), news.PassDone)
        assert (done.variant.number, done.variant.state) == (3, "kept")
        assert len(made) == 1


@pytest.mark.slow
def test_a_stop_waits_for_no_more_than_one_piece_of_what_is_being_measured(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = make_session(tmp_path)
    for path in (folder / "passes").rglob("*.wav"):
        long = np.zeros(600 * RATE, dtype=np.int16)  # ten minutes: 30 pieces a sound
        soundfile.write(path, long, RATE, subtype="PCM_16")
    begun: list[int] = []
    match = Worker.match

    def counted(worker: Worker, asked: object, **more: float) -> object:
        begun.append(1)
        return match(worker, asked, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(Worker, "match", counted)
    with Sitting(folder) as desk:
        ears = Ears(desk.opened())
        ears.listen()
        wait_for(lambda: len(begun) > 2, "nothing was measured")
        before = len(begun)
        told = ears.stopped()
        assert len(begun) <= before + 1
        stands = [one.now for one in told if isinstance(one, news.ListeningStands)]
        assert not any(one.measured for one in stands)


# ------------------------------------------------------------------ what goes wrong


@pytest.mark.slow
def test_a_file_that_vanishes_while_it_rolls_is_one_sentence_and_what_plays_goes_on(
    tmp_path: Path,
) -> None:
    folder = make_session(tmp_path)
    with Sitting(folder) as desk:
        ears = Ears(desk.opened())
        ears.listen()
        ears.until_measured()
        gone = next((folder / "passes" / PART / "001").glob("*_close.wav"))
        gone.unlink()
        desk.runner.steer(SetBalance(key="001", balance=BLEND))
        now = desk.until(news.ListeningStands, lambda one: bool(one.now.problem)).now
        assert f"{gone} cannot be opened" in now.problem
        assert "\n" not in now.problem
        ears.rolls_on(1.0)
        assert news.Trouble not in kinds(ears.stopped())
        read = desk.looked(LookAtSounds(part=PART), news.SoundsRead)
        assert read.now is not None
        assert [one.key for one in read.now.sounds] == ["002", "di"]
        assert read.said[0].startswith("fuzz 1 is left out: ")


@pytest.mark.slow
def test_without_listen_outputs_it_is_one_sentence_and_nothing_rolls(tmp_path: Path) -> None:
    with Sitting(make_session(tmp_path, listen=())) as desk:
        told = desk.opened().obeyed(Listen(part=PART))
        assert only(told, news.Trouble).text == NO_OUTPUTS
        assert news.RollBegins not in kinds(told)
        read = desk.looked(LookAtSounds(part=PART), news.SoundsRead)
        assert (read.now, read.problem) == (None, NO_OUTPUTS)


def test_a_part_without_a_readable_di_is_one_sentence(ears: Ears, folder: Path) -> None:
    session_yaml = layout.session_yaml(folder).read_text()
    di = next((folder / "di").glob("*.wav"))
    hidden = di.rename(di.with_suffix(".hidden"))
    try:
        told = ears.desk.obeyed(Listen(part=PART))
    finally:
        hidden.rename(di)
    assert layout.session_yaml(folder).read_text() == session_yaml
    assert "has nothing that can be listened to" in only(told, news.Trouble).text
    assert news.RollBegins not in kinds(told)
