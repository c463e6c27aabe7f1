"""When a go is obeyed, and which card drives: judged against a plain model of what people saw and did."""

from __future__ import annotations

import pytest
from card_cases import ROLLING, STANDING_BY, changed
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from audio.jobs.card_rules import APART_S, LONGEST_WAY_S, SILENT_S, CardRules
from audio.vocab.card import CardState, Drive, Go, Role

STATES = [
    STANDING_BY,
    changed(STANDING_BY, said="read the DI"),
    changed(STANDING_BY, next="hook through crunch"),
    changed(STANDING_BY, may_go=False),
    ROLLING,
    changed(ROLLING, left_s=3.0),
]


def rules_showing(*states: CardState, now_s: float = 5.0) -> CardRules:
    """Return rules with one card, which drives."""
    rules = CardRules()
    assert rules.come(now_s, new=True) == 1
    for state in states:
        rules.show(state)
    return rules


def test_a_go_on_the_newest_picture_is_obeyed() -> None:
    rules = rules_showing(STANDING_BY)
    assert rules.refusal(1, Go(number=rules.number, at_s=5.0), 5.0) == ""


def test_a_go_on_an_older_picture_starts_nothing_even_if_go_is_offered_again() -> None:
    rules = rules_showing(STANDING_BY)
    seen = rules.number
    rules.show(changed(STANDING_BY, next="hook through crunch"))
    assert "just changed" in rules.refusal(1, Go(number=seen, at_s=5.0), 5.0)


def test_a_picture_that_comes_back_is_another_one() -> None:
    rules = rules_showing(STANDING_BY)
    seen = rules.number
    rules.show(ROLLING)
    rules.show(STANDING_BY)
    assert "just changed" in rules.refusal(1, Go(number=seen, at_s=5.0), 5.0)


def test_progress_between_seeing_and_pressing_does_not_refuse_a_go() -> None:
    rules = rules_showing(STANDING_BY)
    seen = rules.number
    rules.show(changed(STANDING_BY, said="2.1 GB left"))
    assert rules.refusal(1, Go(number=seen, at_s=5.0), 5.0) == ""


def test_a_go_where_none_is_offered_starts_nothing() -> None:
    rules = rules_showing(ROLLING)
    assert "nothing to start" in rules.refusal(1, Go(number=rules.number, at_s=5.0), 5.0)


def test_a_go_before_there_is_a_picture_starts_nothing() -> None:
    assert "nothing to start" in rules_showing().refusal(1, Go(number=1, at_s=5.0), 5.0)


def test_a_held_key_starts_once() -> None:
    rules = rules_showing(STANDING_BY)
    presses = [5.0 + n / 30 for n in range(60)]
    obeyed = [at for at in presses if not rules.refusal(1, Go(number=rules.number, at_s=at), at)]
    assert obeyed == [5.0]


def test_a_go_right_after_a_stop_or_a_key_at_the_desk_starts_nothing() -> None:
    rules = rules_showing(STANDING_BY)
    rules.press(5.0)
    assert "too soon" in rules.refusal(1, Go(number=rules.number, at_s=5.4), 5.4)
    assert rules.refusal(1, Go(number=rules.number, at_s=6.0), 6.0) == ""


@pytest.mark.parametrize("late_s", [1.5, 60.0, -60.0])
def test_a_go_that_was_held_up_starts_nothing(late_s: float) -> None:
    rules = rules_showing(STANDING_BY, now_s=100.0)
    assert "held up" in rules.refusal(1, Go(number=rules.number, at_s=100.0 - late_s), 100.0)


# ------------------------------------------------------------------ who drives


def refused(rules: CardRules, card: int, now_s: float) -> str:
    return rules.refusal(card, Go(number=rules.number, at_s=now_s), now_s)


def test_the_first_card_drives_and_a_further_one_watches_and_is_told_who_drives() -> None:
    rules = rules_showing(STANDING_BY)
    assert rules.come(5.0, new=True) == 2
    assert rules.role(1) == Role(card=1, cards=2, driver=1)
    assert rules.role(2) == Role(card=2, cards=2, driver=1)
    assert "this card watches: card 1 drives" in refused(rules, 2, 5.0)
    assert refused(rules, 1, 6.0) == ""


