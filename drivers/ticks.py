"""Dates an adapter's ticks: its own milliseconds become desk seconds.

Every line is a pair (tick, receipt). Receipt − tick is the offset between the two clocks, plus what
the line spent on its way, which is never negative and often tens of milliseconds. So the truth lies
along the *lower convex hull* of these points over the last two minutes: the map is the hull's edge
under the mean of all ticks, which is the line below all points that is closest to them on the whole
(a linear programme with that solution). It follows a crystal that is off, and it is not moved by late lines.

Ticks are 32 bits and wrap after 49.7 days; they are unwrapped against the newest one.

No steps: seconds given for one life never run against its ticks. The newest tick that was dated is
held with its second; a later tick is dated no earlier, an earlier tick no later. A correction of the map
therefore shows as a short standstill of the dates, never as a step back. (Between ticks that are both
older than the newest one the map alone decides.)
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import deque

TICK_MODULUS = 1 << 32
WINDOW_S = 120.0
BLOCK_S = 10.0
"""The window moves in steps of this, so that a point costs the same however many there are."""

FIRST_RATE = 300e-6
"""A crystal is within this (share) of its nominal rate; what is believed until the window says more."""
KNOWN_RATE = 20e-6
"""How far it moves from what was once measured over ``SETTLED_S``: temperature, supply."""
FREE_RATE = 0.02
"""With ``TRUSTED_S`` of points the window is believed: even an adapter without a crystal is followed."""
TRUSTED_S = 30.0
SETTLED_S = 60.0

_Point = tuple[float, float]  # tick in s, receipt − tick in s


def signed_ms(later: int, earlier: int) -> int:
    """``later`` − ``earlier`` of two 32-bit ticks, the short way round: −2³¹ … 2³¹ − 1."""
    return (later - earlier + (TICK_MODULUS >> 1)) % TICK_MODULUS - (TICK_MODULUS >> 1)


class TickClock:
    """The map of one adapter's ticks onto desk seconds."""

    def __init__(self) -> None:
        self._prior = 0.0
        self._measured = False
        self.reset()

    def reset(self) -> None:
        """The adapter began anew: its ticks mean nothing of what they meant. Its crystal is the same."""
        self.known = False
        self._newest = 0  # ms, unwrapped
        self._hull: list[_Point] = []
        self._blocks: deque[_Block] = deque()
        self._count = 0
        self._sum_s = 0.0
        self._x_s = self._y_s = self._rate = 0.0
        self._held: tuple[int, float] | None = None

    def step_ms(self, tick: int) -> int:
        """How far ``tick`` is from the newest one; negative is back. 0 before the first."""
        return signed_ms(tick, self._newest % TICK_MODULUS) if self.known else 0

    def feed(self, tick: int, at_s: float) -> None:
        """A line of ``tick`` came in at desk second ``at_s``. Amortised constant time."""
        ms = self._newest + self.step_ms(tick) if self.known else tick
        if self.known and ms < self._newest:
            return  # a fact told late says nothing about the way that a line of now takes
        x_s = ms / 1000.0
        point = (x_s, at_s - x_s)
        if self.known and ms == self._newest and point[1] >= self._hull[-1][1]:
            return
        self._newest, self.known = ms, True
        if not self._blocks or x_s - self._blocks[-1].start_s >= BLOCK_S:
            self._blocks.append(_Block(x_s))
            self._expire(x_s)
        _push(self._hull, point)
        block = self._blocks[-1]
        _push(block.hull, point)
        block.count += 1
        block.sum_s += x_s
        self._count += 1
        self._sum_s += x_s
        self._fit()

    def raw_s(self, tick: int) -> float:
        """The map itself, without the hold; ``tick`` within 24 days of the newest. Needs a first line."""
        return self._map(self._newest + self.step_ms(tick))

    def to_s(self, tick: int) -> float:
        """The desk second of ``tick``, never against the order of ticks already dated. Needs a first line."""
        ms = self._newest + self.step_ms(tick)
        at_s = self._map(ms)
        if self._held is not None and ms < self._held[0]:
            return min(at_s, self._held[1])
        if self._held is not None:
            at_s = max(at_s, self._held[1])
        self._held = (ms, at_s)
        return at_s

    @property
    def rate_ppm(self) -> float:
        """How much longer than a millisecond the adapter's ticks are, in millionths."""
        return self._rate * 1e6

    def _map(self, ms: int) -> float:
        x_s = ms / 1000.0
        return x_s + self._y_s + self._rate * (x_s - self._x_s)

    def _expire(self, now_s: float) -> None:
        """Let go of what is older than the window, in whole blocks, and join the hulls of the others."""
        if now_s - self._blocks[0].start_s < WINDOW_S + BLOCK_S:
            return
        while now_s - self._blocks[0].start_s >= WINDOW_S + BLOCK_S:
            gone = self._blocks.popleft()
            self._count -= gone.count
        self._sum_s = math.fsum(b.sum_s for b in self._blocks)
        self._hull = []
        for block in self._blocks:
            for point in block.hull:
                _push(self._hull, point)

    def _fit(self) -> None:
        """The hull's edge under the mean tick, its slope kept within what a crystal can do."""
        hull = self._hull
        span_s = hull[-1][0] - hull[0][0]
        rate, at = self._prior, hull[-1]
        if len(hull) > 1:
            i = bisect_right(hull, (self._sum_s / self._count, math.inf))
            i = min(max(i, 1), len(hull) - 1)
            at, then = hull[i - 1], hull[i]
            rate = (then[1] - at[1]) / (then[0] - at[0])
        if span_s >= TRUSTED_S:
            low, high = -FREE_RATE, FREE_RATE
        else:
            room = KNOWN_RATE if self._measured else FIRST_RATE
            low, high = self._prior - room, self._prior + room
        if not low <= rate <= high or len(hull) == 1:
            rate = min(max(rate, low), high)
            at = min(hull, key=lambda p: p[1] - rate * p[0])
        self._x_s, self._y_s, self._rate = at[0], at[1], rate
        if span_s >= SETTLED_S:
            self._prior, self._measured = rate, True


class _Block:
    """Ten seconds of points: their own lower hull is all of them that can ever matter again."""

    __slots__ = ("count", "hull", "start_s", "sum_s")

    def __init__(self, start_s: float) -> None:
        self.start_s = start_s
        self.hull: list[_Point] = []
        self.count = 0
        self.sum_s = 0.0


def _push(hull: list[_Point], point: _Point) -> None:
    """Put the point, to the right of all or upon the last, onto a lower hull."""
    x, y = point
    if hull and hull[-1][0] == x:
        hull.pop()
    while len(hull) > 1:
        (x0, y0), (x1, y1) = hull[-2], hull[-1]
        if (x1 - x0) * (y - y0) > (y1 - y0) * (x - x0):
            break
        hull.pop()
    hull.append(point)
