"""When a go is obeyed: judged against a plain model of what the person saw."""

from __future__ import annotations

import pytest
from card_cases import ROLLING, STANDING_BY, changed
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from audio.jobs.card_rules import APART_S, LONGEST_WAY_S, CardRules
from audio.vocab.card import CardState, Go

STATES = [
    STANDING_BY,
    changed(STANDING_BY, said="read the DI"),
    changed(STANDING_BY, next="hook through crunch"),
    changed(STANDING_BY, may_go=False),
    ROLLING,
    changed(ROLLING, left_s=3.0),
]


def rules_showing(*states: CardState) -> CardRules:
    rules = CardRules()
    for state in states:
        rules.show(state)
    return rules


def test_a_go_on_the_newest_picture_is_obeyed() -> None:
    rules = rules_showing(STANDING_BY)
    assert rules.refusal(Go(number=rules.number, at_s=5.0), 5.0) == ""


def test_a_go_on_an_older_picture_starts_nothing_even_if_go_is_offered_again() -> None:
    rules = rules_showing(STANDING_BY)
    seen = rules.number
    rules.show(changed(STANDING_BY, next="hook through crunch"))
    assert "just changed" in rules.refusal(Go(number=seen, at_s=5.0), 5.0)


def test_a_picture_that_comes_back_is_another_one() -> None:
    rules = rules_showing(STANDING_BY)
    seen = rules.number
    rules.show(ROLLING)
    rules.show(STANDING_BY)
    assert "just changed" in rules.refusal(Go(number=seen, at_s=5.0), 5.0)


def test_progress_between_seeing_and_pressing_does_not_refuse_a_go() -> None:
    rules = rules_showing(STANDING_BY)
    seen = rules.number
    rules.show(changed(STANDING_BY, said="2.1 GB left"))
    assert rules.refusal(Go(number=seen, at_s=5.0), 5.0) == ""


def test_a_go_where_none_is_offered_starts_nothing() -> None:
    rules = rules_showing(ROLLING)
    assert "nothing to start" in rules.refusal(Go(number=rules.number, at_s=5.0), 5.0)


def test_a_go_before_there_is_a_picture_starts_nothing() -> None:
    assert "nothing to start" in CardRules().refusal(Go(number=0, at_s=5.0), 5.0)


def test_a_held_key_starts_once() -> None:
    rules = rules_showing(STANDING_BY)
    presses = [5.0 + n / 30 for n in range(60)]
    obeyed = [at for at in presses if not rules.refusal(Go(number=rules.number, at_s=at), at)]
    assert obeyed == [5.0]


def test_a_go_right_after_a_stop_or_a_key_at_the_desk_starts_nothing() -> None:
    rules = rules_showing(STANDING_BY)
    rules.press(5.0)
    assert "too soon" in rules.refusal(Go(number=rules.number, at_s=5.4), 5.4)
    assert rules.refusal(Go(number=rules.number, at_s=6.0), 6.0) == ""


@pytest.mark.parametrize("late_s", [1.5, 60.0, -60.0])
def test_a_go_that_was_held_up_starts_nothing(late_s: float) -> None:
    rules = rules_showing(STANDING_BY)
    assert "held up" in rules.refusal(Go(number=rules.number, at_s=100.0 - late_s), 100.0)


class AnyOrder(RuleBasedStateMachine):
    """Pictures, presses and time in any order; the model remembers what each picture said."""

    def __init__(self) -> None:
        super().__init__()
        self.rules = CardRules()
        self.now = 0.0
        self.pictures: list[tuple[int, CardState]] = []
        self.pressed_at: float | None = None

    @rule(state=st.sampled_from(STATES))
    def show(self, state: CardState) -> None:
        self.rules.show(state)
        self.pictures.append((self.rules.number, state))

    @rule(seconds=st.sampled_from([0.01, 0.3, 0.5, 0.7, 5.0]))
    def wait(self, seconds: float) -> None:
        self.now += seconds

    @rule()
    def stop(self) -> None:
        self.rules.press(self.now)
        self.pressed_at = self.now

    @precondition(lambda self: self.pictures)
    @rule(data=st.data(), way_s=st.sampled_from([0.0, 0.2, 1.5]))
    def go(self, data: st.DataObject, way_s: float) -> None:
        number, saw = data.draw(st.sampled_from(self.pictures))
        obeyed = not self.rules.refusal(Go(number=number, at_s=self.now - way_s), self.now)
        newest = self.pictures[-1][1]
        apart = self.pressed_at is None or self.now - self.pressed_at >= APART_S
        self.pressed_at = self.now
        if obeyed:
            assert saw.may_go
            assert newest.may_go
            assert (saw.next, saw.part, saw.chain) == (newest.next, newest.part, newest.chain)
            assert apart
            assert way_s <= LONGEST_WAY_S
        else:
            seen_newest = number == self.pictures[-1][0]
            assert not (seen_newest and newest.may_go and apart and way_s <= LONGEST_WAY_S)

    @rule(number=st.integers(-3, 200))
    def guess(self, number: int) -> None:
        obeyed = not self.rules.refusal(Go(number=number, at_s=self.now), self.now)
        self.pressed_at = self.now
        assert not obeyed or number == self.pictures[-1][0]

    @invariant()
    def numbers_only_grow(self) -> None:
        numbers = [number for number, _ in self.pictures]
        assert numbers == sorted(numbers)


TestAnyOrder = AnyOrder.TestCase
