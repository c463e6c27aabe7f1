"""Whether the order of chains replugs least: against all orders up to eight, against a solver for thirty.

Evenings are drawn from seed 21,000 on (the heuristic was written on seeds below 4000): a pool of
eight pedals in any order, knobs in one of four places, one of two amps. Up to eight chains the cost must
be that of the best of all orders. For thirty the best known is what OR-tools' CP-SAT finds for the same
open path in a minute on two threads (its bound stands beside it): goal within 5 %. Beside them the order
written, and how long finding takes.
"""

from __future__ import annotations

import itertools
import random
import time

import report
from ortools.sat.python import cp_model

from audio.plan.ordering import ordered, path_cost
from audio.plan.replug import cost
from audio.vocab.chain import AmpAsSet, Chain, Pedal
from audio.vocab.plan import Costs

FIRST_SEED = 21_000
SMALL, SHORT_SMALL = 400, 40
LARGE, SHORT_LARGE = 20, 2
CHAINS = 30
SOLVER_S = 60.0
POOL = ("fuzz", "drive", "wah", "delay", "tremolo", "compressor", "reverb", "boost")
GRAIN = 10
"""Costs are whole tenths of a point: the solver takes whole numbers only."""

Table = tuple[list[float], list[list[float]]]


def main() -> None:
    """Print the figures."""
    said = report.options(__doc__).parse_args()
    few, many = (SHORT_SMALL, SHORT_LARGE) if said.short else (SMALL, LARGE)
    report.conditions(f"{few} evenings of up to 8 chains, {many} of {CHAINS}, seed {FIRST_SEED}")
    against_all_orders(few)
    against_a_solver(many)


def against_all_orders(count: int) -> None:
    """Compare with the best of all orders."""
    wrong = 0
    for seed in range(FIRST_SEED, FIRST_SEED + count):
        first, between = table(seed, 2 + seed % 7)
        every = itertools.permutations(range(len(first)))
        least = min(path_cost(one, first, between) for one in every)
        wrong += abs(ordered(first, between).cost - least) > 1e-9
    report.figure("up to eight chains, dearer than need be", f"{wrong} of {count}", "0", wrong == 0)


def against_a_solver(count: int) -> None:
    """Compare with what a solver knows."""
    over, gaps, saved, seconds = [], [], [], []
    for seed in range(FIRST_SEED + 1000, FIRST_SEED + 1000 + count):
        first, between = table(seed, CHAINS)
        began = time.perf_counter()
        found = ordered(first, between)
        seconds.append(time.perf_counter() - began)
        known, bound = solved(first, between, found.order)
        over.append(found.cost / known - 1.0)
        gaps.append(known / bound - 1.0)
        saved.append(1.0 - found.cost / path_cost(range(CHAINS), first, between))
    worst = max(over)
    report.figure("thirty chains, over the best known, worst", f"{worst:.2%}", "5 %", worst <= 0.05)
    report.figure("the same, on average", f"{sum(over) / count:.2%}")
    report.figure("best known over its proven bound, worst", f"{max(gaps):.2%}")
    report.figure("saved against the order written, least", f"{min(saved):.0%}")
    report.figure("time to find it, longest", f"{max(seconds):.2f} s")


def table(seed: int, count: int) -> Table:
    """Return what it costs to get to each chain, and from each to each."""
    dice = random.Random(seed)  # noqa: S311 - the same evenings every time
    chains = [chain(dice, at) for at in range(count)]
    costs = Costs()
    between = [[cost(one, other, costs) for other in chains] for one in chains]
    return [cost(None, one, costs) for one in chains], between


def chain(dice: random.Random, at: int) -> Chain:
    """Return one sound of an evening."""
    names = dice.sample(POOL, dice.randint(0, 5))
    pedals = tuple(
        Pedal(
            name=name, knobs={knob: str(dice.randint(0, 3)) for knob in ("level", "tone", "time")}
        )
        for name in names
    )
    amp = AmpAsSet(
        name=dice.choice(["left", "left", "right"]), knobs={"treble": str(dice.randint(0, 2))}
    )
    return Chain(name=str(at), pedals=pedals, amps=(amp,))


def solved(
    first: list[float], between: list[list[float]], hint: tuple[int, ...]
) -> tuple[float, float]:
    """Return the cheapest path a solver finds, and the least that any path can cost."""
    count, model = len(first), cp_model.CpModel()
    arcs, terms, start = [], [], count
    follows = dict(itertools.pairwise((start, *hint, start)))
    for a in range(count + 1):
        for b in range(count + 1):
            if a == b:
                continue
            used = model.new_bool_var(f"{a} {b}")
            model.add_hint(used, follows[a] == b)
            arcs.append((a, b, used))
            points = 0.0 if b == start else first[b] if a == start else between[a][b]
            terms.append(round(points * GRAIN) * used)
    model.add_circuit(arcs)
    model.minimize(sum(terms))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = SOLVER_S
    solver.parameters.num_workers = 2
    solver.solve(model)
    return solver.objective_value / GRAIN, solver.best_objective_bound / GRAIN


if __name__ == "__main__":
    main()
