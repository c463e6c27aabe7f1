"""A run killed twice and gone on with ends as one nobody disturbed.

Twenty moments, and three parts through six chains: `tests/benchmarks/bench_run.py`.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from kills.points import AtOperation, AtTime, Moment
from kills.runs import Ground, attempt, prepare
from needs import needs_samples

pytestmark = [needs_samples(), pytest.mark.slow]

UNNAMED = AtOperation("face", "link", "passes/part-1/001/.variant.json.tmp", 1, "before")
"""The pass is judged anew, without its closing click: a look, so its line is played once more."""


@pytest.fixture(scope="module")
def ground(tmp_path_factory: pytest.TempPathFactory) -> Ground:
    return prepare(tmp_path_factory.mktemp("ground"), parts=2, chains=1)


@pytest.mark.parametrize("moment", [UNNAMED, AtTime("all", 1.2)], ids=str)
def test_a_killed_run_that_is_gone_on_with_ends_as_one_nobody_disturbed(
    ground: Ground, tmp_path: Path, moment: Moment
) -> None:
    if isinstance(moment, AtOperation):
        assert (moment.role, moment.operation, moment.name) in ground.notes
    one = attempt(ground, moment, tmp_path / "evening")
    assert one.found.wrong == []
    assert one.died, "the kill met nothing"
    assert (one.processes_left, one.hung) == (0, 0)
