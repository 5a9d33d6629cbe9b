"""What the desk holds between two inputs, and the few things that all its parts do with it.

The parts (houses, links, cues, adapters, phases, operator) are modules of functions over this one
object: the fold has one state, and it is all here.
"""

from __future__ import annotations

import heapq
import math
from datetime import UTC, datetime

from interlock.plan.timeline import picture_spans
from interlock.showfile.show import Show
from interlock.watch.alarms import Alarm
from interlock.watch.catalogue import LIVE, priority_in, replaced_by
from interlock.watch.creep import Creep
from interlock.watch.flood import FloodWatch
from interlock.watch.house import AdapterWatch, HouseWatch
from interlock.watch.inputs import Anchor
from interlock.watch.loop import Loop
from interlock.watch.signal import Signal
from interlock.watch.state import Line, Priority, ShowPhase

# Deadlines of one instant fire in this order: causes come first.
RANK_SHOW, RANK_ADAPTER, RANK_HOUSE, RANK_LINK, RANK_ALARM, RANK_SECOND = range(6)

Values = dict[str, float | str | bool | None]


class World:
    """The whole state of the fold."""

    def __init__(self, show: Show, anchor: Anchor, *, rehearsal: bool) -> None:
        self.show = show
        self.rehearsal = rehearsal
        self.t_s = self.started_s = anchor.at_s
        self.anchor = anchor
        self.late = False
        """The input being folded is a fact over 2 s old: only latching alarms may trip by it."""
        self.lines: list[Line] = []
        self.seq = 0
        self.beat = 0
        self.phase: ShowPhase = "waiting"
        self.zero_s: float | None = None
        self.auto_arm = True
        self.stand_since_s: float | None = None
        self.plan_shift_s = 0.0
        self.stopped_s = self.started_anew_s = -math.inf
        """When the show last became ``stopped``, and when somebody said ``restart``."""
        self.leads: str | None = None
        self.booth: str | None = None
        self.silenced, self.record_ok = False, True
        self.speed: float | None = None
        self.newest_s: float | None = None
        self.houses = [HouseWatch(k, h, show) for k, h in enumerate(show.houses)]
        self.house_index = {h.id: h.index for h in self.houses}
        self.loops = [
            Loop(
                link,
                self.houses[i].machine,
                self.houses[i + 1].machine,
                show.houses[i].supply != show.houses[i + 1].supply
                or show.houses[i].motor != show.houses[i + 1].motor,
                (show.alarms.slack_low, show.alarms.slack_critical, 1.0),
            )
            for i, link in enumerate(show.links)
        ]
        self.creeps = [Creep.of(show, i) for i in range(len(show.links))]
        self.slack_shares = (
            ("slack-lost", 1.0),
            ("slack-critical", show.alarms.slack_critical),
            ("slack-low", show.alarms.slack_low),
        )
        """Shares of a limit at which the slack alarms trip; gravest first, so that it is there when the milder is judged."""
        self.near: set[int] = set()
        """Links that may be at a threshold before their machines' next counts."""
        self.blind_since: list[float | None] = [None] * len(show.links)
        self.link_index = {k.id: i for i, k in enumerate(self.loops)}
        self.platters = {"feed": Signal(), "take-up": Signal()}
        self.adapters = [AdapterWatch(i, a, anchor.at_s) for i, a in enumerate(show.adapters)]
        self.link_adapters = [self._adapters_of(i) for i in range(len(show.links))]
        """The adapters by which a link is judged, in the show file's order."""
        self.adapter_index = {a.name: a.index for a in self.adapters}
        self.spans = picture_spans(show)
        self.alarms: dict[tuple[str, str], Alarm] = {}
        self.alarm_list: list[Alarm] = []
        # Subjects that have ever had an alarm: of any other there is nothing to clear.
        self.alarmed: set[str] = set()
        self.flood = FloodWatch()
        self.contacts: dict[str, tuple[str, int, Signal]] = {}
        """Signal name → (what it is of, its index, the signal itself)."""
        self.counters: dict[str, int] = {}
        self.arms: dict[str, int] = {}
        self._wire()
        self._dues: dict[tuple[int, int], float] = {}
        # The earliest first, with those that were since put off: nothing is due before the first.
        self.heap: list[tuple[float, int, int]] = []
        self._stamp = (math.nan, "")
        self.links_said: list[object] = [None] * len(self.loops)

    def _wire(self) -> None:
        for h in self.houses:
            for name, signal in (
                ("run", h.machine.run), ("lamp", h.lamp), ("dowser", h.dowser), ("film", h.film),
            ):  # fmt: skip
                self.contacts[f"{h.id}.{name}"] = (name, h.index, signal)
        for i, loop in enumerate(self.loops):
            self.contacts[f"{loop.id}.tight"] = ("tight", i, loop.tight_switch)
            self.contacts[f"{loop.id}.spill"] = ("spill", i, loop.spill_switch)
            self.arms[f"{loop.id}.arm"] = i
        for name, signal in self.platters.items():
            self.contacts[f"{name}.run"] = ("platter", 0, signal)
        for spec in self.show.adapters:
            for signal_name in spec.wiring.signals():
                if signal_name in self.contacts:
                    self.contacts[signal_name][2].wired = True
            for wire in spec.wiring.counters.values():
                k = self.house_index.get(wire.signal.removesuffix(".frames"))
                if k is not None:
                    self.counters[wire.signal] = k
                    self.houses[k].machine.counter.wired = True
                    self.houses[k].machine.counter.frames_per_pulse = wire.frames_per_pulse
        self.seen = [h for h in self.houses if h.machine.run.wired or h.machine.counter.wired]
        """Houses of whose machine anything is wired at all: nothing waits for a word that can never come."""
        self.told = [
            self.houses[i] in self.seen and self.houses[i + 1] in self.seen for i in range(len(self.loops))
        ]
        """Link → whether both of its machines are among these."""

    def _adapters_of(self, link: int) -> list[AdapterWatch]:
        ends = (self.houses[link].id, self.houses[link + 1].id)
        signals = [f"{e}.{s}" for e in ends for s in ("run", "frames")] + [f"{self.loops[link].id}.arm"]
        return [a for a in self.adapters if any(s in a.signals for s in signals)]

    # Time

    def wall_s(self, t_s: float) -> float:
        """UTC seconds at desk second ``t_s``."""
        return self.anchor.wall_s + (t_s - self.anchor.at_s)

    def at(self, t_s: float) -> str:
        """RFC 3339 UTC with milliseconds."""
        if self._stamp[0] != t_s:
            when = datetime.fromtimestamp(round(self.wall_s(t_s), 3), UTC)
            self._stamp = (t_s, when.isoformat(timespec="milliseconds").replace("+00:00", "Z"))
        return self._stamp[1]

    def show_s(self, t_s: float) -> float | None:
        """Seconds after show zero; None before."""
        return None if self.zero_s is None else t_s - self.zero_s

    def plan_s(self, t_s: float) -> float:
        """Plan time: from the planned motor_start until show zero, then shifted by it; it stands while all stand."""
        if self.zero_s is None:
            return self.wall_s(t_s) - self.show.motor_start_wall_s
        if self.stand_since_s is not None:
            t_s = min(t_s, self.stand_since_s)
        return t_s - self.zero_s - self.plan_shift_s + self.show.least_start_delay_s

    # Deadlines

    def due(self, rank: int, index: int, at_s: float | None) -> None:
        """The thing (rank, index) falls due at ``at_s`` and at no other time; None: not at all."""
        key = (rank, index)
        if at_s is None or at_s == math.inf:
            self._dues.pop(key, None)
        elif self._dues.get(key) != at_s:
            self._dues[key] = at_s
            heapq.heappush(self.heap, (at_s, rank, index))

    def due_at(self, rank: int, index: int) -> float | None:
        """When the thing (rank, index) falls due; None: not at all."""
        return self._dues.get((rank, index))

    def next_due_s(self) -> float | None:
        """The earliest deadline."""
        heap = self.heap
        while heap and self._dues.get((heap[0][1], heap[0][2])) != heap[0][0]:
            heapq.heappop(heap)
        return heap[0][0] if heap else None

    def pop_due(self, by_s: float) -> tuple[float, int, int] | None:
        """Take the earliest deadline off if it falls due by then: desk second, rank, index."""
        heap, dues = self.heap, self._dues
        while heap and heap[0][0] <= by_s:
            due = heapq.heappop(heap)
            key = (due[1], due[2])
            if dues.get(key) == due[0]:
                del dues[key]
                return due
        return None

    # Alarms

    def alarm(self, code: str, subject: str) -> Alarm:
        """The alarm, made when first asked for."""
        found = self.alarms.get((code, subject))
        if found is None:
            found = self.alarms[code, subject] = Alarm(code, subject, len(self.alarm_list))
            self.alarm_list.append(found)
            self.alarmed.add(subject)
        return found

    def active(self, code: str, subject: str) -> bool:
        """Whether its condition holds now."""
        found = self.alarms.get((code, subject))
        return found is not None and found.active

    def may_trip(self, alarm: Alarm) -> bool:
        """In this phase, by this fact."""
        return alarm.code in LIVE[self.phase] and (alarm.kind.latching or not self.late)

    def replaced(self, alarm: Alarm) -> bool:
        """Whether a graver alarm on the same subject says it already."""
        code = replaced_by(alarm.code)
        while code is not None:
            if self.active(code, alarm.subject):
                return True
            code = replaced_by(code)
        return False

    def priority(self, alarm: Alarm) -> Priority:
        """In this phase."""
        return priority_in(alarm.code, self.phase)
