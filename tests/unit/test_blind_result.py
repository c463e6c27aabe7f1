"""What blind sittings come to: counted rightly, told when all is in, and seldom a false alarm."""

from __future__ import annotations

import msgspec
import pytest
from blind_cases import PART, THREE, TWO, likes, sat, scripted, sitting, tossing
from timed import dice

from audio.plan.blind_result import (
    Comparison,
    PairResult,
    Preferences,
    Standing,
    ToldApart,
    Withheld,
    comparisons,
)
from audio.plan.chance import LIMIT, sign_test
from audio.vocab.blind import Said, SittingNow, Trial


def only(*sittings: SittingNow) -> Comparison:
    (one,) = comparisons(sittings)
    return one


def preferences(*sittings: SittingNow) -> Preferences:
    (one,) = only(*sittings).listeners
    assert isinstance(one, Preferences)
    return one


def told_apart(*sittings: SittingNow) -> ToldApart:
    (one,) = only(*sittings).listeners
    assert isinstance(one, ToldApart)
    return one


# ------------------------------------------------------------------ pairs


def test_wins_and_ties_of_a_pair_are_counted_wherever_its_sounds_lay() -> None:
    said: list[Said] = ["first"] * 3 + ["second"] * 11 + ["tie"] * 2
    one = scripted(sitting("pairs", planned=16), *said)
    turned = msgspec.structs.replace(
        one,
        trials=tuple(msgspec.structs.replace(t, behind=t.behind[::-1]) for t in one.trials),
    )
    expected = PairResult(
        sounds=("005", "003"),
        wins=(11, 3),
        ties=2,
        p=float(sign_test(11, 3)),
        p_of_all=float(sign_test(11, 3)),
        found="could be chance",
    )
    assert preferences(one).pairs == (expected,)
    assert preferences(turned).pairs[0] == msgspec.structs.replace(expected, sounds=("003", "005"))
    assert expected.p == pytest.approx(0.0574, abs=5e-5)  # sign test, 3 of 14: 470 / 8192, by hand


def test_who_always_prefers_one_sound_is_found_with_every_pair_counted() -> None:
    one = sat(sitting("pairs", THREE, planned=24), likes("005", "003"), dice(1))
    found = preferences(one)
    assert (found.answers, found.sittings, found.early) == (24, 1, 0)
    assert {pair.sounds: pair.wins for pair in found.pairs} == {
        ("005", "003"): (8, 0),
        ("005", "original:close"): (8, 0),
        ("003", "original:close"): (8, 0),
    }
    for pair in found.pairs:
        assert pair.p == 2 / 2**8
        assert pair.p_of_all == 3 * 2 / 2**8  # Holm: the smallest of three, and none below it
        assert pair.found == "preferred"
    assert found.sounds == (
        Standing(sound="005", wins=16, losses=0, ties=0),
        Standing(sound="003", wins=8, losses=8, ties=0),
        Standing(sound="original:close", wins=0, losses=16, ties=0),
    )


def test_a_pair_that_alone_would_be_preferred_is_not_where_holm_says_it_could_be_chance() -> None:
    said: list[Said] = ["first"] * 9 + ["second"] * 1
    alone = preferences(scripted(sitting("pairs", planned=10), *said))
    assert alone.pairs[0].found == "preferred"
    assert alone.pairs[0].p == pytest.approx(22 / 1024)
    one = sitting("pairs", THREE, planned=30)
    behind = [("003", "005")] * 10 + [("003", "original:close"), ("005", "original:close")] * 10
    trials = tuple(Trial(index=at, behind=pair) for at, pair in enumerate(behind, start=1))
    more: list[Said] = [*said, *(["first"] * 10), *(["second"] * 10)]
    among = scripted(one, *more)
    found = preferences(msgspec.structs.replace(among, trials=trials)).pairs[0]
    assert found.p == alone.pairs[0].p
    assert found.p_of_all == pytest.approx(3 * 22 / 1024)
    assert found.found == "could be chance"


