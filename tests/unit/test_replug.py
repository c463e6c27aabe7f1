"""What has to be touched between two chains, and the order of chains that costs least."""

from __future__ import annotations

import itertools
import random

import pytest

from audio.plan.ordering import MOST_EXACT, MOST_LOOKS, ordered, path_cost
from audio.plan.replug import changes, cost, stands
from audio.vocab.chain import AmpAsSet, Chain, Change, MicAsSet, Pedal
from audio.vocab.plan import Costs

COSTS = Costs(knob=1, plug=2, pedal=5, amp=40)


def chain(*pedals: Pedal, name: str = "one", **rest: object) -> Chain:
    return Chain(name=name, pedals=pedals, **rest)  # type: ignore[arg-type]


def pedal(name: str, **knobs: str) -> Pedal:
    return Pedal(name=name, knobs=knobs)


def words(before: Chain | None, after: Chain) -> list[tuple[str, str, str]]:
    return [(one.kind, one.name, one.what) for one in changes(before, after)]


FUZZ, WAH, DELAY = pedal("fuzz", volume="2:30"), pedal("wah"), pedal("delay", time="412 ms")


def test_two_chains_that_are_set_alike_need_no_hand() -> None:
    one = chain(FUZZ, DELAY, amps=(AmpAsSet(knobs={"treble": "6"}),))
    other = chain(FUZZ, DELAY, name="other", amps=(AmpAsSet(knobs={"treble": "6"}),))
    assert changes(one, other) == ()
    assert cost(one, other, COSTS) == 0.0


def test_a_knob_that_stands_otherwise_is_turned() -> None:
    after = chain(pedal("fuzz", volume="3:00", tone="5"), DELAY)
    assert changes(chain(FUZZ, DELAY), after) == (
        Change(kind="turn", at="pedal", name="fuzz", what="volume", was="2:30", now="3:00"),
        Change(kind="turn", at="pedal", name="fuzz", what="tone", was="", now="5"),
    )
    assert cost(chain(FUZZ, DELAY), after, COSTS) == 2.0


def test_a_pedal_that_went_elsewhere_is_moved_and_nothing_else_is() -> None:
    before, after = chain(FUZZ, WAH, DELAY), chain(WAH, DELAY, FUZZ)
    assert words(before, after) == [("moved", "fuzz", "behind delay")]


def test_what_comes_out_is_told_before_what_goes_in() -> None:
    assert words(chain(FUZZ, DELAY), chain(WAH, DELAY)) == [
        ("out", "fuzz", ""),
        ("new", "wah", "first"),
    ]


def test_a_pedal_put_in_between_costs_itself_and_two_cables() -> None:
    # fuzz → delay becomes fuzz → wah → delay: two connections are new (counted by hand).
    assert cost(chain(FUZZ, DELAY), chain(FUZZ, WAH, DELAY), COSTS) == 5.0 + 2 * 2.0


def test_a_pedal_taken_out_costs_itself_and_one_cable() -> None:
    assert cost(chain(FUZZ, WAH, DELAY), chain(FUZZ, DELAY), COSTS) == 5.0 + 1 * 2.0


def test_loop_amp_and_microphones_are_told_where_they_are() -> None:
    before = chain(
        amps=(AmpAsSet(input="normal", loop=(DELAY,)),), mics=(MicAsSet(return_name="close"),)
    )
    after = chain(
        amps=(AmpAsSet(input="bright", tap="8 ohm"),),
        mics=(MicAsSet(return_name="close", gain="2:00"),),
    )
    assert words(before, after) == [
        ("out", "delay", "in the loop"),
        ("turn", "", "input"),
        ("turn", "", "tap"),
        ("turn", "close", "gain"),
    ]


def test_another_amp_costs_an_amp() -> None:
    left, right = chain(amps=(AmpAsSet(name="left"),)), chain(amps=(AmpAsSet(name="right"),))
    assert words(left, right) == [("out", "left", ""), ("new", "right", "")]
    assert cost(left, right, COSTS) == 40.0


def test_everything_is_new_where_nothing_is_plugged_in() -> None:
    assert words(None, chain(FUZZ, WAH)) == [
        ("new", "fuzz", "first"),
        ("turn", "fuzz", "volume"),
        ("new", "wah", "behind fuzz"),
    ]


def test_a_microphone_nothing_is_known_of_is_set() -> None:
    gain = chain(mics=(MicAsSet(return_name="close", gain="2:00"),))
    assert words(None, gain) == [("turn", "close", "gain")]
    assert words(chain(), gain) == [("turn", "close", "gain")]


def test_what_a_chain_does_not_mention_stands_as_it_was() -> None:
    loud = chain(
        pedal("fuzz", volume="3:00", tone="5"),
        amps=(AmpAsSet(name="left", tap="8 ohm", knobs={"treble": "6"}, loop=(DELAY,)),),
        mics=(MicAsSet(return_name="close", gain="2:00"),),
    )
    then = stands(loud, chain(FUZZ, name="two"))
    assert then.name == "two"
    assert then.pedals[0].knobs == {"volume": "2:30", "tone": "5"}
    assert (then.amps, then.mics) == (loud.amps, loud.mics)
    left = AmpAsSet(name="left", knobs={"bass": "4"})
    assert stands(loud, chain(amps=(left,))).amps == (
        AmpAsSet(name="left", tap="8 ohm", knobs={"treble": "6", "bass": "4"}),
    )
    assert stands(loud, chain(amps=(AmpAsSet(name="right"),))).amps == (AmpAsSet(name="right"),)


