"""The shortest order of houses against published instances, another solver, and trying them all."""

from __future__ import annotations

import itertools
import math
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from route_tsplib import distances

from interlock.errors import UsageError
from interlock.plan.route_exact import shortest_by_last, shortest_path
from interlock.plan.route_solver import solve

# reference.md, "Shortest order of houses": tour [P] (TSPLIB's optima), path from the first to the last node [C].
INSTANCES = [("burma14", 3323, 3054), ("ulysses16", 6859, 6759), ("gr17", 2085, 2002)]


def only(n: int, k: int) -> NDArray[np.float64]:
    ends = np.full(n, np.inf)
    ends[k] = 0.0
    return ends


@pytest.mark.parametrize(("name", "tour", "path"), INSTANCES)
def test_published_instances_come_out_at_their_optima(name: str, tour: int, path: int) -> None:
    cost = distances(name)
    n = len(cost)
    # A tour is a path from the first node that pays for its way home.
    home = np.where(np.arange(n) == 0, np.inf, cost[:, 0])
    round_trip = shortest_path(cost, only(n, 0), home)
    through = shortest_path(cost, only(n, 0), only(n, n - 1))
    assert round_trip is not None
    assert through is not None
    assert round_trip.cost == tour
    assert through.cost == path
    assert (through.order[0], through.order[-1]) == (0, n - 1)
    assert sum(cost[a, b] for a, b in itertools.pairwise(through.order)) == path


@pytest.mark.parametrize(("name", "tour", "path"), INSTANCES)
def test_a_general_solver_gives_the_same_paths(name: str, tour: int, path: int) -> None:
    """[C] ortools, CP-SAT with a circuit constraint (written here anew, not the program's own use of it)."""
    cp_model = pytest.importorskip("ortools.sat.python.cp_model")
    cost = distances(name)
    n = len(cost)
    for want, fixed in ((tour, False), (path, True)):
        model = cp_model.CpModel()
        used = {(i, j): model.new_bool_var("") for i in range(n) for j in range(n) if i != j}
        model.add_circuit([(i, j, b) for (i, j), b in used.items()])
        if fixed:  # the way home from the last to the first node is taken, and costs nothing
            model.add(used[n - 1, 0] == 1)
        model.minimize(
            sum(int(cost[i, j]) * b for (i, j), b in used.items() if not fixed or (i, j) != (n - 1, 0))
        )
        solver = cp_model.CpSolver()
        assert solver.solve(model) == cp_model.OPTIMAL
        assert solver.objective_value == want


def brute(cost: NDArray[np.float64], begin: NDArray[np.float64], end: NDArray[np.float64]) -> float:
    return min(
        float(begin[p[0]] + sum(cost[a, b] for a, b in itertools.pairwise(p)) + end[p[-1]])
        for p in itertools.permutations(range(len(cost)))
    )


whole = st.one_of(st.just(math.inf), st.integers(0, 40).map(float))


@given(n=st.integers(1, 7), data=st.data())
@settings(deadline=None, max_examples=60)
def test_it_is_what_trying_every_order_finds_with_forbidden_ways_and_either_end_free_or_fixed(
    n: int, data: st.DataObject
) -> None:
    cost = np.array(data.draw(st.lists(st.lists(whole, min_size=n, max_size=n), min_size=n, max_size=n)))
    begin = np.array(data.draw(st.lists(whole, min_size=n, max_size=n)))
    end = np.array(data.draw(st.lists(whole, min_size=n, max_size=n)))
    want = brute(cost, begin, end)
    path = shortest_path(cost, begin, end)
    if math.isinf(want):
        assert path is None
        return
    assert path is not None
    assert path.cost == want
    assert sorted(path.order) == list(range(n))
    along = (
        begin[path.order[0]]
        + sum(cost[a, b] for a, b in itertools.pairwise(path.order))
        + end[path.order[-1]]
    )
    assert along == want


def test_eight_houses_are_what_trying_every_order_finds() -> None:
    cost = np.random.default_rng(8).integers(1, 200, (8, 8)).astype(float)
    path = shortest_path(cost)
    assert path is not None
    assert path.cost == brute(cost, np.zeros(8), np.zeros(8))


def test_the_best_for_each_last_house_is_the_best_with_that_end_fixed() -> None:
    cost = np.random.default_rng(3).integers(1, 200, (9, 9)).astype(float)
    for last, path in enumerate(shortest_by_last(cost)):
        fixed = shortest_path(cost, None, only(9, last))
        assert path is not None
        assert fixed is not None
        assert path.cost == fixed.cost
        assert path.order[-1] == last


def test_more_than_eighteen_houses_are_refused_by_the_exact_search() -> None:
    with pytest.raises(ValueError, match="18"):
        shortest_path(np.ones((19, 19)))


def test_the_general_solver_finds_the_exact_searchs_optimum_and_says_that_it_is_proven() -> None:
    cost = np.random.default_rng(5).integers(10, 400, (12, 12)).astype(float)
    exact = shortest_path(cost, only(12, 4))
    solved = solve(cost, only(12, 4), np.zeros(12))
    assert exact is not None
    assert solved is not None
    assert solved.proven
    assert solved.order[0] == 4
    assert sum(cost[a, b] for a, b in itertools.pairwise(solved.order)) == exact.cost


def test_the_general_solver_says_when_there_is_no_order() -> None:
    cost = np.full((4, 4), np.inf)
    assert solve(cost, np.zeros(4), np.zeros(4)) is None


def test_without_the_solver_installed_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "ortools.sat.python.cp_model", None)
    with pytest.raises(UsageError, match=r"19 houses.*extra `route`"):
        solve(np.ones((19, 19)), np.zeros(19), np.zeros(19))
