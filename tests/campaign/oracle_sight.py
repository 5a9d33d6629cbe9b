"""What must hold of count-lost, blind and floods, judged by the simulator's truth and by the desk's own σ.

A count-lost has a dead counter or a lying contact behind it, and each of these its count-lost. Blind is what the desk's σ
says, after three seconds, and something in truth hides the loop. A flood is marked when it is one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from tests.campaign.beside import JUDGED
from tests.campaign.ran import BACK_S, RAMP_SPREAD_S, WATCHED, Ran, Span

COUNT_WITHIN_S = 1.0
"""Half a second beyond ramp and coast, and the pulses and lines by which it is seen."""
RAMP_S = 3.0
"""After a start, till its pulses have told all of the ramp."""
BLIND_SIGMAS, BLIND_SHARE, BLIND_S = 3.0, 0.25, 3.0
FLOOD_S, FLOOD_ABOVE, FLOOD_BELOW = 600.0, 10, 5


class Sight:
    """The findings of one show."""

    def __init__(self, ran: Ran) -> None:
        self.ran = ran
        self.b = ran.b
        self.show = ran.show

    def findings(self) -> Iterator[str]:
        """Everything that is wrong with them."""
        yield from self._false_count()
        yield from self._missed_count()
        for i in range(len(self.b.links)):
            yield from self._blind(i)
            yield from self._at_rest(i)
        yield from self._flooded()

    # count-lost

    def _false_count(self) -> Iterator[str]:
        for t_s, x in self.ran.trips.get("count-lost", ()):
            if not self.ran.lied([x.subject], t_s):
                yield f"count-lost on {x.subject} at plan {t_s:.2f} s is false: counter and contact were true"

    def _missed_count(self) -> Iterator[str]:
        """A counter that is dead while the motor's contact says that it turns, or the other way round."""
        for f in self.ran.faults:
            if f.at_s is None:
                continue
            if f.kind == "dead-counter" and f.house in self.ran.counted:
                yield from self._contradicted(f.house, self._dead(f.house, f.at_s))
            elif f.kind == "stuck-contact" and f.signal.endswith(".run"):
                house = f.signal.removesuffix(".run")
                if house in self.ran.counted:
                    yield from self._contradicted(house, self._stuck(house, f.at_s))

    def _dead(self, house: str, at_s: float) -> Span | None:
        """From when to when it turned at speed and was not counted."""
        k = self.ran.at[house]
        switched = self.ran.machines[k].switched
        for on_s, off_s in zip(switched[::2], [*switched[1::2], math.inf], strict=False):
            since_s = max(at_s, on_s + self.show.houses[k].ramp_s + RAMP_SPREAD_S)
            if 0.0 < since_s < off_s:
                return since_s, off_s
        return None

    def _stuck(self, house: str, at_s: float) -> Span | None:
        """From when to when its contact surely said what its motor did not do."""
        k = self.ran.at[house]
        stuck_on = self.ran.on_since(k, at_s) is not None
        after = [(t, n % 2 == 0) for n, t in enumerate(self.ran.machines[k].switched) if t > at_s]
        first = next((n for n, (_, on) in enumerate(after) if on is not stuck_on), None)
        if first is None:
            return None
        spec = self.show.houses[k]
        from_s = after[first][0] + (spec.coast_s if stuck_on else spec.ramp_s)
        return from_s, after[first + 1][0] if len(after) > first + 1 else self.b.room.now_s

    def _contradicted(self, house: str, span: Span | None) -> Iterator[str]:
        if span is None or self.b.zero_plan_s is None or span[0] < self.b.zero_plan_s:
            return
        a, b = span
        spec = self.show.houses[self.ran.at[house]]
        due_s = a + max(spec.ramp_s, spec.coast_s) + COUNT_WITHIN_S + self.ran.held_s
        if due_s > min(b, self.b.room.now_s):
            return
        if any(p < due_s and a - BACK_S < q for p, q in self.ran.away.get(house, ())):
            return
        if not all(self.b.phase_at(t) in JUDGED for t in (a, 0.5 * (a + due_s), due_s)):
            return
        if not self.ran.was_active("count-lost", house, a - BACK_S, due_s):
            yield f"counter and contact of {house} contradict each other from plan {a:.2f} s and no count-lost says so"

    # blind

    def _blind(self, i: int) -> Iterator[str]:
        """By the lines of once a second, which are said at the moment at which it is judged."""
        link = self.show.links[i]
        most = BLIND_SHARE * min(link.tight_fr, link.spill_fr) / BLIND_SIGMAS
        lines = self.ran.links[link.id]
        told = [t for t, x in self.ran.trips.get("blind", ()) if x.subject == link.id]
        if not told and not any(x.drift_fr is None or (x.sigma_fr or 0.0) > most for _, x in lines):
            return
        hidden = self._hidden(i)
        for t_s in told:
            if not any(a <= t_s <= b for a, b in hidden):
                yield f"blind on {link.id} at plan {t_s:.2f} s is false: nothing hid it"
        names = self._adapters(i)
        since_s: float | None = None
        for t_s, x in lines:
            here = any(abs(t - t_s) < 0.01 for t in told)
            unsure = x.drift_fr is None or (x.sigma_fr or 0.0) > most
            judged = x.state not in ("parted", "released") and self.b.phase_at(t_s) in WATCHED
            if not unsure or not judged or self._silent(names, t_s):
                if here:
                    yield f"blind on {link.id} at plan {t_s:.2f} s is false: known, not judged, or its adapter is silent"
                since_s = None
                continue
            since_s = t_s if since_s is None else since_s
            long = t_s - since_s > BLIND_S - 0.01
            if here and not long:
                yield f"blind on {link.id} at plan {t_s:.2f} s came {t_s - since_s:.2f} s after it was known"
            if long and not self.ran.was_active("blind", link.id, t_s - 0.01, t_s + 0.01):
                yield f"{link.id} has not been known since plan {since_s:.2f} s and no blind says so at {t_s:.2f} s"
                return

    def _adapters(self, i: int) -> list[str]:
        link = self.b.links[i]
        signals = {f"{h}.{s}" for h in link.split(">") for s in ("run", "frames")} | {f"{link}.arm"}
        return [a.name for a in self.show.adapters if signals & set(a.wiring.signals())]

    def _silent(self, adapters: list[str], t_s: float) -> bool:
        return any(
            self.ran.was_active(code, name, t_s - 1e-3, t_s + 1e-3)
            for name in adapters
            for code in ("adapter-stale", "adapter-lost")
        )

    def _hidden(self, i: int) -> list[Span]:
        """When what had happened can have hidden the drift of link ``i``."""
        ends = self.b.links[i].split(">")
        why = [(a, math.inf) for h in ends for a, _ in self.ran.away.get(h, ())]
        why += [(self.ran.lies[h], math.inf) for h in ends if h in self.ran.lies]
        up, down = self.show.houses[i : i + 2]
        counted = set(ends) <= self.ran.counted
        if not counted and (up.supply, up.motor) != (down.supply, down.motor):
            why.append(
                (-math.inf, math.inf)
            )  # two supplies swing against each other, and only a counter tells
        if not counted and any(
            f.kind in ("dropped", "damaged", "delayed") and f.adapter in self._adapters(i)
            for f in self.ran.faults
        ):
            why.append((-math.inf, math.inf))  # when it started or stopped, the line that was lost knew
        # How far a machine that was cut has coasted, or was pulled back, a counter tells when it stands; nothing else does.
        for e in self.b.room.log:
            if e.what == "stop" and e.subject in ends:
                coast_s = self.show.houses[self.ran.at[e.subject]].coast_s
                why.append((e.at_s, e.at_s + 2.0 * coast_s + 1.0 + BLIND_S if counted else math.inf))
        return why

    def _at_rest(self, i: int) -> Iterator[str]:
        """Two seconds after a counted machine has stopped, its loop is known to within the pulses."""
        link, pair = self.b.links[i], (i, i + 1)
        ends = link.split(">")
        if not set(ends) <= self.ran.counted or any(self.ran.away.get(h) or h in self.ran.lies for h in ends):
            return
        if any((e.what, e.text) == ("fault", "pass-film") and e.subject in ends for e in self.b.room.log):
            return
        per_fr = [
            c.frames_per_pulse
            for a in self.show.adapters
            for c in a.wiring.counters.values()
            if c.signal.split(".")[0] in ends
        ]
        # Anywhere within a pulse, each of them, when it was armed and where it rests.
        most_fr = 1.3 * math.sqrt(math.fsum(p * p for p in per_fr) / 6.0)
        if not all(self.ran.machines[k].switched for k in pair):
            return  # one that has never turned was never counted
        switched = sorted(t for k in pair for t in self.ran.machines[k].switched)
        stops = [t for k in pair for t in self.ran.machines[k].switched[1::2] if t > 0.0]
        for stop_s in stops:
            from_s = stop_s + 2.0 * max(self.show.houses[k].coast_s for k in pair) + 1.0 + self.ran.held_s
            if any(stop_s - RAMP_S < t < from_s + 1.0 and t != stop_s for t in switched):
                continue
            spec = self.show.links[i]
            if from_s > self.b.ended_s(i) or not -spec.tight_fr < self.b.drift(i, from_s) < spec.spill_fr:
                continue  # film on the floor, and an arm lies where it lies
            for t_s, x in self.ran.links[link]:
                if from_s <= t_s < from_s + 1.0 and x.drift_fr is not None and (x.sigma_fr or 0.0) > most_fr:
                    yield f"{link} is known to {x.sigma_fr:.2f} fr only at plan {t_s:.2f} s, though it stopped at {stop_s:.2f} s"
                    return

    # floods

    def _flooded(self) -> Iterator[str]:
        """An alarm's line says so from more than ten new ones in ten minutes on, until there are fewer than five in ten."""
        came: list[float] = []
        active: set[tuple[str, str]] = set()
        flood = False
        for x in self.ran.alarms:
            t_s = -BACK_S if x.show_s is None else x.show_s
            key = (x.code, x.subject)
            flood = flood and sum(t > t_s - FLOOD_S for t in came) >= FLOOD_BELOW
            if x.active and key not in active and x.state == "unacknowledged":
                came.append(t_s)
                flood = flood or sum(t > t_s - FLOOD_S for t in came) > FLOOD_ABOVE
            (active.add if x.active else active.discard)(key)
            if x.flood is not flood:
                yield f"{x.code} on {x.subject} at {x.at} says flood {x.flood} after {len(came)} new alarms"
                return
