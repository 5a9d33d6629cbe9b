"""Which numbers of a series have arrived: all up to a floor, and ranges above it."""

from __future__ import annotations

from bisect import bisect_right


class Numbers:
    """``floor``: every number up to it has arrived, or never will."""

    def __init__(self, floor: int) -> None:
        self.floor = floor
        self._ranges: list[list[int]] = []  # [first, last] above the floor, apart from each other, rising

    @property
    def highest(self) -> int:
        """The highest that has arrived."""
        return self._ranges[-1][1] if self._ranges else self.floor

    def add(self, n: int) -> bool:
        """``n`` has arrived. False if it had before."""
        if n <= self.floor:
            return False
        k = bisect_right(self._ranges, n, key=lambda r: r[0])
        if k and n <= self._ranges[k - 1][1]:
            return False
        if k and self._ranges[k - 1][1] == n - 1:
            self._ranges[k - 1][1] = n
            if k < len(self._ranges) and self._ranges[k][0] == n + 1:
                self._ranges[k - 1][1] = self._ranges.pop(k)[1]
        elif k < len(self._ranges) and self._ranges[k][0] == n + 1:
            self._ranges[k][0] = n
        else:
            self._ranges.insert(k, [n, n])
        self._settle()
        return True

    def gone_below(self, first: int) -> int:
        """Nothing below ``first`` will come any more. How many of them never arrived."""
        if first <= self.floor + 1:
            return 0
        arrived = sum(max(0, min(b, first - 1) - a + 1) for a, b in self._ranges)
        missing = first - 1 - self.floor - arrived
        self._ranges = [[max(a, first), b] for a, b in self._ranges if b >= first]
        self.floor = first - 1
        self._settle()
        return missing

    def gap(self, last: int) -> tuple[int, int] | None:
        """The lowest run of numbers up to ``last`` that has not arrived."""
        end = self._ranges[0][0] - 1 if self._ranges else last
        return (self.floor + 1, end) if end > self.floor else None

    def _settle(self) -> None:
        while self._ranges and self._ranges[0][0] <= self.floor + 1:
            self.floor = max(self.floor, self._ranges.pop(0)[1])
