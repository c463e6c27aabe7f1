"""Each process killed once in mid-pass, and the power failed: the few moments CI has time for.

The whole matrix, a hundred moments for each, is `tests/benchmarks/bench_kills.py`.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from kills import adding
from kills.passes import Attempt, Ground, after_power_failure, attempt, prepare
from kills.points import AtOperation, Moment, PowerFailure, drawn
from needs import needs_samples

pytestmark = [needs_samples(), pytest.mark.slow]

SEED = 20
KILLED = "passes/riff/002"


@pytest.fixture(scope="module")
def ground(tmp_path_factory: pytest.TempPathFactory) -> Ground:
    return prepare(tmp_path_factory.mktemp("ground"))


def survived(one: Attempt | adding.Added) -> bool:
    assert one.found.wrong == [], one.moment
    assert (one.found.frames_lost, one.processes_left, one.hung) == (0, 0, 0), one.moment
    return True


@pytest.mark.parametrize(
    "moment",
    [
        AtOperation("face", "link", f"{KILLED}/.variant.json.tmp", 1, "before"),
        AtOperation("engine", "write", f"{KILLED}/riff_002_plain_close.wav", 9, "half"),
        AtOperation("engine", "open", f"{KILLED}/witness.wav", 1, "after"),
    ],
    ids=str,
)
def test_a_process_killed_at_one_of_its_operations_costs_nothing(
    ground: Ground, tmp_path: Path, moment: Moment
) -> None:
    kinds = {(kind[0], kind[1], kind[2]) for kind in ground.notes}
    assert isinstance(moment, AtOperation)
    assert (moment.role, moment.operation, moment.name) in kinds
    assert survived(attempt(ground, moment, tmp_path / "evening"))


@pytest.mark.parametrize("role", ["face", "worker", "all"])
def test_a_process_killed_at_any_time_costs_nothing(
    ground: Ground, tmp_path: Path, role: str
) -> None:
    rng = np.random.default_rng(SEED)
    moments = drawn(ground.notes, role, moments=2, lasts_s=ground.lasts_s, rng=rng)
    assert survived(attempt(ground, moments[1], tmp_path / "evening"))


@pytest.mark.parametrize("share", [0.45, 0.7])
def test_a_power_failure_costs_what_was_not_handed_to_the_disk_and_nothing_else(
    ground: Ground, tmp_path: Path, share: float
) -> None:
    step = round(share * len(ground.disk.steps))
    failure = PowerFailure(step, SEED)
    assert survived(after_power_failure(ground, failure, tmp_path / "evening"))


def test_a_session_that_was_being_made_is_whole_or_is_not(tmp_path: Path) -> None:
    (kind,) = [one for one in adding.KINDS if one.name == "new"]
    sounds = adding.prepare(tmp_path / "ground")
    moments = adding.moments(kind, sounds, tmp_path / "noted")
    for number, share in enumerate((0.2, 0.6, 0.95)):
        moment = moments[int(share * len(moments))]
        assert survived(adding.attempt(kind, sounds, moment, tmp_path / str(number) / "evening"))
