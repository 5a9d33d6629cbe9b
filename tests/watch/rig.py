"""A small booth for the desk's tests: machines that move by closed form, and the readings that their adapter would send.

It shares nothing with the desk but the signals and the show: the truth is integrated here on its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TypeVar

from interlock.showfile.show import House, Link, Part, Show
from interlock.signals import AdapterSpec, Contacts, CounterWire, Counts, Presence, Wiring
from interlock.watch.desk import Desk
from interlock.watch.inputs import Action, Anchor, Tick
from interlock.watch.state import AlarmLine, Line, LinkLine

L = TypeVar("L", bound=Line)
WALL0_S = 1_800_000_000.0
FPS = 24.0


def make_show(n: int = 4, *, counters: bool = True, minutes: float = 2.0, **house: object) -> Show:
    """``n`` houses named from 1, links of 200 frames with 48 frames either way, one adapter a house."""
    ids = [str(k + 1) for k in range(n)]
    frames = int(minutes * 60 * FPS)
    given: dict[str, object] = {"lamp_lead_s": 5.0, "ramp_s": 1.2, "coast_s": 0.3, **house}
    adapters = []
    for i in ids:
        levels = {0: f"{i}.run", 1: f"{i}.lamp", 2: f"{i}.dowser", 3: f"{i}.film"}
        wires = {0: CounterWire(f"{i}.frames")} if counters else {}
        adapters.append(AdapterSpec(f"a{i}", "simulator", {}, Wiring(levels, wires)))
    return Show(
        title="Rig",
        film_key="35mm-4p",
        fps=FPS,
        motor_start_wall_s=WALL0_S + 60.0,
        timezone="UTC",
        first_picture_fr=288.0,
        parts=(Part("one", "feature", frames, 0), Part("tail", "tail", 600, frames)),
        houses=tuple(House(i, f"House {i}", **given) for i in ids),  # type: ignore[arg-type]
        links=tuple(
            Link(a, b, 200.0, path_tolerance=0.001, tight_fr=48.0, spill_fr=48.0) for a, b in pairwise(ids)
        ),
        adapters=tuple(adapters),
    )


@dataclass
class Truth:
    """One machine: (start, stop) spans in desk seconds, its speed, its contacts by hand."""

    spans: list[tuple[float, float]] = field(default_factory=list)
    fps: float = FPS
    ramp_s: float = 1.2
    coast_s: float = 0.3
    lamp: list[float] = field(default_factory=list)
    dowser: list[float] = field(default_factory=list)
    film_gone_s: float = math.inf

    def frames(self, t: float) -> float:
        """Frames run at ``t``."""
        total = 0.0
        for start, stop in self.spans:
            run = min(t, stop) - start
            if run <= 0:
                continue
            total += self.fps * (
                run * run / (2 * self.ramp_s) if run < self.ramp_s else run - self.ramp_s / 2
            )
            share = min(1.0, (min(t, stop) - start) / self.ramp_s)
            over = min(max(0.0, t - stop), share * self.coast_s)
            total += self.fps * (share * over - over * over / (2 * self.coast_s))
        return total

    def run(self, t: float) -> bool:
        """Its contact."""
        return any(a <= t < b for a, b in self.spans)

    def pulse_s(self, n: int, before: float) -> float:
        """When frame ``n`` was complete, to the millisecond below."""
        low, high = (before - 0.3 if self.frames(before - 0.3) < n else 0.0), before
        for _ in range(30):
            mid = (low + high) / 2
            low, high = (mid, high) if self.frames(mid) < n else (low, mid)
        return math.floor(high * 1000) / 1000


class Rig:
    """Feeds a desk from the truth. Lines heard are in :attr:`lines`."""

    def __init__(self, show: Show, **desk: object) -> None:
        self.show = show
        self.desk = Desk(show, Anchor(0.0, WALL0_S), **desk)  # type: ignore[arg-type]
        self.truth = [Truth() for _ in show.houses]
        self.counters = bool(show.adapters[0].wiring.counters)
        self.silent: list[tuple[str, float, float]] = []
        self.counted_from: dict[int, int] = {}
        self.inputs: list[object] = []
        self.lines: list[Line] = []
        self.t = 0.0
        self._said: list[object] = [None] * len(show.houses)
        self._tick = 0

    def drift(self, i: int, t: float) -> float:
        """True drift of link ``i``."""
        return self.truth[i].frames(t) - self.truth[i + 1].frames(t)

    def feed(self, x: object) -> list[Line]:
        """One input."""
        self.inputs.append(x)
        out = self.desk.step(x)  # type: ignore[arg-type]
        self.lines += out
        return out

    def do(self, action: str, **keys: object) -> list[Line]:
        """An operator action now."""
        return self.feed(Action(self.t, action, **keys))  # type: ignore[arg-type]

    def go(self, until: float) -> None:
        """On to ``until`` in steps of 10 ms; contacts on change and every 250 ms, counts every 100 ms."""
        while (self._tick + 1) / 100 <= until + 1e-9:
            self._tick += 1
            t = self.t = self._tick / 100
            for k, truth in enumerate(self.truth):
                name = self.show.adapters[k].name
                if any(a == name and s <= t < e for a, s, e in self.silent):
                    self._said[k] = None
                    continue
                now = (truth.run(t), _odd(truth.lamp, t), _odd(truth.dowser, t), t < truth.film_gone_s)
                if now != self._said[k] or self._tick % 25 == 0:
                    self._said[k] = now
                    house = self.show.houses[k].id
                    names = ("run", "lamp", "dowser", "film")
                    self.feed(
                        Contacts(
                            t, t, name, tuple((f"{house}.{s}", v) for s, v in zip(names, now, strict=True))
                        )
                    )
                if self.counters and self._tick % 10 == 0:
                    pulse_fr = self.show.adapters[k].wiring.counters[0].frames_per_pulse
                    n = math.floor(truth.frames(t) / pulse_fr + 1e-9) * int(pulse_fr)
                    since = n - self.counted_from.get(k, 0)
                    pulse = truth.pulse_s(n, t) if since else None
                    self.feed(
                        Counts(t, t, name, ((f"{self.show.houses[k].id}.frames", float(since), pulse),))
                    )
            if not self.show.adapters:
                self.feed(Tick(t))

    def restart(self, k: int) -> None:
        """The adapter of house ``k`` begins anew now: its counts begin at 0."""
        self.counted_from[k] = math.floor(self.truth[k].frames(self.t) + 1e-9)
        self.feed(Presence(self.t, self.t, self.show.adapters[k].name, "restarted"))

    def worst_drift_fr(self, since: float = 0.0) -> float:
        """The largest difference between a drift that was said and the truth at that moment."""
        ids = [link.id for link in self.show.links]
        zero = min(s for m in self.truth for s, _ in m.spans)
        return max(
            abs(x.drift_fr - self.drift(ids.index(x.link), x.show_s + zero))
            for x in self.lines
            if isinstance(x, LinkLine)
            and x.drift_fr is not None
            and x.show_s is not None
            and x.show_s >= since
        )

    def of(self, kind: type[L], since: int = 0) -> list[L]:
        """Lines of one kind that are changes, from the ``since``-th line on."""
        return [x for x in self.lines[since:] if isinstance(x, kind) and not getattr(x, "periodic", False)]

    def up(self) -> None:
        """Every adapter says that it is there."""
        for a in self.show.adapters:
            self.feed(Presence(self.t, self.t, a.name, "up"))

    def alarms(self, *, state: str = "unacknowledged") -> list[tuple[str, str]]:
        """(code, subject) of every alarm line in that state, in order."""
        return [(x.code, x.subject) for x in self.lines if isinstance(x, AlarmLine) and x.state == state]

    def start(self, at: float, *, light: bool = True, late: dict[int, float] | None = None) -> None:
        """Every machine starts at ``at`` and runs on; lamps and dowsers are worked as planned."""
        for k, truth in enumerate(self.truth):
            begin = at + (late or {}).get(k, 0.0)
            truth.spans = [(begin, 1e9)]
            if light:
                first = begin + 0.6 + self.show.first_picture_at_fr[k] / FPS
                last = first + self.show.last_picture_fr / FPS
                truth.lamp = [first - 5.0, last + 2.0]
                truth.dowser = [first - 1.0, last]


def running(n: int = 4, **show: object) -> Rig:
    """All machines turn since 60 s; it is 100 s, and nothing is amiss."""
    rig = Rig(make_show(n, **show))  # type: ignore[arg-type]
    rig.start(60.0)
    rig.go(100.0)
    assert rig.alarms() == []
    return rig


def _odd(changes: list[float], t: float) -> bool:
    return sum(1 for c in changes if c <= t) % 2 == 1
