"""What must hold of every show, judged by the simulator's truth. Each finding is a sentence; none is what is wanted.

σ must be honest, every alarm's life legal, every seq there. What must hold of each alarm is in the ``oracle_…`` files.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator

from interlock.watch.catalogue import CATALOGUE
from interlock.watch.state import AlarmLine, HouseLine, LinkLine
from tests.campaign.beside import Beside
from tests.campaign.heard import Heard
from tests.campaign.oracle_forecast import Spans
from tests.campaign.oracle_light import Lights
from tests.campaign.oracle_room import Rooms
from tests.campaign.oracle_run import Runs
from tests.campaign.oracle_slack import Slacks
from tests.campaign.oracle_speed import Speeds

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
        yield from Slacks(self).findings()
        yield from Runs(self).findings()
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