def test_a_card_that_finds_the_desk_again_by_itself_does_not_drive() -> None:
    rules = CardRules()
    rules.show(STANDING_BY)
    rules.come(5.0, new=False)
    assert rules.role(1).driver is None
    assert "this card watches: no card drives; take over first" in refused(rules, 1, 5.0)


def test_when_the_driver_leaves_nobody_drives_until_drive_is_pressed_somewhere() -> None:
    rules = rules_showing(STANDING_BY)
    rules.come(5.0, new=True)
    rules.leave(1)
    assert rules.driver is None
    assert rules.come(5.0, new=True) == 1, "a number that is free"
    assert "no card drives" in refused(rules, 1, 5.0)
    assert rules.drive(2, Drive(at_s=6.0), 6.0) == ""
    assert refused(rules, 2, 7.0) == ""


def test_a_driver_that_falls_silent_drives_no_more_and_not_again_when_it_speaks() -> None:
    rules = rules_showing(STANDING_BY)
    rules.hear(1, 6.0)
    rules.look(6.0 + SILENT_S - 0.01)
    assert rules.driver == 1
    rules.hear(1, 6.0 + SILENT_S)  # it speaks too late
    assert rules.role(1) == Role(card=1, cards=1, driver=None, lost="it fell silent for 4 s")
    assert "it fell silent for 4 s; take over" in refused(rules, 1, 6.0 + SILENT_S)


def test_taking_over_from_a_driver_tells_it_and_the_next_one_who_loses_it_is_told_instead() -> None:
    rules = rules_showing(STANDING_BY)
    rules.come(5.0, new=True)
    rules.drive(2, Drive(at_s=5.0), 5.0)
    assert rules.role(1) == Role(card=1, cards=2, driver=2, lost="card 2 took over")
    assert "this card watches: card 2 took over" in refused(rules, 1, 6.0)
    rules.drive(1, Drive(at_s=7.0), 7.0)
    assert (rules.role(1).lost, rules.role(2).lost) == ("", "card 1 took over")


def test_go_right_after_taking_over_or_on_the_picture_before_starts_nothing() -> None:
    rules = rules_showing(STANDING_BY)
    rules.come(5.0, new=True)
    seen = rules.number
    rules.drive(2, Drive(at_s=5.0), 5.0)
    assert "too soon" in refused(rules, 2, 5.3)
    assert "just changed" in rules.refusal(2, Go(number=seen, at_s=6.0), 6.0)
    assert refused(rules, 2, 7.0) == ""


def test_taking_over_that_was_held_up_changes_nothing() -> None:
    rules = rules_showing(STANDING_BY)
    rules.come(5.0, new=True)
    assert "held up on its way and changed nothing" in rules.drive(2, Drive(at_s=5.0), 6.5)
    assert rules.driver == 1


