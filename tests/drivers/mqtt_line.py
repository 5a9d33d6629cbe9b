"""A station's stream and a desk's talk with a line between them that tests cut by hand, on clocks moved by hand."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from contract import WIRING

from drivers.mqtt_options import MqttOptions
from drivers.mqtt_talk import Talk
from interlock.clock import SystemClock, VirtualClock
from interlock.signals import AdapterSpec, Contacts, Counts, Presence, Reading
from interlock.station.journal import Journal
from interlock.station.stream import Stream

OPTIONS = MqttOptions(broker="127.0.0.1", station="far", tls=False)
OF = "booth/far/north"


class FarClock(SystemClock):
    """The station's: ahead of the desk's, and running apart from it."""

    def __init__(self, desk: VirtualClock, ahead_s: float = 1000.0, ppm: float = 0.0) -> None:
        super().__init__()
        self._desk, self._ahead_s, self._ppm = desk, ahead_s, ppm

    def now_s(self) -> float:
        return self._desk.now_s() * (1 + self._ppm * 1e-6) + self._ahead_s + self.offset_s

    def wall_s(self) -> float:
        return self._desk.wall_s()


class Line:
    """``passes(kind)``: whether a payload arrives. Nothing takes time but what :meth:`run` lets pass."""

    def __init__(self, folder: Path, ppm: float = 0.0) -> None:
        self.clock = VirtualClock(50.0)
        self.folder, self.ppm = folder, ppm
        self.said: list[Reading] = []
        self.talk = Talk(
            AdapterSpec("north", "mqtt", {}, WIRING), OPTIONS, "desk1", self.clock, self.said.append
        )
        self.passes: Callable[[str], bool] = lambda kind: True
        self.seen: list[tuple[str, bytes]] = []
        self.open()
        self.talk.connected()

    def open(self, name: str = "far.journal", ahead_s: float = 1000.0) -> None:
        self.far = FarClock(self.clock, ahead_s, self.ppm)
        self.journal = Journal(self.folder / name, self.far)
        self.stream = Stream("booth", "far", "north", self.journal, self.far)

    def close(self) -> None:
        self.journal.close()

    def deliver(self, words: list[tuple[str, bytes]]) -> None:
        for topic, payload in words:
            kind: Any = topic.rsplit("/", 1)[1]
            if self.passes(kind):
                self.seen.append((kind, payload))
                self.talk.take(kind, payload)

    def ask(self) -> None:
        asked = self.talk.ask()
        if self.passes("ask"):
            self.deliver(self.stream.answer(asked))

    async def run(self, seconds: float, step_s: float = 0.05) -> None:
        """The desk asks every 250 ms, and at once for what is missing."""
        steps = round(seconds / step_s)
        for k in range(steps):
            self.talk.tick()
            if k % 5 == 0 or self.talk.wants():
                self.ask()
            await self.clock.advance_to(self.clock.now_s() + step_s)

    def contact(self, closed: bool) -> float:
        """House 4's motor, now. The desk's second of it."""
        at_s = self.far.now_s()
        self.deliver([self.stream.add(Contacts(at_s, at_s, "north", (("4.run", closed),)))])
        return self.clock.now_s()

    def count(self, frames: float) -> None:
        at_s = self.far.now_s()
        self.deliver([self.stream.add(Counts(at_s, at_s, "north", (("4.frames", frames, at_s),)))])

    def frames(self) -> list[float]:
        return [v[1] for r in self.said if isinstance(r, Counts) for v in r.values]

    def presences(self) -> list[Presence]:
        return [r for r in self.said if isinstance(r, Presence)]
