"""Dates an adapter's ticks: its own milliseconds become desk seconds.

Every line is a pair (tick, receipt). Receipt − tick is the offset between the two clocks, plus what
the line spent on its way, which is never negative and often tens of milliseconds. So the truth lies
along the *lower convex hull* of these points over the last two minutes: the map is a line that touches
it from below. How steep it is, the lowest points of the first and of the last third say, as far as the
lines' way lets them: on a busy network lines wait tenths of a second behind each other, and what is
lowest of them wanders by milliseconds; a crystal's rate is known better than that beforehand.

A clock does not jump, so after ten seconds the map does not either: it goes over to a new line at
``SLEW`` a second. A jump would be a change of speed of every machine that the adapter counts.

Ticks are 32 bits and wrap after 49.7 days; they are unwrapped against the newest one.

No steps: seconds given for one life never run against its ticks. The newest tick that was dated is
held with its second; a later tick is dated no earlier, an earlier tick no later. A correction of the map
therefore shows as a short standstill of the dates, never as a step back. (Between ticks that are both
older than the newest one the map alone decides.)
"""

from __future__ import annotations

import math
from collections import deque

TICK_MODULUS = 1 << 32
WINDOW_S = 120.0
BLOCK_S = 10.0
"""The window moves in steps of this, so that a point costs the same however many there are."""

FIRST_RATE = 200e-6
"""1-sigma of a crystal's rate (share) that nothing is known of: none is beyond three of these."""
KNOWN_RATE = 10e-6
"""1-sigma of how far it moves from what was once measured over ``SETTLED_S``: temperature, supply."""
FREE_RATE = 0.02
"""Beyond crystals: even an adapter that has none is followed, once ``TRUSTED_S`` of points say so."""
SURE = 10.0
"""Sigmas by which they must say so."""
TRUSTED_S = 30.0
SETTLED_S = 60.0
FIT_EVERY_S = 0.5
"""A line that lies above the map says little that is new: so often the map is drawn anew."""
LOWEST_SHARE = 0.1
"""1-sigma of where the lowest points of a third lie, as a share of what lines spend on their way on average. Chosen and not
measured: what is measured is the map that comes of it, with milliseconds of delay and with tenths of a second."""
SLEW = 100e-6
SLEW_FROM_S = 10.0
"""Seconds a second by which the map goes over to a new line, and from when on it no longer jumps there. A chosen pair: about
a sixth of what `speed-off` trips at, and before that nothing is known that could be kept."""
LONGEST_WAY_S = 0.1
"""A map that is wrong by more than lines ever wait (a network that stood still while the map began) is left at once."""

_Point = tuple[float, float]  # tick in s, receipt − tick in s


def signed_ms(later: int, earlier: int) -> int:
    """``later`` − ``earlier`` of two 32-bit ticks, the short way round: −2³¹ … 2³¹ − 1."""
    return (later - earlier + (TICK_MODULUS >> 1)) % TICK_MODULUS - (TICK_MODULUS >> 1)


class TickClock:
    """The map of one adapter's ticks onto desk seconds."""

    def __init__(self) -> None:
        self._measured = False
        self._rate = 0.0
        self.reset()

    def reset(self) -> None:
        """The adapter began anew: its ticks mean nothing of what they meant. Its crystal is the same."""
        self.known = False
        self._newest = 0  # ms, unwrapped
        self._hull: list[_Point] = []
        self._blocks: deque[_Block] = deque()
        self._count = 0
        self._sum_s = self._sum_y_s = 0.0
        self._prior, self._prior_sigma = (self._rate, KNOWN_RATE) if self._measured else (0.0, FIRST_RATE)
        self._x_s = self._y_s = 0.0
        self._rate = self._prior
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
        block.sum_y_s += point[1]
        self._count += 1
        self._sum_s += x_s
        self._sum_y_s += point[1]
        since_s = x_s - self._x_s
        if self._count == 1 or since_s >= FIT_EVERY_S or point[1] < self._y_s + self._rate * since_s:
            self._fit()

    def raw_s(self, tick: int) -> float:
        """The map itself, without the hold; ``tick`` within 24 days of the newest. Needs a first line."""
        return self._map(self._newest + self.step_ms(tick))

    def to_s(self, tick: int) -> float:
        """The desk second of ``tick``, never against the order of ticks already dated. Needs a first line.

        It can be some milliseconds after a receipt: nothing that was received is later than that.
        """
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
        self._sum_y_s = math.fsum(b.sum_y_s for b in self._blocks)
        self._hull = []
        for block in self._blocks:
            for point in block.hull:
                _push(self._hull, point)

    def _fit(self) -> None:
        """Touch the hull from below, no steeper than is sure, and go there no faster than a clock can."""
        hull = self._hull
        first_s, now_s = hull[0][0], hull[-1][0]
        rate, crystal = self._slope(now_s - first_s)
        at = min(hull, key=lambda p: p[1] - rate * p[0])
        y_s = at[1] + rate * (now_s - at[0])
        since_s = now_s - self._x_s
        going_on_s = self._y_s + self._rate * since_s
        if crystal and now_s - first_s >= SLEW_FROM_S and abs(y_s - going_on_s) < LONGEST_WAY_S:
            y_s = min(max(y_s, going_on_s - SLEW * since_s), going_on_s + SLEW * since_s)
        self._x_s, self._y_s, self._rate = now_s, y_s, rate
        self._measured = self._measured or now_s - first_s >= SETTLED_S

    def _slope(self, span_s: float) -> tuple[float, bool]:
        """The rate: what the points say of it and what is known of crystals, by their variances; whether it can be one."""
        hull, prior = self._hull, self._prior
        if span_s == 0.0:
            return prior, True
        third_s = span_s / 3.0
        early_s, late_s = hull[0][0] + third_s, hull[-1][0] - third_s
        a = min((p for p in hull if p[0] <= early_s), key=lambda p: p[1] - self._rate * p[0])
        b = min((p for p in hull if p[0] >= late_s), key=lambda p: p[1] - self._rate * p[0])
        measured = (b[1] - a[1]) / (b[0] - a[0])
        mean_s = self._sum_y_s / self._count - a[1] - measured * (self._sum_s / self._count - a[0])
        # A hull that sags between the two is no line: the way has become another on the way.
        sag_s = max(a[1] + measured * (x_s - a[0]) - y_s for x_s, y_s in hull)
        sigma = (LOWEST_SHARE * max(mean_s, 0.0) + sag_s) * math.sqrt(2.0) / (b[0] - a[0])
        off, most = measured - prior, 3.0 * FIRST_RATE
        if span_s >= TRUSTED_S and abs(off) > max(most, SURE * sigma):
            return min(max(measured, -FREE_RATE), FREE_RATE), False
        off = min(max(off, -most), most)
        return prior + off * self._prior_sigma**2 / (self._prior_sigma**2 + sigma**2), True


class _Block:
    """Ten seconds of points: their own lower hull is all of them that can ever matter again."""

    __slots__ = ("count", "hull", "start_s", "sum_s", "sum_y_s")

    def __init__(self, start_s: float) -> None:
        self.start_s = start_s
        self.hull: list[_Point] = []
        self.count = 0
        self.sum_s = self.sum_y_s = 0.0


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
