"""The order of more houses than an exact search over sets can hold, by a general solver (the extra
``route``)."""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from typing import Any

import numpy as np

from interlock.errors import UsageError, needs_extra
from interlock.plan.route_exact import MOST_HOUSES, Array

TIME_LIMIT_S = 30.0
_GRAIN = 1000  # the solver reckons in whole numbers: thousandths of a frame
_MOST = 2**53


@dataclass(frozen=True, slots=True)
class Solved:
    """An order of houses by their numbers. ``proven``: no other is better; else none better was found in
    time."""

    order: tuple[int, ...]
    proven: bool


def solve(cost: Array, begin: Array, end: Array, time_limit_s: float = TIME_LIMIT_S) -> Solved | None:
    """The cheapest order found, None if there is none. Arguments as for ``route_exact.shortest_path``.

    A circuit over the houses and one stop more, the outside: the path begins and ends there.
    Raises ``UsageError`` where the solver is not installed or has found nothing in time.
    """
    cp_model = _cp_model(len(cost))
    n = len(cost)
    model = cp_model.CpModel()
    arcs: list[tuple[int, int, Any]] = []
    prices: list[int] = []
    for i in range(n):
        for j in range(n):
            if i != j and np.isfinite(cost[i, j]):
                arcs.append((i, j, model.new_bool_var("")))
                prices.append(_whole(cost[i, j]))
        if np.isfinite(begin[i]):
            arcs.append((n, i, model.new_bool_var("")))
            prices.append(_whole(begin[i]))
        if np.isfinite(end[i]):
            arcs.append((i, n, model.new_bool_var("")))
            prices.append(_whole(end[i]))
    model.add_circuit(arcs)
    model.minimize(cp_model.LinearExpr.weighted_sum([used for _, _, used in arcs], prices))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = time_limit_s
    solver.parameters.random_seed = 1
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        raise UsageError(
            f"no order of {n} houses was found within {time_limit_s:.0f} s: forbid less, or fix the ends"
        )
    after = {i: j for i, j, used in arcs if solver.boolean_value(used)}
    order: list[int] = []
    at = after[n]
    while at != n:
        order.append(at)
        at = after[at]
    return Solved(tuple(order), proven=status == cp_model.OPTIMAL)


def _cp_model(n: int) -> Any:
    try:
        return importlib.import_module("ortools.sat.python.cp_model")
    except ImportError as error:
        raise UsageError(needs_extra(f"{n} houses: an order of more than {MOST_HOUSES}", "route")) from error


def _whole(cost: float) -> int:
    return min(round(cost * _GRAIN), _MOST)
