"""What must hold of slack-low, slack-critical and slack-lost, judged by the simulator's truth.

One is false if truth stayed more than a frame and 3 σ inside the limit for a second around it. A limit truly reached must have
its slack-lost within a frame's time of what the sensors could tell, and a warning before it wherever physics allowed one.
"""

from __future__ import annotations

from collections.abc import Iterator

from interlock.watch.catalogue import CATALOGUE
from interlock.watch.state import AlarmLine
from tests.campaign.beside import JUDGED, Beside

FRAME_S = 1.0 / 24.0
SHARES = {"slack-low": 0.5, "slack-critical": 0.75, "slack-lost": 1.0}
TORN_S = 0.5
"""Film that tears at its limit lets its arm go at once, and for some readings the arm says that there is slack again."""


class Slacks:
    """The findings of one show."""

    def __init__(self, beside: Beside) -> None:
        self.b = beside

    def findings(self) -> Iterator[str]:
        """Everything that is wrong with them."""
        yield from self._false_slack()
        yield from self._missed()

    def _false_slack(self) -> Iterator[str]:
        for x in self.b.trips(*SHARES):
            i = self.b.links.index(x.subject)
            link = self.b.run.show.links[i]
            assert x.show_s is not None
            t_s = self.b.plan_s(x.show_s)
            if t_s >= self.b.ended_s(i) - 1.0 or set(x.subject.split(">")) & self.b.unsure:
                continue
            if "switch" in x.values:
                continue  # the limit switch itself closed: the room's own
            # What the desk said of its certainty then and there; the lines beside it may be of a moment later.
            sigma = max(self.b.sigma(i, x.show_s), float(x.values.get("sigma_fr") or 0.0))
            near = False
            for k in range(-20, 21):
                d = self.b.drift(i, t_s + k / 20.0)
                limit = link.spill_fr if d >= 0.0 else link.tight_fr
                near = near or abs(d) > SHARES[x.code] * limit - 1.0 - 3.0 * sigma
            if not near:
                yield f"{x.code} on {x.subject} at show {x.show_s:.3f} s is false: truth {self.b.drift(i, t_s):.2f} fr"

    def _missed(self) -> Iterator[str]:
        trips = {(x.code, x.subject): x for x in reversed(list(self.b.trips(*CATALOGUE)))}
        for i, link in enumerate(self.b.run.show.links):
            hits = [
                t
                for level in (link.spill_fr + self.b.base_fr[i], self.b.base_fr[i] - link.tight_fr)
                for t, way in self.b.room.crossings(link.id, level)
                if (way > 0) == (level > self.b.base_fr[i])
            ]
            hits = sorted(t for t in hits if t > (self.b.zero_plan_s or 0.0))
            touched = 0
            while touched < len(hits) and self._hardly(i, hits[touched]):
                touched += 1
            x = trips.get(("slack-lost", link.id))
            if x is not None and touched:
                # One that hardly touched the limit may have been told or not: the alarm may be of it or of the next.
                crossed_s = self.b.plan_s(float(x.values["crossed_s"] or 0.0))
                if abs(self.b.drift(i, crossed_s)) > min(link.tight_fr, link.spill_fr) - 1.5:
                    continue  # it lay at its limit and was told of when the phase let it be
                hits = [min(hits[: touched + 1], key=lambda t: abs(t - crossed_s))]
            else:
                hits = hits[touched:]
            first_s = hits[0] if hits else None
            if first_s is None or first_s > self.b.ended_s(i) or self.b.blind_spell(i, first_s):
                continue
            if self.b.phase_at(first_s) not in JUDGED:
                continue
            if x is None:
                yield f"slack-lost on {link.id} never came; truth crossed at plan {first_s:.3f} s"
                continue
            crossed = x.values["crossed_s"]
            assert isinstance(crossed, float)
            rate = abs(self.b.drift(i, first_s + 0.05) - self.b.drift(i, first_s - 0.05)) / 0.1
            allow_s = FRAME_S + (3.0 * self.b.sigma(i, crossed) + 0.5) / max(rate, 1e-3)
            if self.b.torn(link.id, first_s):
                allow_s += TORN_S
            late_s = self.b.plan_s(crossed) - first_s
            if abs(late_s) > allow_s and "switch" not in x.values:
                yield f"slack-lost on {link.id} is dated {late_s:+.3f} s off the crossing (allowed {allow_s:.3f})"
            yield from self._warned(i, first_s, trips)

    def _hardly(self, i: int, hit_s: float) -> bool:
        """A second after it reached a limit the loop is not surely beyond it."""
        link = self.b.run.show.links[i]
        unsure_fr = max(1.5, 3.0 * self.b.sigma(i, hit_s - (self.b.zero_plan_s or 0.0)))
        return abs(self.b.drift(i, hit_s + 1.0)) - max(link.tight_fr, link.spill_fr) < unsure_fr

    def _warned(self, i: int, first_s: float, trips: dict[tuple[str, str], AlarmLine]) -> Iterator[str]:
        a, b = self.b.links[i].split(">")
        codes = (
            "slack-low",
            "slack-critical",
            "slack-forecast",
            "run-lost",
            "start-late",
            "speed-off",
            "film-out",
            "count-lost",
        )
        earlier = [
            x for (code, s), x in trips.items()
            if code in codes and s in (a, b, self.b.links[i]) and x.show_s is not None and self.b.plan_s(x.show_s) < first_s
        ]  # fmt: skip
        if not earlier:
            yield f"the limit of {self.b.links[i]} was reached at plan {first_s:.3f} s with no warning before it"
