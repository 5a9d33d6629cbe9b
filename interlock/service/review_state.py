"""The state of the desk at a moment of its record, put together from what it said up to then.

Nothing is judged anew: the lines are those that the desk said during the show, laid over each other.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable
from datetime import UTC, datetime

import msgspec

from interlock.plan.timeline import expected_frame, time_of_frames
from interlock.service.review_lines import link_then, no_house, no_link
from interlock.showfile.show import Show
from interlock.watch.flood import FloodWatch
from interlock.watch.seconds import HouseRow, LinkRow
from interlock.watch.state import (
    AdapterLine,
    AlarmLine,
    CueLine,
    FloodState,
    HouseLine,
    Layout,
    Line,
    LinkLine,
    OperatorLine,
    ShowLine,
    ShowPhase,
    State,
)

COMING_S = 60.0
"""For how long a missed cue is shown, as on the live desk."""
_URGENCY = {"high": 0, "medium": 1, "low": 2}
_ASIDE = frozenset({"shelved", "suppressed", "out-of-service"})


class Said:
    """The newest line of everything. :meth:`copy` makes a checkpoint: lines are frozen, only the tables are copied."""

    def __init__(self, layout: Layout, show: Show) -> None:
        self.layout, self.show = layout, show
        self._index = {h.id: k for k, h in enumerate(show.houses)}
        self._plan = (0.0, show.least_start_delay_s)
        """(show second, plan second then): what the newest line that tells both has told."""
        self.seq = 0
        self.phase: ShowPhase = "waiting"
        self.houses: dict[str, HouseLine] = {}
        self.links: dict[str, LinkLine] = {}
        self.alarms: dict[tuple[str, str], AlarmLine] = {}
        self.alarm_order: dict[tuple[str, str], int] = {}
        """Which alarm was heard of first in the show: the desk lists the later ones before the earlier."""
        self.cues: dict[tuple[str, str], CueLine] = {}
        self.adapters: dict[str, AdapterLine] = {}
        self.leads: str | None = None
        self.booth: str | None = None
        self.silenced = False
        self.speed: float | None = None
        self.flood = FloodWatch()

    def copy(self) -> Said:
        """As it is now."""
        twin = copy.copy(self)
        for name in ("houses", "links", "alarms", "alarm_order", "cues", "adapters"):
            setattr(twin, name, dict(getattr(self, name)))
        twin.flood = self.flood.copy()
        return twin

    def take(self, line: Line) -> None:
        """One more line."""
        self.seq = line.seq
        if isinstance(line, HouseLine):
            self.houses[line.house] = line
            self._plan_from(line)
        elif isinstance(line, LinkLine):
            self.links[line.link] = line
        elif isinstance(line, AlarmLine):
            self._alarm(line)
        elif isinstance(line, CueLine):
            self.cues[line.house, line.cue] = line
        elif isinstance(line, ShowLine):
            self.phase = line.phase
        elif isinstance(line, AdapterLine):
            self.adapters[line.adapter] = line
        elif isinstance(line, OperatorLine) and line.refused is None:
            self._operator(line)

    def _plan_from(self, line: HouseLine) -> None:
        """The second of the plan at which its frame was expected: the record keeps the one and not the other."""
        if line.show_s is None or line.expected_frame is None or line.house not in self._index:
            return
        k = self._index[line.house]
        run_fr = line.expected_frame + self.show.first_picture_at_fr[k]
        if run_fr > 0.0:  # before its start a house stands at the same frame, whatever the time
            house = self.show.houses[k]
            self._plan = (
                line.show_s, time_of_frames(run_fr, house.start_delay_s, house.ramp_s, self.show.fps)
            )  # fmt: skip

    def plan_s(self, show_s: float) -> float:
        """Plan time at ``show_s``; it stands while every house does."""
        then_s, plan_s = self._plan
        stands = bool(self.houses) and all(h.run is False for h in self.houses.values())
        return plan_s if stands else plan_s + show_s - then_s

    def _alarm(self, line: AlarmLine) -> None:
        key = (line.code, line.subject)
        self.alarm_order.setdefault(key, len(self.alarm_order))
        self.flood.heard(_wall_s(line.at), line)
        before = self.alarms.pop(key, None)
        if line.state == "normal":
            return
        self.alarms[key] = line
        # A new alarm rings the bell again, also one that comes back before anybody has taken it.
        if line.active and line.state not in _ASIDE and (before is None or not before.active):
            self.silenced = False

    def _operator(self, line: OperatorLine) -> None:
        if line.action == "handover":
            self.leads, self.booth = line.by, line.booth
        elif line.action == "silence":
            self.silenced = True
        elif line.action == "speed":
            x = line.keys.get("x")
            self.speed = float(x) if isinstance(x, int | float) else self.speed

    def alarms_in_order(self) -> tuple[AlarmLine, ...]:
        """Worst first, as the desk has them."""
        return tuple(
            sorted(
                self.alarms.values(),
                key=lambda a: (
                    a.state in _ASIDE,
                    _URGENCY[a.priority],
                    not a.first_out,
                    -self.alarm_order[a.code, a.subject],
                ),
            )
        )

    def cues_in_order(self, show_s: float | None, later: Iterable[CueLine]) -> tuple[CueLine, ...]:
        """What is open, by due time; ``later``: the first word of cues of which nothing has been said yet."""
        found = []
        for c in self.cues.values():
            old = c.due_s is None or show_s is None or show_s - c.due_s > COMING_S
            if c.state != "done" and not (c.state == "missed" and old):
                found.append(c)
        found += [
            msgspec.structs.replace(c, state="coming")
            for c in later
            if (c.house, c.cue) not in self.cues and c.due_s is not None
        ]
        return tuple(sorted(found, key=lambda c: (c.due_s is None, c.due_s or 0.0))[:64])

    def house(self, name: str, row: HouseRow | None, at: str, show_s: float | None) -> HouseLine:
        """A house; ``row``: the second's figures, where they are newer than its last line."""
        line = self.houses.get(name) or no_house(name, at, show_s)
        if row is None or line.at > at:
            return line
        frame, sigma, speed = row
        k = self._index[name]
        expected = -self.show.first_picture_at_fr[k]
        if show_s is not None:
            expected = expected_frame(self.show, k, self.plan_s(show_s))
        return msgspec.structs.replace(
            line, at=at, show_s=show_s, frame=frame, expected_frame=expected, sigma_fr=sigma, speed_fps=speed
        )

    def state(
        self, *, at: str, show_s: float | None, beat: int, plan_s: float | None, later: Iterable[CueLine],
        houses: tuple[HouseRow, ...], links: tuple[LinkRow, ...], row_at: str,
        row_show_s: float | None, gap: bool = False,
    ) -> State:  # fmt: skip
        """All of it at ``at``. ``houses`` and ``links`` are the figures of the second that began at ``row_at`` and
        ``row_show_s``; ``plan_s`` as it is before show zero.

        ``gap``: nothing was recorded then, so nothing is known of any machine or link.
        """
        lay = self.layout
        if gap:
            return self._unknown(at, beat, plan_s)
        return State(
            seq=self.seq, at=at, show_s=show_s, phase=self.phase, beat=beat,
            plan_s=plan_s if show_s is None else self.plan_s(show_s), age_s=None,
            houses=tuple(
                self.house(h.house, houses[k] if k < len(houses) else None, row_at, row_show_s)
                for k, h in enumerate(lay.houses)
            ),
            links=tuple(
                link_then(
                    self.links.get(n.link) or no_link(n.link, row_at, row_show_s), n,
                    links[k] if k < len(links) else None, row_at, row_show_s,
                )
                for k, n in enumerate(lay.links)
            ),
            alarms=self.alarms_in_order(), cues=self.cues_in_order(show_s, later),
            adapters=tuple(self.adapters.values()), leads=self.leads, booth=self.booth, silenced=self.silenced,
            record_ok=("record-failing", "desk") not in self.alarms, speed=self.speed, flood=self._flood(at, show_s),
        )  # fmt: skip

    def _flood(self, at: str, show_s: float | None) -> FloodState | None:
        now_s = _wall_s(at)
        span = self.flood.standing(now_s)
        if span is None:
            return None
        return FloodState(
            since_at=_stamp(span.start_s),
            since_s=None if show_s is None else show_s - (now_s - span.start_s),
            alarms=span.alarms,
            recent=self.flood.recent(now_s),
            ends_at=_stamp(span.end_s),
        )

    def _unknown(self, at: str, beat: int, plan_s: float | None) -> State:
        lay = self.layout
        return State(
            seq=self.seq, at=at, show_s=None, phase=self.phase, beat=beat, plan_s=plan_s, age_s=None,
            houses=tuple(no_house(h.house, at, None) for h in lay.houses),
            links=tuple(no_link(n.link, at, None) for n in lay.links),
            alarms=self.alarms_in_order(), cues=(), adapters=(), leads=self.leads, booth=self.booth,
            silenced=self.silenced, record_ok=False, speed=self.speed,
        )  # fmt: skip


def _wall_s(at: str) -> float:
    return datetime.fromisoformat(at).timestamp()


def _stamp(wall_s: float) -> str:
    return datetime.fromtimestamp(wall_s, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
