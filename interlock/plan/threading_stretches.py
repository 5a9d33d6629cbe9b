"""The fewest stretches that keep the pull under a limit.

A leader can begin and end only at a *station*: a house from which one threads, a make-up table, a deck.
The pull only grows along a stretch, and a stretch that begins later pulls no harder; so taking each
stretch as long as it can be gives the fewest (a stretch of any other choice ends no further on).
From the far end back, because that is how they are threaded.
"""

from __future__ import annotations

import math

import msgspec

from interlock.plan.threading_pull import Step, end_pull


class Path(msgspec.Struct, frozen=True):
    """A whole path: ``gaps[i]`` is what lies between stations i and i+1, ``passing[i]`` what a leader meets
    that goes on past station i (nothing at a table, the open machine at a house)."""

    gaps: tuple[tuple[Step, ...], ...]
    passing: tuple[tuple[Step, ...], ...]
    start_n: float

    def steps(self, begin: int, end: int) -> tuple[Step, ...]:
        """Everything that a leader meets from station ``begin`` to station ``end``."""
        steps = list(self.gaps[begin])
        for i in range(begin + 1, end):
            steps += self.passing[i]
            steps += self.gaps[i]
        return tuple(steps)

    def pull_n(self, begin: int, end: int) -> float:
        """The pull at the head of the stretch between two stations."""
        return end_pull(self.steps(begin, end), self.start_n)


def count_stretches(path: Path, limit_n: float) -> int:
    """How many stretches the path takes at least; cheap, because it needs each step but once or twice."""
    count, begin, pull_n = 0, True, path.start_n
    for i, gap in enumerate(path.gaps):
        on_n = pull_n if begin else end_pull(path.passing[i] + gap, pull_n)
        if begin or on_n > limit_n:
            count, on_n = count + 1, end_pull(gap, path.start_n)
        # A gap over the limit is a stretch by itself.
        begin, pull_n = on_n > limit_n, on_n
    return count


def fewest_stretches(path: Path, limit_n: float) -> list[tuple[int, int]]:
    """(begin, end) stations of as few stretches as keep under ``limit_n``, in film order.

    A gap that no choice keeps under it is a stretch by itself, over the limit. Of the ways with as few,
    one whose hardest pull is least, so that nobody pulls harder than the number of joins asks for.
    """
    if count_stretches(path, limit_n) == 1:
        return [(0, len(path.gaps))]
    rows = [_pulls_from(path, begin, limit_n) for begin in range(len(path.gaps))]
    best = _greedy(rows, limit_n)
    # What can be pulled at all: no target may lie under the hardest of the gaps that are pulled somehow.
    least_n = max((row[0] for row in rows if row[0] <= limit_n), default=math.inf)
    worst_n = max((rows[a][b - a - 1] for a, b in best if rows[a][b - a - 1] <= limit_n), default=-math.inf)
    candidates = sorted({pull for row in rows for pull in row if least_n <= pull < worst_n})
    low, high = 0, len(candidates)
    while low < high:
        middle = (low + high) // 2
        found = _greedy(rows, candidates[middle])
        if len(found) == len(best):
            best, high = found, middle
        else:
            low = middle + 1
    return best


def _pulls_from(path: Path, begin: int, limit_n: float) -> list[float]:
    """The pulls at the heads of the stretches that begin at ``begin``, the nearest end first.

    The first, whatever it is, and on while they keep under the limit: then they only grow.
    """
    pulls = [end_pull(path.gaps[begin], path.start_n)]
    for i in range(begin + 1, len(path.gaps)):
        pull_n = end_pull(path.passing[i] + path.gaps[i], pulls[-1])
        if not pull_n <= limit_n:
            break
        pulls.append(pull_n)
    return pulls


def _greedy(rows: list[list[float]], target_n: float) -> list[tuple[int, int]]:
    """From the far end back, each stretch as long as it keeps under ``target_n``; at least one gap."""
    found: list[tuple[int, int]] = []
    end = len(rows)
    while end > 0:
        begin = end - 1
        while begin > 0 and len(rows[begin - 1]) > end - begin and rows[begin - 1][end - begin] <= target_n:
            begin -= 1
        found.append((begin, end))
        end = begin
    return found[::-1]
