"""One look at a house: everything that is judged and said of it at one moment reads its signals and its position once."""

from __future__ import annotations

import math

from interlock.watch.forecast import Z95
from interlock.watch.house import HouseWatch
from interlock.watch.world import World


class Look:
    """One look at a house: what its signals say now, where the print is, and what is to come by time alone.

    ``fr`` and ``margin_fr``: the frame in the gate and what 95 % certainty leaves open of it, where ``frame`` is known.
    ``soonest_s``: the next moment at which something becomes true; ∞ if nothing does. ``alarmed``: it has ever had an
    alarm; without one there is nothing to clear.
    """

    __slots__ = (
        "_house", "_t_s", "alarmed", "dowser", "film", "fr", "frame", "lamp", "margin_fr", "run", "soonest_s", "turning",
    )  # fmt: skip

    def __init__(self, w: World, h: HouseWatch) -> None:
        self._house, self._t_s = h, w.t_s
        m = h.machine
        self.run = m.run.now
        self.turning = self.run if m.run.wired else m.turning
        self.lamp, self.dowser, self.film = h.lamp.now, h.dowser.now, h.film.now
        self.alarmed = h.id in w.alarmed
        self.soonest_s = math.inf
        self.frame = frame = h.frame(w.t_s)
        if frame is not None:
            self.fr, self.margin_fr = frame[0], Z95 * math.sqrt(frame[2])

    def reached(self, at_s: float) -> bool:
        """Whether ``at_s`` has come; if not, it is a deadline."""
        if at_s <= self._t_s:
            return True
        self.soonest_s = min(self.soonest_s, at_s)
        return False

    def when(self, frame_fr: float) -> float:
        """Desk second at which that frame is (or was) in the gate; ``frame`` being known."""
        assert self.frame is not None
        return self._house.when_s(self._t_s, self.frame, frame_fr)
