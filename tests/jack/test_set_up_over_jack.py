"""`secondpass set` through the installed command over a real audio server: states named for what they are.

JACK's dummy driver, real processes, real PortAudio, a room client in which one thing is wrong
(`jackroom.states`). Cables that an engineer would move are moved by the rig. The whole table is
``bench_set_up_over_jack.py``.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from jackroom.rig import JackRoom
from jackroom.set_up import SENDS, Desk, called, codes, sent
from jackroom.states import State, room_in
from needs import needs_jack, needs_samples

pytestmark = [needs_jack(), needs_samples(), pytest.mark.slow]


@pytest.fixture
def desk(tmp_path: Path, jack_room: Callable[..., JackRoom]) -> Callable[[State], Desk]:
    def make(state: State) -> Desk:
        return Desk(tmp_path, jack_room(rate=48_000, period=512, **room_in(state)))

    return make


@pytest.mark.parametrize("state", ["hum at 60", "wrong input"])
def test_the_state_of_the_room_is_named(desk: Callable[[State], Desk], state: State) -> None:
    outcomes = desk(state).set("wire", "silence", "polarity")
    assert called(outcomes) == state, outcomes


def test_one_dead_leg_is_named_and_read_to_a_tenth_of_a_decibel(
    desk: Callable[[State], Desk],
) -> None:
    outcome = sent(desk("one leg dead"))
    assert outcome["result"]["difference_db"] == pytest.approx(SENDS["one leg dead"], abs=0.1)
    assert "one-leg-dead" in codes({"send level": outcome})
