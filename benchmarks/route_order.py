"""The exact order of houses against general solvers: Held-Karp here, CP-SAT, and python-tsp's exact search.

Open path, both ends free. Fails (exit 1) if any answer differs, if sixteen houses take more than three
times as long as CP-SAT, or if python-tsp is faster. python-tsp is left out beyond twelve houses: it takes minutes.
"""

from __future__ import annotations

import sys
import time

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model
from python_tsp.exact import solve_tsp_dynamic_programming

from interlock.plan.route_exact import shortest_path

PEER_MOST = 12


def booth(n: int, seed: int) -> NDArray[np.float64]:
    """Houses on a corridor and its side arms, whole frames between them."""
    place = np.random.default_rng(seed).uniform(0.0, 3000.0, (n, 2)) * [1.0, 0.3]
    return np.rint(np.abs(place[:, None] - place[None]).sum(axis=2)) + 100.0


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
    if n > PEER_MOST:
        return float("nan")
    outside = np.zeros((n + 1, n + 1))
    outside[1:, 1:] = cost  # a stop more that costs nothing opens the tour
    return float(solve_tsp_dynamic_programming(outside)[1])


def main() -> int:
    bad = False
    print("houses    here   CP-SAT   python-tsp   (median of five booths)")
    for n in (8, 10, 12, 14, 16, 18):
        took: list[list[float]] = [[], [], []]
        for seed in range(5):
            cost = booth(n, seed)
            answers = []
            for k, solver in enumerate((held_karp, cp_sat, python_tsp)):
                start = time.perf_counter()
                answers.append(solver(cost))
                took[k].append(time.perf_counter() - start)
            bad |= any(not np.isnan(a) and round(a) != round(answers[0]) for a in answers)
        here, sat, peer = (float(np.median(t)) for t in took)
        bad |= (n == 16 and here > 3.0 * sat) or (n <= PEER_MOST and here > peer)
        shown = f"{peer * 1e3:9.1f} ms" if n <= PEER_MOST else "        –"
        print(f"{n:>6} {here * 1e3:7.1f} ms {sat * 1e3:7.1f} ms {shown}")
    return int(bad)


if __name__ == "__main__":
    sys.exit(main())