def drawn(dice: random.Random, name: str) -> Chain:
    """Return a chain of which any part may be left unsaid."""
    names = dice.sample(["fuzz", "drive", "wah", "delay"], dice.randint(0, 3))
    knobs = {knob: str(dice.randint(0, 2)) for knob in ("level", "tone") if dice.random() < 0.7}
    amp = AmpAsSet(name=dice.choice(["left", "right"]), knobs={"treble": str(dice.randint(0, 2))})
    mic = MicAsSet(return_name="close", gain=dice.choice(["", "2:00", "3:00"]))
    return Chain(
        name=name,
        pedals=tuple(Pedal(name=one, knobs=knobs) for one in names),
        amps=(amp,) * dice.randint(0, 1),
        mics=(mic,) * dice.randint(0, 1),
    )


@pytest.mark.parametrize("seed", range(150))
def test_what_two_chains_have_in_common_costs_nothing_and_nothing_costs_less_than_that(
    seed: int,
) -> None:
    dice = random.Random(seed)  # noqa: S311 - the same chains every time
    one, two, three = (drawn(dice, name) for name in "abc")
    there = stands(one, two)
    assert changes(there, two) == ()
    assert cost(there, two, COSTS) == 0.0
    assert stands(there, two) == there
    assert bool(changes(one, two)) == (cost(one, two, COSTS) > 0.0)
    # Whatever stood there ahead of both, getting on costs at least what is known to differ.
    assert cost(there, three, COSTS) >= cost(stands(three, two), three, COSTS)


@pytest.mark.parametrize("seed", range(150))
def test_a_way_round_over_a_third_chain_is_never_cheaper(seed: int) -> None:
    dice = random.Random(seed)  # noqa: S311 - the same chains every time
    whole = [
        Chain(
            name=name,
            pedals=tuple(
                pedal(one, level=str(dice.randint(0, 2)))
                for one in dice.sample(["fuzz", "drive", "wah", "delay"], dice.randint(0, 4))
            ),
        )
        for name in "abc"
    ]
    one, two, three = whole
    way_round = cost(one, three, COSTS) + cost(three, two, COSTS)
    assert cost(one, two, COSTS) <= way_round


# ---------------------------------------------------------------- the order


def table(seed: int, count: int) -> tuple[list[float], list[list[float]]]:
    """Return costs of an evening: pedals drawn for each chain, knobs, one of two amps."""
    dice = random.Random(seed)  # noqa: S311 - the same tables every time
    names = ["fuzz", "drive", "wah", "delay", "tremolo", "compressor"]
    chains = [
        Chain(
            name=str(at),
            pedals=tuple(
                pedal(name, level=str(dice.randint(0, 3)), tone=str(dice.randint(0, 3)))
                for name in dice.sample(names, dice.randint(0, 4))
            ),
            amps=(AmpAsSet(name=dice.choice(["left", "left", "right"])),),
        )
        for at in range(count)
    ]
    between = [[cost(one, other, COSTS) for other in chains] for one in chains]
    return [cost(None, one, COSTS) for one in chains], between


@pytest.mark.parametrize("count", range(1, 9))
def test_no_order_of_up_to_eight_chains_costs_less(count: int) -> None:
    for seed in range(20 if count < 7 else 2):
        first, between = table(seed, count)
        found = ordered(first, between)
        least = min(path_cost(one, first, between) for one in itertools.permutations(range(count)))
        assert found.exact
        assert sorted(found.order) == list(range(count))
        assert found.cost == pytest.approx(least)
        assert found.cost == pytest.approx(path_cost(found.order, first, between))


def test_an_order_of_many_chains_holds_each_once_and_is_the_same_every_time() -> None:
    first, between = table(1, MOST_EXACT + 8)
    found, again = ordered(first, between), ordered(first, between)
    assert found == again
    assert not found.exact
    assert sorted(found.order) == list(range(MOST_EXACT + 8))
    assert found.cost < 0.7 * path_cost(range(MOST_EXACT + 8), first, between)


def test_hundreds_of_chains_are_ordered_in_as_many_looks_as_a_few(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("audio.plan.ordering.MOST_LOOKS", MOST_LOOKS // 20)
    dice = random.Random(5)  # noqa: S311 - the same table every time
    count = 250
    at = [(dice.random(), dice.random()) for _ in range(count)]
    between = [[abs(x - u) + abs(y - v) for u, v in at] for x, y in at]
    found = ordered([0.0] * count, between)
    assert sorted(found.order) == list(range(count))
    assert found.cost < 0.2 * path_cost(range(count), [0.0] * count, between)
    assert found == ordered([0.0] * count, between)


def test_chains_that_cost_nothing_to_change_stay_in_their_order() -> None:
    assert ordered([0.0] * 5, [[0.0] * 5] * 5).order == (0, 1, 2, 3, 4)
