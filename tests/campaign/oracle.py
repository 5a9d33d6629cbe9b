"""What must hold of every show, judged by the simulator's truth. Each finding is a sentence; none is what is wanted.

A slack or run alarm is false if truth stayed more than a frame and 3 σ inside the limit for a second around it. A limit
truly reached must have its slack-lost within a frame's time of what the sensors could tell, and a warning before it
wherever physics allowed one. σ must be honest, every alarm's life legal, every seq there.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator

from interlock.watch.catalogue import CATALOGUE
from interlock.watch.state import AlarmLine, HouseLine, LinkLine
from tests.campaign.beside import ARM_PLAN_S, Beside
from tests.campaign.heard import Heard
from tests.campaign.oracle_light import Lights
from tests.campaign.oracle_room import Rooms
from tests.campaign.oracle_speed import Spans, Speeds

FRAME_S = 1.0 / 24.0
SHARES = {"slack-low": 0.5, "slack-critical": 0.75, "slack-lost": 1.0}
TORN_S = 0.5
"""Film that tears at its limit lets its arm go at once, and for some readings the arm says that there is slack again."""
JUDGED = ("starting", "running", "running-out")
LEGAL = {
    ("normal", "unacknowledged"), ("unacknowledged", "returned-unacknowledged"),
    ("unacknowledged", "latched-unacknowledged"), ("unacknowledged", "suppressed"),
    ("returned-unacknowledged", "unacknowledged"), ("latched-unacknowledged", "unacknowledged"),
    ("suppressed", "unacknowledged"), ("suppressed", "normal"), ("unacknowledged", "unacknowledged"),
    ("returned-unacknowledged", "suppressed"), ("suppressed", "suppressed"),
}  # fmt: skip
"""Transitions that can be seen with nobody acknowledging anything (reference.md's table). Suppressed twice: it had gone, and
trips anew under the graver one."""


class Oracle(Beside):
    """The findings. ``errors``: after them, how many drifts were held against the truth, and the sum of (error/σ)²;
    ``spans``: how the intervals to a limit fared."""

    errors: tuple[int, float] = (0, 0.0)
    spans = Spans()

    def findings(self) -> Iterator[str]:
        """Everything that is wrong with this show."""
        yield from self._sequence()
        yield from self._lives()
        yield from self._false_restarts()
        heard = Heard(self)
        yield from Lights(self, heard).findings()
        yield from Rooms(self, heard).findings()
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
        self.spans = yield from Speeds(self).findings()

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

    def _false_restarts(self) -> Iterator[str]:
        """An adapter that did not begin anew is not said to have."""
        born = {f.adapter for f in self.run.scenario.faults if f.kind in ("restart", "restart-on-strike")}
        for x in self.trips("adapter-restarted"):
            if x.subject not in born:
                yield f"adapter-restarted on {x.subject} at {x.at} is false"

    def _false_slack(self) -> Iterator[str]:
        for x in self.trips(*SHARES):
            i = self.links.index(x.subject)
            link = self.run.show.links[i]
            assert x.show_s is not None
            t_s = self.plan_s(x.show_s)
            if t_s >= self.ended_s(i) - 1.0 or set(x.subject.split(">")) & self.unsure:
                continue
            if "switch" in x.values:
                continue  # the limit switch itself closed: the room's own
            # What the desk said of its certainty then and there; the lines beside it may be of a moment later.
            sigma = max(self.sigma(i, x.show_s), float(x.values.get("sigma_fr") or 0.0))
            near = False
            for k in range(-20, 21):
                d = self.drift(i, t_s + k / 20.0)
                limit = link.spill_fr if d >= 0.0 else link.tight_fr
                near = near or abs(d) > SHARES[x.code] * limit - 1.0 - 3.0 * sigma
            if not near:
                yield f"{x.code} on {x.subject} at show {x.show_s:.3f} s is false: truth {self.drift(i, t_s):.2f} fr"

    def _missed(self) -> Iterator[str]:
        trips = {(x.code, x.subject): x for x in reversed(list(self.trips(*CATALOGUE)))}
        for i, link in enumerate(self.run.show.links):
            hits = [
                t
                for level in (link.spill_fr + self.base_fr[i], self.base_fr[i] - link.tight_fr)
                for t, way in self.room.crossings(link.id, level)
                if (way > 0) == (level > self.base_fr[i])
            ]
            hits = sorted(t for t in hits if t > (self.zero_plan_s or 0.0))
            touched = 0
            while touched < len(hits) and self._hardly(i, hits[touched]):
                touched += 1
            x = trips.get(("slack-lost", link.id))
            if x is not None and touched:
                # One that hardly touched the limit may have been told or not: the alarm may be of it or of the next.
                crossed_s = self.plan_s(float(x.values["crossed_s"] or 0.0))
                if abs(self.drift(i, crossed_s)) > min(link.tight_fr, link.spill_fr) - 1.5:
                    continue  # it lay at its limit and was told of when the phase let it be
                hits = [min(hits[: touched + 1], key=lambda t: abs(t - crossed_s))]
            else:
                hits = hits[touched:]
            first_s = hits[0] if hits else None
            if first_s is None or first_s > self.ended_s(i) or self.blind_spell(i, first_s):
                continue
            if self.phase_at(first_s) not in JUDGED:
                continue
            if x is None:
                yield f"slack-lost on {link.id} never came; truth crossed at plan {first_s:.3f} s"
                continue
            crossed = x.values["crossed_s"]
            assert isinstance(crossed, float)
            rate = abs(self.drift(i, first_s + 0.05) - self.drift(i, first_s - 0.05)) / 0.1
            allow_s = FRAME_S + (3.0 * self.sigma(i, crossed) + 0.5) / max(rate, 1e-3)
            if self.torn(link.id, first_s):
                allow_s += TORN_S
            late_s = self.plan_s(crossed) - first_s
            if abs(late_s) > allow_s and "switch" not in x.values:
                yield f"slack-lost on {link.id} is dated {late_s:+.3f} s off the crossing (allowed {allow_s:.3f})"
            yield from self._warned(i, first_s, trips)

    def _hardly(self, i: int, hit_s: float) -> bool:
        """A second after it reached a limit the loop is not surely beyond it."""
        link = self.run.show.links[i]
        unsure_fr = max(1.5, 3.0 * self.sigma(i, hit_s - (self.zero_plan_s or 0.0)))
        return abs(self.drift(i, hit_s + 1.0)) - max(link.tight_fr, link.spill_fr) < unsure_fr

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
            if code in codes and s in (a, b, self.links[i]) and x.show_s is not None and self.plan_s(x.show_s) < first_s
        ]  # fmt: skip
        if not earlier:
            yield f"the limit of {self.links[i]} was reached at plan {first_s:.3f} s with no warning before it"

    def _false_run(self) -> Iterator[str]:
        for x in self.trips("run-lost", "start-late"):
            if x.subject in self.unsure:
                continue
            crossed = x.values["crossed_s"]
            assert isinstance(crossed, float)
            # A stop within an adapter's silence is dated in its middle, one that is first told after words that are missing
            # somewhere since the word before; else the contact dates it to milliseconds.
            near = 15 if x.subject in self.losing else 5
            samples = [self.plan_s(crossed) + s / 50.0 for s in range(-near, near + 1)]
            if x.show_s is not None and x.show_s - crossed > 0.2:
                samples += [self.plan_s(crossed + n / 10.0 * (x.show_s - crossed)) for n in range(-10, 11)]
            if all(self.turning(x.subject, t) for t in samples):
                yield f"{x.code} on {x.subject} at show {crossed:.3f} s is false: it was turning all the time"
            if x.code == "run-lost" and not any(
                e.what == "start" and e.subject == x.subject
                for e in self.room.log
                if e.at_s < self.plan_s(crossed)
            ):
                yield f"run-lost on {x.subject} at show {crossed:.3f} s is false: it had never turned"

    def _missed_stops(self) -> Iterator[str]:
        """A motor that stopped with film still to run has its run-lost, dated by the contact, unless the crew said so."""
        trips = list(self.trips("run-lost"))
        for e in self.room.log:
            if e.what != "stop" or e.text in ("motor-off", "jog") or e.subject in self.unsure:
                continue
            if self.zero_plan_s is None or e.at_s <= self.zero_plan_s or self.phase_at(e.at_s) not in JUDGED:
                continue
            if self.phase_at(e.at_s + 0.01) not in JUDGED:
                continue  # the crew said stop-all at the same moment
            if not self.turning(e.subject, e.at_s - 0.001):
                continue  # cut already, and pulled tight while it coasted
            k = next(k for k, h in enumerate(self.run.show.houses) if h.id == e.subject)
            frame = self.room.truth(e.at_s).machines[k].frame
            open_fr = max(
                0.04 * self.run.show.first_picture_at_fr[k] + 24.0, 3.3 * self.frame_sigma(e.subject, e.at_s)
            )
            if frame > self.run.show.length_fr - open_fr:
                continue  # within what the survey and a start that nobody heard leave open, its film may be through
            if not self.heard(e.subject, e.at_s):
                continue
            # An adapter that begins anew at that moment tells of it when it is there again.
            anew = any(
                isinstance(c := x.values["crossed_s"], float) and abs(self.plan_s(c) - e.at_s) < 1.0
                for x in self.trips("adapter-restarted")
            )
            dated = [x.values["crossed_s"] for x in trips if x.subject == e.subject]
            allow_s = 1.0 if anew else 0.35
            if not any(isinstance(c, float) and abs(self.plan_s(c) - e.at_s) < allow_s for c in dated):
                yield f"{e.subject} stopped at plan {e.at_s:.3f} s ({e.text}) and no run-lost says so"

    def _rate(self, x: LinkLine, i: int, t_s: float) -> Iterator[str]:
        """The rate that was said, against the truth, where nothing started or stopped within the last second."""
        if x.rate_fps is None or t_s + 0.1 > self.room.now_s or (x.sigma_fr or 0.0) > 1.0:
            return
        near = self._changes[bisect_left(self._changes, t_s - 3.0) : bisect_left(self._changes, t_s + 1.0)]
        if any(-2.0 < at_s - t_s < 0.2 for at_s in near):
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
                if not begin_s < self.plan_s(x.show_s) < end_s:
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
        said = {x.subject for x in self.trips("start-late")}
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
                    and self.heard(house, due_s)
                    and not self.blind_spell(i, due_s)
                ):
                    yield f"{house} had not started at plan {due_s:.3f} s and no start-late says so"

    def _released(self) -> Iterator[str]:
        """No link is let go while its film is still to run."""
        for x in self.run.lines:
            if isinstance(x, LinkLine) and x.state == "released" and x.show_s is not None:
                i, _ = self.ends[x.link]
                t_s = self.plan_s(x.show_s)
                frame = self.room.machines[i].print_frame(min(t_s, self.room.now_s))
                open_fr = self.run.show.length_fr - 0.06 * self.run.show.first_picture_at_fr[i] - 48.0
                if frame < open_fr and x.link.split(">")[0] not in self.unsure:
                    yield f"{x.link} is released at show {x.show_s:.2f} s with {open_fr - frame:.0f} frames to run"
                    return

    def _honest(self) -> Iterator[str]:
        worst = 0.0
        self._changes = sorted(e.at_s for e in self.room.log if e.what in ("start", "stop", "fault", "tight"))
        for x in self.run.lines:
            if not isinstance(x, LinkLine) or x.drift_fr is None or x.show_s is None or x.show_s < 0.0:
                continue
            i, ends = self.ends[x.link]
            t_s = self.plan_s(x.show_s)
            if t_s > self.ended_s(i) - 0.5 or not ends.isdisjoint(self.unsure) or t_s > self.room.now_s:
                continue
            if (
                self.silent(x.link, t_s)
                or self.by_hand(x.link, t_s)
                or self.swung(x.link)
                or self.underway(x.link, t_s)
            ):
                continue  # what happens in the first 750 ms of a silence nobody can know yet
            link = self.run.show.links[i]
            true_fr = self.drift(i, t_s)
            if not -link.tight_fr <= true_fr <= link.spill_fr:
                continue  # film on the floor: nobody needs the frame any more
            yield from self._rate(x, i, t_s)
            error = abs(x.drift_fr - true_fr)
            if x.sigma_fr:
                self.errors = (self.errors[0] + 1, self.errors[1] + (error / x.sigma_fr) ** 2)
            if error > 0.5 + 4.0 * (x.sigma_fr or 0.0) and error > worst:
                worst = error
                found = f"drift of {x.link} at show {x.show_s:.2f} s is {error:.2f} fr off, sigma {x.sigma_fr:.2f}"
        if worst > 0.0:
            yield found
