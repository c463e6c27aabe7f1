"""Attacks are found the same however the music comes in pieces."""

from __future__ import annotations

import numpy as np
from needs import needs_samples
from playing import phrase

from audio.measure.attacks import RunningAttacks


def found(pieces: list[np.ndarray]) -> list[tuple[int, float]]:
    running = RunningAttacks(rate=48_000)
    attacks = [one for piece in pieces for one in running.feed(piece)]
    return attacks + running.finish()


@needs_samples()
def test_pieces_of_any_size_give_the_same_attacks() -> None:
    music = phrase(rate=48_000, seconds=3.0, seed=3)
    whole = found([music])
    assert len(whole) >= 3
    for cuts in ([48_000, 48_003], [5, 10, 90_000], [100_000, 100_001, 100_002]):
        assert [at for at, _ in found(np.split(music, cuts))] == [at for at, _ in whole]


def test_a_piece_too_short_to_tell_anything_is_waited_for() -> None:
    assert found([np.full(48_000, 0.1), np.full(3, 0.1)]) == found([np.full(48_003, 0.1)])