def test_five_answers_that_are_no_tie_are_too_few_and_six_are_not() -> None:
    for answers, found in ((5, "too few answers"), (6, "preferred")):
        said: list[Said] = ["first"] * answers + ["tie"] * (10 - answers)
        (pair,) = preferences(scripted(sitting("pairs", planned=10), *said)).pairs
        assert (pair.wins, pair.ties, pair.found) == ((answers, 0), 10 - answers, found)
    (pair,) = preferences(scripted(sitting("pairs", planned=6), *["tie"] * 6)).pairs
    assert (pair.p, pair.found) == (1.0, "too few answers")


# ------------------------------------------------------------------ ranking


def test_each_round_says_of_every_pair_which_was_ranked_better_and_equal_is_a_tie() -> None:
    one = scripted(sitting("ranking", THREE, planned=3), (1, 2, 3), (1, 1, 2), (2, 1, 1))
    found = preferences(one)
    assert found.answers == 3
    assert [(pair.sounds, pair.wins, pair.ties) for pair in found.pairs] == [
        (("003", "005"), (1, 1), 1),
        (("003", "original:close"), (2, 1), 0),
        (("005", "original:close"), (2, 0), 1),
    ]


def test_a_ranking_is_read_by_what_lay_behind_each_letter() -> None:
    one = sat(
        sitting("ranking", THREE, planned=8),
        lambda trial: tuple(1 + THREE.index(sound) for sound in trial.behind),
        dice(2),
    )
    found = preferences(one)
    assert {pair.wins for pair in found.pairs} == {(8, 0)}
    assert [standing.sound for standing in found.sounds] == list(THREE)


# ------------------------------------------------------------------ told apart


def test_ties_are_never_right_and_the_tail_is_one_sided() -> None:
    said: list[Said] = ["a"] * 12 + ["b"] * 4 + ["tie"] * 4
    found = told_apart(scripted(sitting("apart", planned=20), *said))
    assert (found.answers, found.right, found.wrong, found.ties) == (20, 12, 4, 4)
    assert found.p == pytest.approx(2517 / 65536)  # C(16,12..16) = 1820+560+120+16+1, by hand
    assert found.found == "told apart"
    worse = told_apart(scripted(sitting("apart", planned=16), *["b"] * 16))
    assert (worse.right, worse.p, worse.found) == (0, 1.0, "could be chance")


def test_who_hears_which_one_x_is_tells_them_apart() -> None:
    one = sat(
        sitting("apart", planned=10),
        lambda trial: "a" if trial.behind[2] == trial.behind[0] else "b",
        dice(3),
    )
    assert told_apart(one).right == 10
    few = sat(sitting("apart", planned=4), lambda _: "tie", dice(3))
    assert told_apart(few).found == "too few answers"


# ------------------------------------------------------------------ what is told, and of whom


def test_nothing_of_a_sitting_is_told_before_all_that_was_planned_is_in() -> None:
    plan = sitting("pairs", planned=10, number=4)
    going = sat(plan, likes("003", "005"), dice(4), answers=9)
    waits = Withheld(number=4, listener="Anna", answered=9, planned=10)
    assert only(going) == Comparison(part=PART, mode="pairs", sounds=TWO, withheld=(waits,))
    done = sat(plan, likes("003", "005"), dice(4))
    assert preferences(done).early == 0


def test_a_sitting_that_was_ended_early_is_told_and_marked() -> None:
    plan = sitting("pairs", planned=10)
    found = preferences(sat(plan, likes("003", "005"), dice(5), answers=7, ended=True))
    assert (found.answers, found.early, found.pairs[0].wins) == (7, 1, (7, 0))


