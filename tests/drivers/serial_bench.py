"""A session and an adapter joined by hand, with a clock of their own: the serial driver without a port."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from serial_double import Adapter

from drivers.serial_session import Session
from interlock.signals import (
    AdapterSpec,
    AnalogWire,
    Contacts,
    CounterWire,
    Counts,
    Presence,
    Reading,
    Wiring,
)

WIRING = Wiring(
    levels={0: "4.run", 2: "!4.dowser", 11: "4>3.tight"},
    counters={0: CounterWire("4.frames"), 1: CounterWire("3.frames", 0.25)},
    analogs={0: AnalogWire("4>3.arm", 310, 3800)},
)


class Bench:
    """A session and an adapter joined by a line with a way of ``way_s``; time moves only by :meth:`run`."""

    def __init__(self, wiring: Wiring = WIRING, way_s: Callable[[], float] = lambda: 0.004) -> None:
        self.now_s = 1000.0
        self.said: list[Reading] = []
        self.way_s = way_s
        self.damage: Callable[[bytes], bytes] = lambda data: data
        self.on_the_way: list[tuple[float, bytes]] = []
        self.asked = 0
        self.adapter = Adapter(lambda: self.now_s)
        self.adapter.send = lambda data: self.on_the_way.append(
            (self.now_s + self.way_s(), self.damage(data))
        )
        self.session = Session(
            AdapterSpec("north", "serial", {}, wiring), "/dev/ttyX", self.said.append, self._to_adapter
        )
        self.opened = False

    def _to_adapter(self, data: bytes) -> None:
        self.asked += 1
        self.adapter.hear(data)

    def run(self, seconds: float, each_ms: Callable[[int], None] = lambda ms: None) -> None:
        """The adapter speaks as the page says, one millisecond after the other; the port is opened at first."""
        if not self.opened:
            self.opened = True
            self.session.opened(self.now_s)
        for _ in range(round(seconds * 1000)):
            self.now_s += 0.001
            ms = round(self.now_s * 1000)
            each_ms(ms)
            if ms % 100 == 0:
                self.adapter.ct()
                self.adapter.an()
            if ms % 250 == 50:
                self.adapter.lv()
            arrived = [d for at, d in self.on_the_way if at <= self.now_s]
            self.on_the_way = [(at, d) for at, d in self.on_the_way if at > self.now_s]
            if arrived or ms % 200 == 0:
                self.session.data(self.now_s, b"".join(arrived))

    def of(self, kind: type[Reading], since: int = 0) -> list[Any]:
        return [r for r in self.said[since:] if isinstance(r, kind)]

    def states(self, since: int = 0) -> list[str]:
        return [p.state for p in self.of(Presence, since)]

    def frames(self, signal: str = "4.frames", since: int = 0) -> list[tuple[float, float | None]]:
        return [(f, p) for c in self.of(Counts, since) for s, f, p in c.values if s == signal]

    def contact(self, signal: str, since: int = 0) -> list[tuple[float, bool]]:
        return [(c.fact_s, v) for c in self.of(Contacts, since) for s, v in c.values if s == signal]

    def text(self) -> str:
        return str(self.of(Presence)[-1].text)


def film_runs(bench: Bench) -> Callable[[int], None]:
    """A pulse every 42 ms, about 24 in a second."""

    def each_ms(ms: int) -> None:
        if ms % 42 == 0:
            bench.adapter.pulses(0, 1)

    return each_ms
