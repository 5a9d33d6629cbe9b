"""The exact order of houses against general solvers: Held-Karp here, CP-SAT, and python-tsp's exact search.

Open path, both ends free, five booths. python-tsp is asked for twelve houses: sixteen take it minutes. CP-SAT works with as
many threads as there are cores, so here seconds of life are counted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model
from python_tsp.exact import solve_tsp_dynamic_programming

from benchmarks._row import Row, beside, interleaved, run, wall_s
from interlock.plan.route_exact import shortest_path

Solver: TypeAlias = Callable[[NDArray[np.float64]], float]
BOOTHS = 5
ROUNDS = 3


def booth(n: int, seed: int) -> NDArray[np.float64]:
    """Houses on a corridor and its side arms, whole frames between them."""
    place = np.random.default_rng(seed).uniform(0.0, 3000.0, (n, 2)) * [1.0, 0.3]
    apart: NDArray[np.float64] = np.rint(np.abs(place[:, None] - place[None]).sum(axis=2)) + 100.0
    return apart


def held_karp(cost: NDArray[np.float64]) -> float:
    path = shortest_path(cost)
    assert path is not None
    return path.cost


def cp_sat(cost: NDArray[np.float64]) -> float:
    n = len(cost)
    model = cp_model.CpModel()
    used = {(i, j): model.new_bool_var("") for i in range(n + 1) for j in range(n + 1) if i != j}
    model.add_circuit([(i, j, b) for (i, j), b in used.items()])
    model.minimize(sum(int(cost[i, j]) * b for (i, j), b in used.items() if i < n and j < n))
    solver = cp_model.CpSolver()
    status = solver.solve(model)
    assert status == cp_model.OPTIMAL
    return solver.objective_value


def python_tsp(cost: NDArray[np.float64]) -> float:
    n = len(cost)
    outside = np.zeros((n + 1, n + 1))
    outside[1:, 1:] = cost  # a stop more that costs nothing opens the tour
    return float(solve_tsp_dynamic_programming(outside)[1])


def side_by_side(n: int, peer: str, solver: Solver, at_least: float, target: str) -> Row:
    """``n`` houses, ms a booth."""
    booths = [booth(n, seed) for seed in range(BOOTHS)]
    answers: dict[str, list[int]] = {}

    def timed(name: str, solve: Solver) -> Callable[[], float]:
        def once() -> float:
            return wall_s(lambda: answers.update({name: [round(solve(b)) for b in booths]})) / BOOTHS * 1e3

        return once

    took = interleaved({"ours": timed("ours", held_karp), "theirs": timed("theirs", solver)}, ROUNDS)
    if answers["ours"] != answers["theirs"]:
        raise AssertionError(f"not the same routes: {answers}")
    return beside(
        f"route, {n} houses exact", "ms", took["ours"], peer, took["theirs"], at_least=at_least, target=target
    )


def measure() -> Iterator[Row]:
    yield side_by_side(12, "python-tsp", python_tsp, 1.0, "ahead")
    yield side_by_side(16, "ortools CP-SAT", cp_sat, 1 / 3, "within 3 times its time")


if __name__ == "__main__":
    run(measure)
