"""What must hold of slack-forecast and of the time to a limit, judged by the simulator's truth.

A forecast has its direction, its rate and its cause from the truth; a loop that is used up has one; and the 90 % interval
holds the true time.
"""

from __future__ import annotations

import math
from collections.abc import Generator, Iterator
from dataclasses import dataclass

from interlock.watch.state import AlarmLine
from tests.campaign.ran import RAMP_SPREAD_S, SETTLING_S, Ran
from tests.campaign.speeds_apart import AT_SPEED_S, LAGS_S, SIGMAS, WINDOWS_S, Apart

FORECAST_WITHIN_S = 20.0
FORECAST_SHARE = 0.7
STEADY_S = 12.0
"""So long a rate has been the same where an interval is held against it."""
COUNTED_FR = 0.038
"""What counters can tell of a rate after T seconds, 1-sigma: √(12·r/T³) with a pulse dated to r = (0.011 frames)²."""
SHARE = 0.15
"""So much of a time to the limit may be wrong beyond its 90 % interval before it is a finding of its own."""
CREEPS = 6.0
"""A creep is a rate of so many of these sigmas: below it an interval is said only where chance made one."""


@dataclass
class Spans:
    """How the intervals to a limit fared against the truth: of creeps, of which inside; of loops at rest, of which with one."""

    creeps: int = 0
    inside: int = 0
    rests: int = 0
    bounded: int = 0

    def add(self, other: Spans) -> None:
        """Another show's."""
        self.creeps += other.creeps
        self.inside += other.inside
        self.rests += other.rests
        self.bounded += other.bounded


