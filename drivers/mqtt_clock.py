"""Another computer's clock related to ours by exchange of stamps.

We ask at ``t1``, the question is there at ``t2`` by the other clock, the answer leaves at ``t3`` and is
here at ``t4``. If both ways take equally long the other clock is ahead by ((t2 − t1) + (t3 − t4)) / 2, and in any
case that is wrong by no more than half of the round trip (t4 − t1) − (t3 − t2). So the exchange with the shortest
round trip is the one to believe; but clocks run apart, by up to 100 ppm, so an old one is worth less by its age.

What was true while nobody could ask is placed between the relations before and after, in a straight line: a
clock 50 ppm off is 180 ms off after an hour, and its facts are not.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque

APART_PPM = 100.0
WINDOW = 480
"""Exchanges that are kept, two minutes of four a second."""
ANCHOR_S = 30.0
MOST_ANCHORS = 10_000


class Relation:
    """Their seconds in ours."""

    def __init__(self) -> None:
        self._recent: deque[tuple[float, float, float]] = deque(maxlen=WINDOW)  # (t4, ahead, bound)
        self._anchors: list[tuple[float, float]] = []  # (their second, theirs ahead of ours by)
        self.known = False
        self.ahead_s = 0.0
        """Theirs less ours, as best known now."""
        self.bound_s = 0.0
        """How wrong that can be."""

    def exchange(self, t1_s: float, t2_s: float, t3_s: float, t4_s: float) -> None:
        """One question and its answer, ours, theirs, theirs, ours."""
        trip_s = max(0.0, (t4_s - t1_s) - (t3_s - t2_s))
        self._recent.append((t4_s, ((t2_s - t1_s) + (t3_s - t4_s)) / 2.0, trip_s / 2.0))
        self.bound_s, self.ahead_s = min(
            (bound + APART_PPM * 1e-6 * (t4_s - at), ahead) for at, ahead, bound in self._recent
        )
        self.known = True
        theirs_s = t4_s + self.ahead_s
        if not self._anchors or theirs_s - self._anchors[-1][0] >= ANCHOR_S:
            self._anchors.append((theirs_s, self.ahead_s))
            del self._anchors[:-MOST_ANCHORS]

    def lost(self) -> None:
        """The connection is away: where the clocks stood last is worth keeping, old exchanges are not."""
        if self._recent:
            at_s = self._recent[-1][0]
            if not self._anchors or at_s + self.ahead_s > self._anchors[-1][0]:
                self._anchors.append((at_s + self.ahead_s, self.ahead_s))
        self._recent.clear()

    def forget(self) -> None:
        """Another clock altogether (the station's computer was started anew)."""
        self._recent.clear()
        self._anchors.clear()
        self.known = False

    def ours_s(self, theirs_s: float) -> float:
        """Our second of their second."""
        k = bisect_right(self._anchors, (theirs_s, float("inf")))
        if k == 0:
            return theirs_s - (self._anchors[0][1] if self._anchors else self.ahead_s)
        if k == len(self._anchors):
            return theirs_s - self.ahead_s
        (s0, a0), (s1, a1) = self._anchors[k - 1], self._anchors[k]
        return theirs_s - (a0 + (a1 - a0) * (theirs_s - s0) / (s1 - s0))
