"""The shortest order in which all houses are visited once: exact, by Held and Karp's recursion over sets.

``best(S, j)``: the least cost of a path that visits just the houses of S and ends at j. From the sets of k
houses those of k + 1 follow; the sets of one size are done together, as columns of numbers. The cost doubles
with every house: sixteen take a fraction of a second, eighteen some tens of megabytes.

Reference: Held, Karp, "A dynamic programming approach to sequencing problems", J. SIAM 10 (1962) [M].
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]

MOST_HOUSES = 18
_EQUAL = 1e-12


@dataclass(frozen=True, slots=True)
class Path:
    """An order of houses, by their numbers, and what it costs."""

    order: tuple[int, ...]
    cost: float


def shortest_path(cost: Array, begin: Array | None = None, end: Array | None = None) -> Path | None:
    """The cheapest order, or None if there is none. Of equal ones, that which begins at the lower number.

    ``cost`` (n, n): from house (row) to house (column), infinite where that link cannot be made; the
    diagonal is not read. ``begin``, ``end`` (n,): what it costs to begin and to end at a house, infinite
    where that must not be. Raises ``ValueError`` for more than :data:`MOST_HOUSES` houses.
    """
    paths = shortest_by_last(cost, begin, end)
    possible = [p for p in paths if p is not None]
    if not possible:
        return None
    least = min(p.cost for p in possible)
    # The same path backwards often costs the same but for the last bits of its sum.
    return min((p for p in possible if p.cost <= least + _EQUAL * max(1.0, least)), key=lambda p: p.order)


def shortest_by_last(cost: Array, begin: Array | None = None, end: Array | None = None) -> list[Path | None]:
    """For each house, the cheapest order that ends there. Arguments as for :func:`shortest_path`."""
    n = len(cost)
    if n > MOST_HOUSES:
        raise ValueError(f"more than {MOST_HOUSES} houses are too many for an exact search over sets")
    cost = np.array(cost, dtype=np.float64)
    np.fill_diagonal(cost, np.inf)
    end = np.zeros(n) if end is None else end
    table = _table(cost, np.zeros(n) if begin is None else begin)
    full = 2**n - 1
    found: list[Path | None] = []
    for last in range(n):
        total = float(table[last, full] + end[last])
        found.append(Path(_backwards(table, cost, last), total) if np.isfinite(total) else None)
    return found


def _table(cost: Array, begin: Array) -> Array:
    """``[j, S]``: best(S, j), S as bits; infinite where j is not in S."""
    n = len(cost)
    table = np.full((n, 2**n), np.inf)
    for j in range(n):
        table[j, 1 << j] = begin[j]
    sizes = np.bitwise_count(np.arange(2**n, dtype=np.uint64))
    by_size = np.argsort(sizes, kind="stable")
    starts = np.searchsorted(sizes[by_size], np.arange(n + 2))
    for size in range(1, n):
        before = by_size[starts[size] : starts[size + 1]]
        columns = np.take(table, before, axis=1)  # (n, sets of this size)
        for j in range(n):
            without = np.flatnonzero((before >> j) & 1 == 0)
            reached = np.take(columns, without, axis=1)
            reached += cost[:, j, None]
            table[j, before[without] | (1 << j)] = reached.min(axis=0)
    return table


def _backwards(table: Array, cost: Array, last: int) -> tuple[int, ...]:
    """The order that reached ``last`` with every house visited."""
    visited = table.shape[1] - 1
    order = [last]
    while len(order) < len(cost):
        visited ^= 1 << order[-1]
        order.append(int(np.argmin(table[:, visited] + cost[:, order[-1]])))
    return tuple(reversed(order))
