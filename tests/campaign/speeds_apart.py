"""How far the speeds of machines truly were apart, and which of them may be compared."""

from __future__ import annotations

from statistics import median

from tests.campaign.ran import RAMP_SPREAD_S, SETTLING_S, Ran

AT_SPEED_S = 3.0
WINDOWS_S = (0.1, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 20.0, 30.0)
LAGS_S = (0.0, 1.0, 2.0, 3.0)
"""What is said of a speed is a mean over such windows, and lags behind one that has just changed, or hunts."""
SIGMAS = 4.5
"""What is said may be so far from the truth: an alarm that needs 6 σ is then still of something that is so."""


class Apart:
    """Of one run. Machines are numbered in film order; times are plan times."""

    def __init__(self, ran: Ran) -> None:
        self.ran, self.show = ran, ran.show

    def _fps(self, k: int, from_s: float, to_s: float) -> float:
        frames = self.ran.machines[k].motion.frames
        return (frames(to_s) - frames(from_s)) / (to_s - from_s)

    def beside(self, k: int, t_s: float) -> list[int]:
        """The peers that can have been at speed for 3 s at ``t_s``."""
        return [
            n for n in self.ran.peers[k]
            if (since_s := self.ran.steady_since(n, t_s)) is not None
            and t_s >= since_s + AT_SPEED_S - 2.0 * RAMP_SPREAD_S
        ]  # fmt: skip

    def surely(self, n: int, t_s: float) -> bool:
        """Whether the desk must have had it among those at speed."""
        since_s = self.ran.steady_since(n, t_s)
        return (
            since_s is not None
            and since_s + AT_SPEED_S + 1.0 < t_s
            and self.ran.to_run_fr(n, t_s) > 0.0
            and self.ran.heard(self.show.houses[n].id, t_s - SETTLING_S, t_s)
        )

    def off_fps(self, k: int, t_s: float, others: int) -> list[float]:
        """How far machine ``k`` truly was off those beside it, over each window that ends at ``t_s``."""
        since_s = self.ran.steady_since(k, t_s)
        if since_s is None:
            return []
        near = [(n, self.ran.steady_since(n, t_s) or t_s) for n in self.beside(k, t_s)]
        found: list[float] = []
        for a, b in ((t_s - lag_s - w, t_s - lag_s) for lag_s in LAGS_S for w in WINDOWS_S):
            if a < since_s:
                continue
            mine = self._fps(k, a, b)
            theirs = [self._fps(n, a, b) for n, begun_s in near if begun_s <= a]
            if others == 0:
                found.append(mine - self.show.fps)
            elif others == 1:
                found += [mine - v for v in theirs]
            elif len(theirs) > 1:
                found.append(mine - median([mine, *theirs]))
                if len(theirs) != others:  # one of them was not heard, or was through already
                    found += [
                        mine - median([mine, *theirs[:n], *theirs[n + 1 :]]) for n in range(len(theirs))
                    ]
        return found

    def apart(self, k: int, t_s: float) -> float:
        """The share by which it surely differs from whichever others it may be compared with; 0 where that is not sure."""
        since_s = self.ran.steady_since(k, t_s)
        if since_s is None or since_s + AT_SPEED_S > t_s or self.ran.to_run_fr(k, t_s) < 0.0:
            return 0.0
        near = self.beside(k, t_s)
        mine = self.ran.machines[k].motion.fps(t_s)
        off = [mine - self.ran.machines[n].motion.fps(t_s) for n in near]
        if self.show.houses[k].motor == "crystal":
            off.append(mine - self.show.fps)
        elif not any(self.surely(n, t_s) for n in near):
            return 0.0
        least = min(off) if min(off) > 0.0 else max(off) if max(off) < 0.0 else 0.0
        return least / self.show.fps

    def off_anyhow(self, k: int, t_s: float) -> float | None:
        """The most that it was off whatever it may be compared with; None where there is nothing."""
        others = len(self.beside(k, t_s))
        if others == 0 and self.show.houses[k].motor != "crystal":
            return None
        return max(map(abs, self.off_fps(k, t_s, min(others, 2))), default=None)
