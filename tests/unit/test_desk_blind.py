"""Blind sittings at the desk: begun once, gone on with after a break, told when all is answered."""

from __future__ import annotations

from pathlib import Path

import pytest
from session_cases import noon, session_with_a_part, variant

from audio.jobs import news
from audio.jobs.desk_blind import DeskBlind
from audio.jobs.orders import AnswerBlind, BeginBlind, EndBlind
from audio.plan.blind_result import ToldApart
from audio.session import records
from audio.session.opened import Session
from audio.session.passes import claim
from audio.vocab.blind import SittingNow
from audio.vocab.errors import UseError

PART = "rhythm-left"
BEGIN = BeginBlind(part=PART, mode="apart", sounds=("001", "002"), listener="Mara", planned=5)


@pytest.fixture
def session(tmp_path: Path) -> Session:
    one = session_with_a_part(tmp_path)
    for _ in range(2):
        made = claim(one, PART, clock=noon)
        records.write_variant(made.folder, variant(made.number, part=PART))
    return one


def answered(desk: DeskBlind, session: Session, now: SittingNow) -> news.BlindStands:
    """Answer the next trial rightly."""
    trial = now.next_trial
    assert trial is not None
    said = "a" if trial.behind[2] == trial.behind[0] else "b"
    asked = AnswerBlind(number=now.sitting.number, trial=trial.index, said=said)  # type: ignore[arg-type]
    return desk.obey(session, asked)


def test_nothing_is_told_before_the_last_answer(session: Session) -> None:
    desk = DeskBlind()
    stands = desk.obey(session, BEGIN)
    for count in range(5):
        assert (len(stands.now.answers), stands.told) == (count, ())
        stands = answered(desk, session, stands.now)
    assert stands.now.state == "complete"
    (outcome,) = stands.told[0].listeners
    assert isinstance(outcome, ToldApart)
    assert (outcome.right, outcome.answers) == (5, 5)


@pytest.mark.parametrize(
    "again",
    [
        BEGIN,
        BeginBlind(part=PART, mode="apart", sounds=("002", "001"), listener=" mara ", planned=9),
    ],
)
def test_a_sitting_that_was_left_open_is_gone_on_with(session: Session, again: BeginBlind) -> None:
    desk = DeskBlind()
    left = answered(desk, session, desk.obey(session, BEGIN).now).now
    found = DeskBlind().obey(session, again).now
    assert found == left, "the trials are those drawn first, whoever asks again"


@pytest.mark.parametrize(
    "other",
    [
        BeginBlind(part=PART, mode="apart", sounds=("001", "002"), listener="Tom", planned=5),
        BeginBlind(part=PART, mode="pairs", sounds=("001", "002"), listener="Mara", planned=6),
        BeginBlind(part=PART, mode="apart", sounds=("001", "di"), listener="Mara", planned=5),
    ],
)
def test_another_listener_way_or_pair_is_another_sitting(
    session: Session, other: BeginBlind
) -> None:
    desk = DeskBlind()
    desk.obey(session, BEGIN)
    assert desk.obey(session, other).now.sitting.number == 2


def test_one_that_is_ended_early_is_told_and_a_new_one_can_begin(session: Session) -> None:
    desk = DeskBlind()
    now = answered(desk, session, desk.obey(session, BEGIN).now).now
    ended = desk.obey(session, EndBlind(number=now.sitting.number))
    assert ended.now.state == "ended early"
    assert ended.told[0].listeners[0].early == 1
    assert desk.obey(session, BEGIN).now.sitting.number == 2


def test_several_listeners_are_told_each_and_together(session: Session) -> None:
    desk = DeskBlind()
    for name in ("Mara", "Tom"):
        asked = BeginBlind(part=PART, mode="apart", sounds=("001", "002"), listener=name, planned=5)
        stands = desk.obey(session, asked)
        while stands.now.state == "open":
            stands = answered(desk, session, stands.now)
    assert [one.listener for one in stands.told[0].listeners] == ["Mara", "Tom"]
    assert stands.told[0].together is not None


def test_what_cannot_be_is_one_sentence(session: Session) -> None:
    with pytest.raises(UseError, match="can say nothing"):
        DeskBlind().obey(
            session,
            BeginBlind(part=PART, mode="apart", sounds=("001", "002"), listener="M", planned=4),
        )
