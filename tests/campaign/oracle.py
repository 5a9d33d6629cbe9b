"""What must hold of every show, judged by the simulator's truth. Each finding is a sentence; none is what is wanted.

A slack or run alarm is false if truth stayed more than a frame and 3 σ inside the limit for a second around it. A limit
truly reached must have its slack-lost within a frame's time of what the sensors could tell, and a warning before it
wherever physics allowed one. σ must be honest, every alarm's life legal, every seq there.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime

from interlock.watch.catalogue import CATALOGUE
from interlock.watch.state import AlarmLine, HouseLine, LinkLine, ShowLine
from tests.campaign.booths import WALL_S
from tests.campaign.drive import Run

FRAME_S = 1.0 / 24.0
ARM_PLAN_S = -30.0
"""The clock steps of these shows come after the arming."""
SHARES = {"slack-low": 0.5, "slack-critical": 0.75, "slack-lost": 1.0}
JUDGED = ("starting", "running", "running-out")
LEGAL = {
    ("normal", "unacknowledged"), ("unacknowledged", "returned-unacknowledged"),
    ("unacknowledged", "latched-unacknowledged"), ("unacknowledged", "suppressed"),
    ("returned-unacknowledged", "unacknowledged"), ("latched-unacknowledged", "unacknowledged"),
    ("suppressed", "unacknowledged"), ("suppressed", "normal"), ("unacknowledged", "unacknowledged"),
    ("returned-unacknowledged", "suppressed"),
}  # fmt: skip
"""Transitions that can be seen with nobody acknowledging anything (reference.md's table)."""


class Oracle:
    """One show's truth beside what was said of it."""

    def __init__(self, run: Run) -> None:
        self.run = run
        self.room = run.booth.room
        self.links = [k.id for k in run.show.links]
        self.zero_s = next((x.show_s for x in run.lines if x.show_s is not None), None)
        phases = [x for x in run.lines if isinstance(x, ShowLine)]
        self.zero_plan_s = self._zero_plan_s()
        self.phases = [(self._plan_s(x.show_s), x.phase) for x in phases if x.show_s is not None]
        self.base_fr = [x.drift_fr for x in self.room.truth(ARM_PLAN_S).loops]
        self.unsure = self._unsure_signals()

    def _zero_plan_s(self) -> float | None:
        """Plan time of the desk's show zero; the wall clock of these shows steps later. A lost line may date it late."""
        for x in self.run.lines:
            if isinstance(x, ShowLine) and x.show_s is not None:
                return datetime.fromisoformat(x.at).timestamp() - WALL_S - x.show_s
        return None

    def _plan_s(self, show_s: float) -> float:
        assert self.zero_plan_s is not None
        return show_s + self.zero_plan_s

    def _unsure_signals(self) -> set[str]:
        """Houses whose contacts or counters lie, and so what is judged of them."""
        lies: set[str] = set()
        for fault in self.run.scenario.faults:
            if fault.kind in ("stuck-contact", "chatter"):
                lies.add(fault.signal.split(".")[0])
            elif fault.kind == "dead-counter":
                lies.add(fault.house)
            elif fault.kind in ("creep", "wander") and not self._counted(fault.house):
                lies.add(
                    fault.house
                )  # a contact alone cannot tell, and the show file says that it does not happen
        return lies

    def _counted(self, house: str) -> bool:
        return any(f"{house}.frames" in a.wiring.signals() for a in self.run.show.adapters)

    def drift(self, i: int, plan_s: float) -> float:
        """True drift of link ``i`` since the desk was armed."""
        return self.room.truth(plan_s).loops[i].drift_fr - self.base_fr[i]

    def ended_s(self, i: int) -> float:
        """Plan time from which nothing is judged of link ``i``: released, or parted."""
        return min(
            (
                e.at_s
                for e in self.room.log
                if e.subject == self.links[i] and e.what in ("released", "parted")
            ),
            default=math.inf,
        )

    def phase_at(self, plan_s: float) -> str:
        """The desk's phase then."""
        now = "armed"
        for at_s, phase in self.phases:
            if at_s > plan_s:
                break
            now = phase
        return now

    def findings(self) -> Iterator[str]:
        """Everything that is wrong with this show."""
        yield from self._sequence()
        yield from self._lives()
        if self.zero_plan_s is None or not self.phases:
            return
        yield from self._false_slack()
        yield from self._missed()
        yield from self._false_run()
        yield from self._missed_stops()
        yield from self._late_starts()
        yield from self._unknown()
        yield from self._released()
        yield from self._honest()

    def _sequence(self) -> Iterator[str]:
        if [x.seq for x in self.run.lines] != list(range(len(self.run.lines))):
            yield "lines are not numbered without a gap"

    def _lives(self) -> Iterator[str]:
        states: dict[tuple[str, str], str] = {}
        for x in self.run.lines:
            if isinstance(x, AlarmLine):
                key = (x.code, x.subject)
                before = states.get(key, "normal")
                states[key] = x.state
                if (before, x.state) not in LEGAL:
                    yield f"{x.code} on {x.subject} went from {before} to {x.state} at {x.at}"
                if before == "unacknowledged" == x.state and x.priority != "high":
                    yield f"{x.code} on {x.subject} was said twice at {x.at}"
                if x.state == "latched-unacknowledged" and not CATALOGUE[x.code].latching:
                    yield f"{x.code} on {x.subject} latched"

    def _trips(self, *codes: str) -> Iterator[AlarmLine]:
        states: dict[tuple[str, str], bool] = {}
        for x in self.run.lines:
            if isinstance(x, AlarmLine) and x.code in codes:
                was = states.get((x.code, x.subject), False)
                states[x.code, x.subject] = x.active
                if x.active and not was:
                    yield x

    def _false_slack(self) -> Iterator[str]:
        for x in self._trips(*SHARES):
            i = self.links.index(x.subject)
            link = self.run.show.links[i]
            assert x.show_s is not None
            t_s = self._plan_s(x.show_s)
            if t_s >= self.ended_s(i) - 1.0 or set(x.subject.split(">")) & self.unsure:
                continue
            if "switch" in x.values:
                continue  # the limit switch itself closed: the room's own
            sigma = self._sigma(i, x.show_s)
            near = False
            for k in range(-20, 21):
                d = self.drift(i, t_s + k / 20.0)
                limit = link.spill_fr if d >= 0.0 else link.tight_fr
                near = near or abs(d) > SHARES[x.code] * limit - 1.0 - 3.0 * sigma
            if not near:
                yield f"{x.code} on {x.subject} at show {x.show_s:.3f} s is false: truth {self.drift(i, t_s):.2f} fr"

    def _sigma(self, i: int, show_s: float) -> float:
        lines = [
            x
            for x in self.run.lines
            if isinstance(x, LinkLine) and x.link == self.links[i] and x.show_s is not None
        ]
        near = [x.sigma_fr for x in lines if x.sigma_fr is not None and abs((x.show_s or 0.0) - show_s) < 1.5]
        return max(near, default=1.0)

    def _blind_spell(self, i: int, t_s: float) -> bool:
        """Whether the sensors could not tell: unknown or uncertain within 1.5 s before, or lines missing."""
        a, b = self.links[i].split(">")
        if {a, b} & self.unsure:
            return True
        show_s = t_s - (self.zero_plan_s or 0.0)
        for x in self.run.lines:
            if not isinstance(x, LinkLine) or x.link != self.links[i] or x.show_s is None:
                continue
            if abs(x.show_s - show_s) < 2.5 and (x.drift_fr is None or (x.sigma_fr or 0.0) > 4.0):
                return True
        return False

    def _missed(self) -> Iterator[str]:
        trips = {(x.code, x.subject): x for x in reversed(list(self._trips(*CATALOGUE)))}
        for i, link in enumerate(self.run.show.links):
            hits = [
                t
                for level in (link.spill_fr + self.base_fr[i], self.base_fr[i] - link.tight_fr)
                for t, way in self.room.crossings(link.id, level)
                if (way > 0) == (level > self.base_fr[i])
            ]
            first_s = min((t for t in hits if t > (self.zero_plan_s or 0.0)), default=None)
            if first_s is None or first_s > self.ended_s(i) or self._blind_spell(i, first_s):
                continue
            if self.phase_at(first_s) not in JUDGED:
                continue
            x = trips.get(("slack-lost", link.id))
            if x is None:
                if abs(self.drift(i, first_s + 1.0)) - max(link.tight_fr, link.spill_fr) < 1.5:
                    continue  # it hardly touched the limit
                yield f"slack-lost on {link.id} never came; truth crossed at plan {first_s:.3f} s"
                continue
            crossed = x.values["crossed_s"]
            assert isinstance(crossed, float)
            rate = abs(self.drift(i, first_s + 0.05) - self.drift(i, first_s - 0.05)) / 0.1
            allow_s = FRAME_S + (3.0 * self._sigma(i, crossed) + 0.5) / max(rate, 1e-3)
            late_s = self._plan_s(crossed) - first_s
            if abs(late_s) > allow_s and "switch" not in x.values:
                yield f"slack-lost on {link.id} is dated {late_s:+.3f} s off the crossing (allowed {allow_s:.3f})"
            yield from self._warned(i, first_s, trips)

    def _warned(self, i: int, first_s: float, trips: dict[tuple[str, str], AlarmLine]) -> Iterator[str]:
        a, b = self.links[i].split(">")
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
            if code in codes and s in (a, b, self.links[i]) and x.show_s is not None and self._plan_s(x.show_s) < first_s
        ]  # fmt: skip
        if not earlier:
            yield f"the limit of {self.links[i]} was reached at plan {first_s:.3f} s with no warning before it"

    def turning(self, house: str, plan_s: float) -> bool:
        """Whether its motor truly had current then."""
        on = False
        for e in self.room.log:
            if e.at_s > plan_s:
                break
            if e.subject == house and e.what in ("start", "stop"):
                on = e.what == "start"
        return on

    def _false_run(self) -> Iterator[str]:
        for x in self._trips("run-lost", "start-late"):
            if x.subject in self.unsure:
                continue
            crossed = x.values["crossed_s"]
            assert isinstance(crossed, float)
            # A stop within an adapter's silence is dated in its middle; else the contact dates it to milliseconds.
            samples = [self._plan_s(crossed) + s / 50.0 for s in range(-5, 6)]
            if x.show_s is not None and x.show_s - crossed > 0.2:
                samples += [self._plan_s(crossed + n / 10.0 * (x.show_s - crossed)) for n in range(-10, 11)]
            if all(self.turning(x.subject, t) for t in samples):
                yield f"{x.code} on {x.subject} at show {crossed:.3f} s is false: it was turning all the time"
            if x.code == "run-lost" and not any(
                e.what == "start" and e.subject == x.subject
                for e in self.room.log
                if e.at_s < self._plan_s(crossed)
            ):
                yield f"run-lost on {x.subject} at show {crossed:.3f} s is false: it had never turned"

    def _missed_stops(self) -> Iterator[str]:
        """A motor that stopped with film still to run has its run-lost, dated by the contact, unless the crew said so."""
        trips = list(self._trips("run-lost"))
        for e in self.room.log:
            if e.what != "stop" or e.text in ("motor-off", "jog") or e.subject in self.unsure:
                continue
            if self.zero_plan_s is None or e.at_s <= self.zero_plan_s or self.phase_at(e.at_s) not in JUDGED:
                continue
            if not self.turning(e.subject, e.at_s - 0.001):
                continue  # cut already, and pulled tight while it coasted
            k = next(k for k, h in enumerate(self.run.show.houses) if h.id == e.subject)
            frame = self.room.truth(e.at_s).machines[k].frame
            if frame > self.run.show.length_fr - 0.04 * self.run.show.first_picture_at_fr[k] - 24.0:
                continue  # within what the survey leaves open, its film may be through
            if not self._heard(e.subject, e.at_s):
                continue
            dated = [x.values["crossed_s"] for x in trips if x.subject == e.subject]
            if not any(isinstance(c, float) and abs(self._plan_s(c) - e.at_s) < 0.35 for c in dated):
                yield f"{e.subject} stopped at plan {e.at_s:.3f} s ({e.text}) and no run-lost says so"

    def _heard(self, house: str, plan_s: float) -> bool:
        """Whether its adapter was heard all the time around then."""
        near = [
            x for x in self.run.lines
            if isinstance(x, HouseLine) and x.house == house and x.show_s is not None
            and abs(self._plan_s(x.show_s) - plan_s) < 3.0
        ]  # fmt: skip
        return bool(near) and all(x.run is not None for x in near)

    def _silent(self, link: str, plan_s: float) -> bool:
        """Whether an adapter of one of the two houses said nothing then."""
        ends = set(link.split(">"))
        for f in self.run.scenario.faults:
            if f.kind not in ("silence", "unplug", "restart") or f.at_s is None:
                continue
            spec = next(a for a in self.run.show.adapters if a.name == f.adapter)
            if (
                ends & {s.split(".")[0] for s in spec.wiring.signals()}
                and f.at_s <= plan_s <= f.at_s + f.for_s
            ):
                return True
        return False

    def _rate(self, x: LinkLine, i: int, t_s: float) -> Iterator[str]:
        """The rate that was said, against the truth, where nothing started or stopped within the last second."""
        if x.rate_fps is None or t_s + 0.1 > self.room.now_s or (x.sigma_fr or 0.0) > 1.0:
            return
        if any(
            -2.0 < e.at_s - t_s < 0.2 and e.what in ("start", "stop", "fault", "tight") for e in self.room.log
        ):
            return
        true_fps = (self.drift(i, t_s + 0.1) - self.drift(i, t_s - 0.1)) / 0.2
        if abs(true_fps - x.rate_fps) > 2.0:
            yield f"rate of {x.link} at show {x.show_s:.2f} s is said {x.rate_fps:.2f} and is {true_fps:.2f} fps"

    def _unknown(self) -> Iterator[str]:
        """While an adapter is silent, nothing that hangs on it is said as if it were known."""
        spells = [
            (f.at_s + 1.2, f.at_s + f.for_s - 0.1, f.adapter)
            for f in self.run.scenario.faults
            if f.kind in ("silence", "unplug") and f.at_s is not None
        ]
        delayed = {f.adapter for f in self.run.scenario.faults if f.kind == "delayed"}
        for begin_s, end_s, name in spells:
            if name in delayed:
                continue  # a late line is still a word
            spec = next(a for a in self.run.show.adapters if a.name == name)
            mine = {s.split(".")[0] for s in spec.wiring.signals()}
            for x in self.run.lines:
                if not isinstance(x, HouseLine | LinkLine) or x.show_s is None:
                    continue
                if not begin_s < self._plan_s(x.show_s) < end_s:
                    continue
                if (
                    isinstance(x, HouseLine)
                    and x.house in mine
                    and (x.run is not None or x.frame is not None)
                ):
                    yield f"house {x.house} is said as known at show {x.show_s:.2f} s while {name} is silent"
                    return
                if isinstance(x, LinkLine) and set(x.link.split(">")) & mine and x.drift_fr is not None:
                    yield f"drift of {x.link} is said as known at show {x.show_s:.2f} s while {name} is silent"
                    return

    def _late_starts(self) -> Iterator[str]:
        """A house that stands when a neighbour's start has used half of their link is start-late."""
        said = {x.subject for x in self._trips("start-late")}
        first = {
            e.subject: e.at_s for e in reversed(self.room.log) if e.what == "start" and e.at_s > ARM_PLAN_S
        }
        for i, link in enumerate(self.run.show.links):
            for house, beside, limit_fr in (
                (link.downstream, link.upstream, link.spill_fr), (link.upstream, link.downstream, link.tight_fr),
            ):  # fmt: skip
                if beside not in first or {house, beside} & self.unsure or house in said:
                    continue
                due_s = first[beside] + 0.5 * limit_fr / self.run.show.fps
                ran = [self.turning(beside, first[beside] + s) for s in (0.05, due_s - first[beside])]
                if (
                    not all(ran)
                    or first.get(house, 1e9) < due_s + 0.3
                    or self.phase_at(due_s + 0.1) != "starting"
                ):
                    continue
                if (
                    self.zero_plan_s is not None
                    and self._heard(house, due_s)
                    and not self._blind_spell(i, due_s)
                ):
                    yield f"{house} had not started at plan {due_s:.3f} s and no start-late says so"

    def _released(self) -> Iterator[str]:
        """No link is let go while its film is still to run."""
        for x in self.run.lines:
            if isinstance(x, LinkLine) and x.state == "released" and x.show_s is not None:
                i = self.links.index(x.link)
                t_s = self._plan_s(x.show_s)
                frame = self.room.truth(min(t_s, self.room.now_s)).machines[i].frame
                open_fr = self.run.show.length_fr - 0.06 * self.run.show.first_picture_at_fr[i] - 48.0
                if frame < open_fr and x.link.split(">")[0] not in self.unsure:
                    yield f"{x.link} is released at show {x.show_s:.2f} s with {open_fr - frame:.0f} frames to run"
                    return

    def _honest(self) -> Iterator[str]:
        worst = 0.0
        for x in self.run.lines:
            if not isinstance(x, LinkLine) or x.drift_fr is None or x.show_s is None or x.show_s < 0.0:
                continue
            i = self.links.index(x.link)
            t_s = self._plan_s(x.show_s)
            if t_s > self.ended_s(i) - 0.5 or set(x.link.split(">")) & self.unsure or t_s > self.room.now_s:
                continue
            if self._silent(x.link, t_s):
                continue  # what happens in the first 750 ms of a silence nobody can know yet
            link = self.run.show.links[i]
            true_fr = self.drift(i, t_s)
            if not -link.tight_fr <= true_fr <= link.spill_fr:
                continue  # film on the floor: nobody needs the frame any more
            yield from self._rate(x, i, t_s)
            error = abs(x.drift_fr - true_fr)
            if error > 0.5 + 4.0 * (x.sigma_fr or 0.0) and error > worst:
                worst = error
                found = f"drift of {x.link} at show {x.show_s:.2f} s is {error:.2f} fr off, sigma {x.sigma_fr:.2f}"
        if worst > 0.0:
            yield found
