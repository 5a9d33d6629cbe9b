"""The far end of the serial lines: adapters that speak bytes, and the thread that reads each port, in virtual time.

What a port's thread does is done here in its place (:class:`drivers.serial_port.PortThread` with the thread taken out):
bytes are read in pieces of any size, stamped when they are read, and handed to the loop from outside.
"""

from __future__ import annotations

from bisect import insort
from collections import deque
from collections.abc import Callable
from typing import Any

from drivers.serial_port import IDLE_S, PortThread
from drivers.simulator.truth import TrueEvent
from drivers.simulator.wire_line import Said, WireBooth
from drivers.wire import TICK_MASK, Ask
from drivers.wire_parser import Parser
from tests.campaign.virtual_loop import LoopClock, VirtualLoop

AHEAD_S = 0.05
"""The booth is made so far ahead; an adapter answers an ``ID`` within that."""


class Lines:
    """All serial lines of a booth: what happens outside the loop."""

    def __init__(self, booth: WireBooth, loop: VirtualLoop) -> None:
        self.booth, self.loop = booth, loop
        self.ends: dict[str, End] = {name: End(name, self) for name in sorted(booth.voices)}
        self.unplugged = sorted(
            (booth.base_s + f.at_s, f.adapter, f.for_s)
            for f in booth.room.scenario.faults
            if f.kind == "unplug" and f.at_s is not None
        )
        self.made_s = booth.base_s + booth.room.now_s
        self._happened = 0
        self.happens: Callable[[TrueEvent], None] | None = None
        """Told of every true event, a little before its time."""

    def next_s(self) -> float:
        return min(self.made_s, *(end.next_s() for end in self.ends.values()))

    def until(self, now_s: float) -> None:
        while self.made_s <= now_s:
            self._make(self.made_s + AHEAD_S)
        for end in self.ends.values():
            end.until(now_s)

    def _make(self, to_s: float) -> None:
        booth = self.booth
        for said in booth.advance(to_s - booth.base_s):
            assert isinstance(said, Said)
            self.ends[said.adapter].comes(said.at_s, said.data)
        self.made_s = to_s
        while self.unplugged and self.unplugged[0][0] <= to_s:
            at_s, name, for_s = self.unplugged.pop(0)
            self.ends[name].pulled(at_s, for_s)
        for event in booth.room.log[self._happened :]:
            if self.happens is not None:
                self.happens(event)
        self._happened = len(booth.room.log)


class End:
    """One line: what is on its way, and who reads it."""

    def __init__(self, name: str, lines: Lines) -> None:
        self.name, self.lines = name, lines
        self.rng = lines.loop.rng
        self.port: VirtualPort | None = None
        self.gone_until_s = float("-inf")
        self.bytes_read = self.reads = 0
        self._coming: deque[tuple[float, bytes]] = deque()
        self._marks: list[tuple[float, str]] = []  # gone, opened
        self._read_s: float | None = None
        self._spoke_s = 0.0
        self._parser = Parser()

    def comes(self, at_s: float, data: bytes) -> None:
        """Bytes that will be in the port's buffer then."""
        self._coming.append((at_s, data))

    def pulled(self, at_s: float, for_s: float) -> None:
        """The plug is out; the port is found again some time after it is back."""
        self.gone_until_s = max(self.gone_until_s, at_s + for_s + self.rng.uniform(0.0, 1.6))
        insort(self._marks, (at_s, "gone"))
        insort(self._marks, (self.gone_until_s, "opened"))

    def next_s(self) -> float:
        """When its reader has something to say next."""
        mark_s = self._marks[0][0] if self._marks else float("inf")
        return min(mark_s, self._next_read_s())

    def _next_read_s(self) -> float:
        if self._read_s is None and self._coming:
            # The thread is there at once, or was not given its turn.
            away_s = self.rng.uniform(0.0, 0.02) if self.rng.random() < 0.15 else 0.0
            self._read_s = self._coming[0][0] + away_s
        return min(self._read_s if self._read_s is not None else float("inf"), self._spoke_s + IDLE_S)

    def until(self, now_s: float) -> None:
        """Everything that its reader does up to then."""
        while (at_s := self.next_s()) <= now_s:
            if self._marks and self._marks[0][0] == at_s:
                self._mark(*self._marks.pop(0))
            elif self._read_s is not None and self._read_s <= at_s:
                self._read(self._read_s)
            else:
                self._say(at_s, "data")

    def _mark(self, at_s: float, kind: str) -> None:
        if kind == "opened" and at_s < self.gone_until_s:
            return
        while self._coming and self._coming[0][0] <= at_s:
            self._coming.popleft()  # nobody has the port open
        self._read_s = None
        self._say(at_s, kind, text="the device is gone" if kind == "gone" else "")

    def _read(self, at_s: float) -> None:
        """All that is there, or a part of it."""
        self._read_s = None
        data = b""
        while self._coming and self._coming[0][0] <= at_s:
            data += self._coming.popleft()[1]
        if len(data) > 1 and self.rng.random() < 0.2:
            cut = self.rng.randrange(1, len(data))
            self._coming.appendleft((at_s + self.rng.uniform(0.0002, 0.003), data[cut:]))
            data = data[:cut]
        if at_s > self.gone_until_s and data:
            self._say(at_s, "data", data)

    def _say(self, at_s: float, kind: str, data: bytes = b"", text: str = "") -> None:
        self._spoke_s = max(at_s, self.gone_until_s) if kind == "gone" else at_s
        if self.port is not None:
            self.bytes_read += len(data)
            self.reads += bool(data)
            self.port.comes(at_s, kind, data, text)

    def written(self, data: bytes) -> None:
        """What the computer says: an ``ID`` is answered."""
        if self.lines.loop.now_s < self.gone_until_s:
            return
        for line in self._parser.feed(data):
            if isinstance(line, Ask):
                self.lines.booth.voices[self.name].asked(self.lines.booth.room.now_s, line.seq)


class VirtualPort(PortThread):
    """A port whose thread is :class:`End`."""

    def __init__(self, lines: Lines, find: Any, baud: int, clock: LoopClock, name: str) -> None:
        super().__init__(find, baud, clock, name)
        self._end = lines.ends[name]
        self._now_s = 0.0

    def start(self) -> None:
        self._end.port = self
        self.comes(self._clock.now_s(), "opened")

    def comes(self, at_s: float, kind: Any, data: bytes = b"", text: str = "") -> None:
        """The thread's word, stamped with its own time."""
        self._clock, clock = _Stamp(at_s), self._clock
        self._post(kind, data, text)
        self._clock = clock

    def write(self, data: bytes) -> None:
        self._end.written(data)

    def _call(self, callback: Any) -> None:
        self._loop.call_soon(callback)

    async def close(self) -> None:
        self._stop.set()
        self._end.port = None
        self._bell_r.close()
        self._bell_w.close()


class _Stamp:
    def __init__(self, at_s: float) -> None:
        self._at_s = at_s

    def now_s(self) -> float:
        return self._at_s

    def wall_s(self) -> float:
        raise NotImplementedError

    async def sleep_until(self, at_s: float) -> None:
        raise NotImplementedError


def wrap_counters(booth: WireBooth, pulses: int) -> None:
    """Every counter has counted so many pulses since its power-up, long ago: a few more and it wraps."""
    for voice in booth.voices.values():
        for counter in voice.counters:
            counter._base -= pulses & TICK_MASK
            counter._pulse_s = booth.room.now_s