def test_each_listener_is_told_alone_then_all_together_and_sittings_add_up() -> None:
    def by(listener: str, number: int, best: str, other: str) -> SittingNow:
        plan = sitting("pairs", planned=6, listener=listener, number=number)
        return sat(plan, likes(best, other), dice(number))

    one = only(
        by("Anna", 1, "003", "005"),
        by("Ben", 2, "005", "003"),
        by("anna", 3, "003", "005"),
        sat(
            sitting("pairs", planned=6, listener="Cleo", number=4), likes(*TWO), dice(4), answers=1
        ),
    )
    together = one.together
    assert isinstance(together, Preferences)
    told = [*one.listeners, together]
    assert [(each.listener, each.sittings, each.answers) for each in told] == [
        ("Anna", 2, 12),
        ("Ben", 1, 6),
        ("", 3, 18),
    ]
    assert together.pairs[0].wins == (12, 6)
    assert together.pairs[0].p == float(sign_test(12, 6))
    assert [waits.listener for waits in one.withheld] == ["Cleo"]


def test_other_parts_ways_and_sounds_are_other_comparisons_however_the_sounds_were_named() -> None:
    plans = (
        sitting("pairs", planned=6),
        sitting("pairs", TWO[::-1], planned=6),
        sitting("ranking", planned=6),
        sitting("pairs", ("003", "007"), planned=6),
        sitting("pairs", planned=6, part="hook"),
    )
    found = comparisons(scripted(plan) for plan in plans)
    assert [len(one.withheld) for one in found] == [2, 1, 1, 1]
    assert comparisons(()) == ()


def test_results_survive_json() -> None:
    mixed = comparisons(
        [
            sat(sitting("pairs", THREE, planned=21), likes("003", "005"), dice(6)),
            sat(sitting("apart", planned=6), lambda _: "a", dice(6)),
        ]
    )
    text = msgspec.json.encode(mixed)
    assert msgspec.json.decode(text, type=tuple[Comparison, ...]) == mixed


# ------------------------------------------------------------------ false alarms


def share(alarms: list[bool]) -> float:
    return sum(alarms) / len(alarms)


def test_who_hears_nothing_is_seldom_said_to_prefer_anything() -> None:
    """One pair of 20 answers, ties among them, and three pairs at once."""
    chance = dice(11)
    for sounds, planned in ((TWO, 20), (THREE, 42)):
        plan = sitting("pairs", sounds, planned=planned)
        alarms = []
        for _ in range(800):
            found = preferences(sat(plan, tossing(chance, ties=0.1), chance))
            alarms.append(any(pair.found == "preferred" for pair in found.pairs))
        assert 0 < share(alarms) <= LIMIT


def test_who_ranks_by_the_dice_is_seldom_said_to_prefer_anything() -> None:
    chance, plan = dice(12), sitting("ranking", THREE, planned=14)
    alarms = []
    for _ in range(800):
        found = preferences(sat(plan, lambda _: tuple(chance.randint(1, 3) for _ in THREE), chance))
        alarms.append(any(pair.found == "preferred" for pair in found.pairs))
    assert 0 < share(alarms) <= LIMIT


@pytest.mark.parametrize("habit", ["a", "tossing", "the one that came less often"])
def test_whatever_somebody_does_who_hears_nothing_two_sounds_are_seldom_told_apart(
    habit: str,
) -> None:
    chance, plan = dice(13), sitting("apart", planned=16)
    alarms = []
    for _ in range(800):
        seen: list[bool] = []

        def says(trial: Trial, seen: list[bool] = seen) -> Said:
            """Answer by habit; the last one is told after each trial what X was, and counts."""
            counted: Said = "b" if 2 * sum(seen) > len(seen) else "a"
            seen.append(trial.behind[2] == trial.behind[0])
            if habit == "tossing":
                return chance.choice(("a", "b"))
            return "a" if habit == "a" else counted

        alarms.append(told_apart(sat(plan, says, chance)).found == "told apart")
    assert 0 < share(alarms) <= LIMIT


def test_who_could_stop_where_it_looks_good_would_be_believed_far_too_often() -> None:
    """Why results are withheld: the same listeners, looked at after every answer."""
    chance, stopped = dice(14), []
    for _ in range(400):
        wins, looked = 0, False
        for answers in range(1, 51):
            wins += chance.random() < 0.5
            looked = looked or sign_test(wins, answers - wins) <= LIMIT
        stopped.append(looked)
    assert share(stopped) > 3 * LIMIT
