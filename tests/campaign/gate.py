"""Where the print truly is in one house, as well as a perfect counter could tell: frames run since the arming, by the survey.

The survey's own error nobody can see: what is to be certain (95 %, 3 σ) has to keep clear of it.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator

from drivers.simulator.motion import first_reach
from tests.campaign.beside import ARM_PLAN_S, Beside
from tests.campaign.heard import Heard, Span

Z95 = 1.6449
"""One-sided 95 % of the normal distribution."""
LEAST_FR = 3.0
PASSED_FR = 40.0
"""Film passed by hand, and what is made of it until the crew says so."""
UNCOUNTED_FR = 9.0
"""A machine without a counter: with the mains 1 % off for 30 s, or a start that was told a quarter of a second late."""
AROUND_S = 1.5
OFF_SHARE = 0.06
"""Creep, mains and all: but for a speed that is forced no machine of these shows is further off."""


class Gate:
    """The gate of house ``k``. Frames are print frames, seconds plan time."""

    def __init__(self, beside: Beside, heard: Heard, k: int) -> None:
        show, self._heard = beside.run.show, heard
        self.motion = beside.room.machines[k].motion
        self.house = show.houses[k].id
        self._zero_fr = self.motion.frames(ARM_PLAN_S) + show.first_picture_at_fr[k]
        self.survey_fr = math.sqrt(math.fsum((x.path_tolerance * x.path_fr) ** 2 for x in show.links[:k]))
        """1-sigma."""
        faults = beside.run.scenario.faults
        counted = any(f"{self.house}.frames" in a.wiring.signals() for a in show.adapters)
        self.passed = any(f.kind == "pass-film" and f.house == self.house for f in faults)
        poor = self.house in beside.lossy or any(f.kind in ("mains", "jitter") for f in faults)
        self._open_fr = LEAST_FR + PASSED_FR * self.passed + (UNCOUNTED_FR if poor and not counted else 0.0)
        self.known = f"{self.house}.run" not in heard.lies and not any(
            (f.kind == "dead-counter" and f.house == self.house)
            or (f.kind in ("creep", "wander", "speed") and f.house == self.house and not counted)
            for f in faults
        )
        """False: what it is judged by lies, or the show file says that it does not run so."""
        forced = [f.fps for f in faults if f.kind == "speed" and f.house == self.house]
        self.slow_fps = min(show.fps * (1.0 - OFF_SHARE), *forced, show.fps)
        self.fast_fps = max(show.fps * (1.0 + OFF_SHARE), *forced, show.fps)
        """Between these it may run: what is to come in 10 s is so many frames away."""
        self._times = [t_s for t_s, _ in heard.houses[self.house]]

    def frame(self, t_s: float) -> float:
        """In the gate at ``t_s``."""
        return self.motion.frames(t_s) - self._zero_fr

    def when(self, frame: float) -> float:
        """When that frame came into the gate; −inf: it was past it when threaded, inf: it never did."""
        if frame == math.inf:
            return math.inf
        run_fr = frame + self._zero_fr
        pieces = self.motion.pieces
        if run_fr <= pieces[0][1]:
            return -math.inf
        i = bisect_right(pieces, run_fr, key=lambda p: p[1]) - 1
        t0, f0, v, a = pieces[i]
        tau = first_reach(f0 - run_fr, v, 0.5 * a)
        end_s = pieces[i + 1][0] if i + 1 < len(pieces) else self._heard.until_s
        if tau is not None and t0 + tau <= end_s:
            return t0 + tau
        return end_s if i + 1 < len(pieces) else math.inf

    def open_fr(self, from_s: float, to_s: float) -> float | None:
        """What the desk's own σ leaves open beside the survey, in frames (3 σ and a little); None where it knows no frame."""
        sigmas, said = self._sigmas(from_s, to_s)
        return self._open(sigmas) if sigmas and len(sigmas) == said else None

    def allowed_fr(self, t_s: float) -> float | None:
        """The same of an alarm that was said at ``t_s``; None if no frame was known about then, or it lies."""
        sigmas, _ = self._sigmas(t_s, t_s)
        return self._open(sigmas) if sigmas else None

    def _sigmas(self, from_s: float, to_s: float) -> tuple[list[float], int]:
        if not self.known:
            return [], 0
        said = self._heard.houses[self.house]
        first, last = bisect_left(self._times, from_s - AROUND_S), bisect_right(self._times, to_s + AROUND_S)
        return [x.sigma_fr or 0.0 for _, x in said[first:last] if x.frame is not None], last - first

    def _open(self, sigmas: list[float]) -> float:
        return self._open_fr + 3.0 * math.sqrt(max(0.0, max(sigmas) ** 2 - self.survey_fr**2))

    def seen(self, spans: list[Span]) -> list[Span]:
        """Those of the spans in which the frame in the gate was known all the time."""
        return [(a, b) for a, b in spans if self.open_fr(a, b) is not None]

    def surely(
        self, spans: list[Span], from_fr: float, to_fr: float, sigmas: float = Z95
    ) -> Iterator[Span]:  # fmt: skip
        """What of the spans surely has a frame from ``from_fr`` to ``to_fr`` in the gate, by so many sigmas of the survey."""
        for a, b in spans:
            begin_s, end_s = max(a, self.when(from_fr)), min(b, self.when(to_fr))
            if begin_s >= end_s:
                continue
            open_fr = self.open_fr(begin_s, end_s)
            if open_fr is None:
                continue
            margin_fr = sigmas * self.survey_fr + open_fr
            begin_s, end_s = max(a, self.when(from_fr + margin_fr)), min(b, self.when(to_fr - margin_fr))
            if begin_s < end_s:
                yield begin_s, end_s