class Forecasts:
    """The findings of one show."""

    def __init__(self, ran: Ran, apart: Apart) -> None:
        self.b, self.ran, self.apart, self.show = ran.b, ran, apart, ran.show
        self.spans = Spans()

    def findings(self) -> Generator[str, None, Spans]:
        """Everything that is wrong with them; at the end, how the intervals fared."""
        for t_s, x in self.ran.trips.get("slack-forecast", ()):
            if not self.ran.lied(x.subject.split(">"), t_s):
                yield from self._false_forecast(t_s, x)
        for i in range(len(self.b.links)):
            yield from self._used_up(i)
        return self.spans

    def _both_since(self, i: int, t_s: float) -> float | None:
        up, down = self.ran.steady_since(i, t_s), self.ran.steady_since(i + 1, t_s)
        return None if up is None or down is None else max(up, down)

    def _false_forecast(self, t_s: float, x: AlarmLine) -> Iterator[str]:
        words = f"slack-forecast on {x.subject} at plan {t_s:.2f} s"
        i = self.b.links.index(x.subject)
        since_s = self._both_since(i, t_s)
        if since_s is None or t_s < since_s + AT_SPEED_S - 2.0 * RAMP_SPREAD_S:
            yield f"{words} is false: its machines had not both been at speed for 3 s"
            return
        if t_s > self.b.ended_s(i) + 0.5:
            yield f"{words} is false: nothing is left of this loop"
            return
        rate, toward = float(x.values["rate_fps"] or 0.0), x.values["toward"]
        if (rate > 0.0) != (toward == "spill"):
            yield f"{words} is towards {toward} at {rate:+.4f} fps"
        drift, link = self.b.drift(i, t_s), self.show.links[i]
        true = [
            (self.b.drift(i, b) - self.b.drift(i, b - w)) / w
            for b in (t_s - lag_s for lag_s in LAGS_S)
            for w in WINDOWS_S
            if b - w >= since_s
        ]
        gap = link.spill_fr - drift if rate > 0.0 else link.tight_fr + drift
        early, middle, late = (float(x.values[f"to_limit_{n}_s"] or 0.0) for n in ("05", "50", "95"))
        if not 0.0 <= early <= middle <= late <= self.show.alarms.forecast_s:
            yield f"{words} says {early:.1f}, {middle:.1f}, {late:.1f} s"
        if gap <= -1.0 and middle == 0.0:
            yield f"{words} foretells what has been reached"
            return
        if abs(middle * abs(rate) - gap) > max(2.0 + 0.1 * gap, SIGMAS * self.b.sigma(i, x.show_s or 0.0)):
            yield f"{words} says {middle:.1f} s at {rate:+.4f} fps, and {gap:.1f} frames are left"
        # How sure of the rate it says it is, by its own interval.
        sigma = gap * (1.0 / max(early, 0.1) - 1.0 / max(late, 0.1)) / 3.29 if gap > 0.0 else 0.0
        slack = SIGMAS * sigma + 1e-3
        if not min(true) - slack <= rate <= max(true) + slack:
            yield f"{words} is false: said {rate:+.4f} fps, truly {min(true):+.4f} to {max(true):+.4f}"
        if max(math.copysign(1.0, rate) * v for v in true) <= 1e-6:
            yield f"{words} is false: nothing moves that way"
        yield from self._cause(x, i, t_s, words)

    def _cause(self, x: AlarmLine, i: int, t_s: float, words: str) -> Iterator[str]:
        """The machine that is named is off, and no less than the other."""
        named = x.values["cause"]
        if not isinstance(named, str) or " " in named:
            return
        k = self.ran.at[named]
        off, beside = self.apart.off_anyhow(k, t_s), self.apart.off_anyhow(i + 1 if k == i else i, t_s)
        if off is None or off <= 1e-6:
            yield f"{words} names {named}, which was not off"
        elif beside is not None and beside > 1.5 * off:
            yield f"{words} names {named} ({off:.4f} fps off), and the other was {beside:.4f} fps off"

    def _used_up(self, i: int) -> Iterator[str]:
        """Where the true rate is constant: the 90 % interval, and a forecast where the limit is near."""
        link = self.show.links[i]
        ends = link.id.split(">")
        if not set(ends) <= self.ran.counted:
            return
        hindered = any(self.ran.away.get(h) or h in self.ran.lies for h in ends)
        lines = self.ran.links[link.id]
        n = 0
        for begun_s, b, rate in self.ran.rate_spells(i):
            a = begun_s + RAMP_SPREAD_S
            if b - a < STEADY_S:
                continue
            missed, wide, from_fr = False, None, self.b.drift(i, a)
            while n < len(lines) and lines[n][0] < a + STEADY_S:
                n += 1
            while n < len(lines) and lines[n][0] < b:
                t_s, x = lines[n]
                n += 1
                drift = from_fr + rate * (t_s - a)
                if x.state != "running" or not -link.tight_fr < drift < link.spill_fr:
                    continue
                if hindered and not all(self.ran.heard(h, t_s - STEADY_S - SETTLING_S, t_s) for h in ends):
                    continue
                gap = link.spill_fr - drift if rate > 0.0 else link.tight_fr + drift
                true_s = gap / abs(rate) if rate else math.inf
                wide = wide or self._interval(x.to_limit_s, rate, t_s - a, true_s)
                # By the far end of what is known of the loop, and of its rate.
                late_s = (gap + 2.0 * (x.sigma_fr or 0.0)) / max(
                    abs(rate) - 4.0 * COUNTED_FR / (t_s - a) ** 1.5, 1e-6
                )
                if late_s < FORECAST_SHARE * self.show.alarms.forecast_s and t_s > a + FORECAST_WITHIN_S:
                    missed = missed or not self._foreseen(link.id, t_s)
            if wide is not None:
                yield f"{link.id}, used up at {rate:+.4f} fps from plan {a:.2f} s to {b:.2f} s, is said to have {wide}"
            if missed:
                yield f"{link.id} was used up at {rate:+.4f} fps from plan {a:.2f} s to {b:.2f} s, and no slack-forecast says so"

    def _foreseen(self, link: str, t_s: float) -> bool:
        if not self.ran.watched(t_s, t_s - FORECAST_WITHIN_S):
            return True
        if not all(self.ran.heard(h, t_s - FORECAST_WITHIN_S - SETTLING_S, t_s) for h in link.split(">")):
            return True
        return self.ran.was_active("slack-forecast", link, t_s - 1.0, t_s)

    def _interval(
        self, said: tuple[float, float, float] | None, rate: float, for_s: float, true_s: float
    ) -> str | None:
        """Count it; and what was said, if that is wrong beyond all chance."""
        if rate == 0.0:
            self.spans.rests += 1
            self.spans.bounded += said is not None
            return None
        sigmas = abs(rate) * for_s**1.5 / COUNTED_FR
        if said is None or sigmas < CREEPS:
            return None
        self.spans.creeps += 1
        self.spans.inside += said[0] <= true_s <= said[2]
        share = 1.0 + max(SHARE, 8.0 / sigmas)
        moved_fr = abs(rate) * for_s
        if moved_fr < 1.0 or said[0] / share - 2.0 <= true_s <= said[2] * share + 2.0:
            return None
        # After a gap in the counts the desk knows a rate by a few samples only, and its interval says so.
        own_sigma = (1.0 / max(said[0], 0.1) - 1.0 / said[2]) / 3.29
        if abs(1.0 / max(said[1], 0.1) - 1.0 / true_s) < SIGMAS * own_sigma:
            return None
        return f"{said[0]:.1f}, {said[1]:.1f}, {said[2]:.1f} s and had {true_s:.1f} s"