class AnyOrder(RuleBasedStateMachine):
    """Cards, pictures, presses and time in any order; the model remembers who was there and saw what."""

    def __init__(self) -> None:
        super().__init__()
        self.rules = CardRules()
        self.now = 0.0
        self.pictures: list[tuple[int, CardState]] = []
        self.pressed_at: float | None = None
        self.cards: dict[int, float] = {}
        self.driver: int | None = None

    @invariant()
    def the_newest_picture_is_known(self) -> None:
        self.shown()

    def falls_silent(self) -> None:
        """Say of the model what each look and each sign of life of a card brings."""
        if self.driver is not None and self.now - self.cards[self.driver] >= SILENT_S:
            self.driver = None

    def any_card(self, data: st.DataObject) -> int:
        return data.draw(st.sampled_from(sorted(self.cards)))

    def shown(self) -> None:
        """Take note of the picture as it is now: another driver makes another picture."""
        if self.rules.state is not None:
            self.pictures.append((self.rules.number, self.rules.state))

    @rule(new=st.booleans())
    def come(self, new: bool) -> None:
        alone = not self.cards
        card = self.rules.come(self.now, new=new)
        assert card not in self.cards
        self.cards[card] = self.now
        if new and alone:
            self.driver = card
        self.shown()

    @precondition(lambda self: self.cards)
    @rule(data=st.data())
    def leave(self, data: st.DataObject) -> None:
        card = self.any_card(data)
        self.rules.leave(card)
        del self.cards[card]
        self.driver = None if self.driver == card else self.driver
        self.shown()

    @precondition(lambda self: self.cards)
    @rule(data=st.data())
    def sign_of_life(self, data: st.DataObject) -> None:
        card = self.any_card(data)
        self.falls_silent()
        self.rules.hear(card, self.now)
        self.cards[card] = self.now
        self.shown()

    @rule()
    def look(self) -> None:
        self.falls_silent()
        self.rules.look(self.now)
        self.shown()

    @precondition(lambda self: self.cards)
    @rule(data=st.data(), way_s=st.sampled_from([0.0, 0.2, 1.5]))
    def drive(self, data: st.DataObject, way_s: float) -> None:
        card = self.any_card(data)
        taken = not self.rules.drive(card, Drive(at_s=self.now - way_s), self.now)
        self.pressed_at = self.now
        assert taken == (way_s <= LONGEST_WAY_S)
        self.driver = card if taken else self.driver
        self.shown()

    @rule(state=st.sampled_from(STATES))
    def show(self, state: CardState) -> None:
        self.rules.show(state)
        self.shown()

    @rule(seconds=st.sampled_from([0.01, 0.3, 0.5, 0.7, 5.0]))
    def wait(self, seconds: float) -> None:
        self.now += seconds

    @rule()
    def stop(self) -> None:
        self.rules.press(self.now)
        self.pressed_at = self.now

    @precondition(lambda self: self.pictures and self.cards)
    @rule(data=st.data(), way_s=st.sampled_from([0.0, 0.2, 1.5]))
    def go(self, data: st.DataObject, way_s: float) -> None:
        card = self.any_card(data)
        number, saw = data.draw(st.sampled_from(self.pictures))
        drove = self.driver
        self.falls_silent()
        fell = self.driver != drove  # which makes another picture
        newest = number == self.pictures[-1][0] and not fell
        obeyed = not self.rules.refusal(card, Go(number=number, at_s=self.now - way_s), self.now)
        apart = self.pressed_at is None or self.now - self.pressed_at >= APART_S
        self.pressed_at = self.now if card == self.driver else self.pressed_at
        fine = card == self.driver and newest and saw.may_go and apart and way_s <= LONGEST_WAY_S
        assert obeyed == fine
        if obeyed:
            now = self.rules.state
            assert now is not None
            assert (saw.next, saw.part, saw.chain) == (now.next, now.part, now.chain)

    @rule(card=st.integers(0, 9), number=st.integers(-3, 200))
    def guess(self, card: int, number: int) -> None:
        self.falls_silent()
        obeyed = not self.rules.refusal(card, Go(number=number, at_s=self.now), self.now)
        self.pressed_at = self.now if card == self.driver else self.pressed_at
        assert not obeyed or (card == self.driver and number == self.rules.number)

    @invariant()
    def numbers_only_grow(self) -> None:
        numbers = [number for number, _ in self.pictures]
        assert numbers == sorted(numbers)

    @invariant()
    def one_card_drives_at_most_and_it_is_there(self) -> None:
        assert self.rules.driver == self.driver
        roles = [self.rules.role(card) for card in self.cards]
        assert [one.card for one in roles if one.drives] == (
            [] if self.driver is None else [self.driver]
        )
        assert all((one.cards, one.driver) == (len(roles), self.driver) for one in roles)
        assert not any(one.drives and one.lost for one in roles)


AnyOrder.TestCase.settings = settings(max_examples=40, stateful_step_count=40)
TestAnyOrder = AnyOrder.TestCase
