"""What answers on a serial port: asked ``ID``, and what it reports then, in raw input numbers.

For ``longlace adapters``, which knows no show file: no signals here, no wiring, no mapped clocks; only
what an adapter says of itself and which of its inputs moves.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import msgspec
from serial.tools import list_ports

from drivers.serial_port import PortThread
from drivers.wire import SEQ_MODULUS, TICK_MASK, Ask, Hello, Levels, Line, Pulses, Raws, encode
from drivers.wire_parser import Parser
from interlock.clock import Clock
from interlock.text import clean

ASK_S = 0.8
RATE_S = 1.0
ARM_STEP = 40
"""An analog that moves by less (1 % of its range) is noise."""

Verdict = Literal["adapter", "unnamed", "other-version", "noise", "silent", "closed"]


class Port(msgspec.Struct, frozen=True):
    """A port of this computer."""

    device: str
    description: str = ""
    usb_serial: str = ""


class Input(msgspec.Struct):
    """One input as it is now. ``value``: 0 or 1, pulses, or a raw analog."""

    value: int
    moved_s: float | None = None
    low: int = 0
    high: int = 0
    rate: float = 0.0
    """Pulses a second."""


Kind = Literal["level", "counter", "analog"]


def ports() -> list[Port]:
    """The serial ports of this computer, in the order of their names."""
    return sorted(
        (
            Port(p.device, clean(p.description or "", 60), clean(p.serial_number or "", 60))
            for p in list_ports.comports()
        ),
        key=lambda p: p.device,
    )


class Probe:
    """One port, asked and listened to by :meth:`run`."""

    def __init__(self, port: Port, baud: int, clock: Clock) -> None:
        self.port = port
        self.hello: Hello | None = None
        self.levels: dict[int, Input] = {}
        self.counters: dict[int, Input] = {}
        self.analogs: dict[int, Input] = {}
        self.heard_s: float | None = None
        self._baud, self._clock = baud, clock
        self._moved: Moved = lambda *_: None
        self._parser = Parser()
        self._bytes = 0
        self._why = ""
        self._asked_s = float("-inf")
        self._seq = 0
        self._rates: dict[int, tuple[float, int]] = {}

    def on_move(self, moved: Moved) -> None:
        """Call it with every move of an input from now on."""
        self._moved = moved

    async def run(self) -> None:
        """Until cancelled."""
        thread = PortThread(lambda: self.port.device, self._baud, self._clock, self.port.device)
        thread.start()
        try:
            while True:
                for event in await thread.take(32):
                    if event.kind == "gone":
                        self._why = event.text
                        self._parser.reopened()
                        continue
                    self._why = ""
                    self._bytes += len(event.data)
                    for line in self._parser.feed(event.data):
                        self._line(line, event.at_s)
                    if self.hello is None and event.at_s - self._asked_s >= ASK_S:
                        self._asked_s = event.at_s
                        thread.write(encode("ID", self._seq, int(event.at_s * 1000) & TICK_MASK))
                        self._seq = (self._seq + 1) % SEQ_MODULUS
        finally:
            await thread.close()

    @property
    def verdict(self) -> Verdict:
        """What is there, as far as it has shown by now."""
        if self.hello is not None:
            return "adapter" if self.hello.version == 1 else "other-version"
        if self._why:
            return "closed"
        if self.heard_s is not None:
            return "unnamed"
        return "noise" if self._bytes else "silent"

    @property
    def settled(self) -> bool:
        """Whether waiting longer will not change the verdict: it has said who it is and reported, or is closed."""
        if self.verdict == "adapter" and self.hello is not None:
            return bool(self.levels) or not self.hello.levels
        return self.verdict in ("closed", "other-version")

    @property
    def name(self) -> str:
        """What the adapter calls itself; empty if it has not said so."""
        return clean(self.hello.name, 40) if self.hello is not None else ""

    def words(self) -> str:
        """The verdict, for a person."""
        h = self.hello
        if h is not None and h.version == 1:
            return f"{self.name}: {self.sizes()}"
        if h is not None:
            return f"{self.name}: speaks version {h.version} of the adapter line, and this program version 1"
        return {
            "closed": f"cannot be used: {self._why}",
            "unnamed": "speaks the adapter line and does not say who it is",
            "noise": "what comes in is no adapter line: another baud rate, or another device",
            "silent": "not a word: no adapter, or one without its firmware",
        }[self.verdict]

    def sizes(self) -> str:
        """How many inputs of each kind it has, in words."""
        h = self.hello
        have = (0, 0, 0) if h is None else (h.levels, h.counters, h.analogs)
        words = zip(have, ("contact input", "counter", "analog input"), strict=True)
        return ", ".join(f"{n} {what}{'' if n == 1 else 's'}" for n, what in words)

    @property
    def bad_lines(self) -> int:
        """Lines that came in damaged."""
        return self._parser.tally.bad

    def _line(self, line: Line, at_s: float) -> None:
        if isinstance(line, Ask):
            return
        self.heard_s = at_s
        if isinstance(line, Hello):
            if self.hello is not None and line.re is None:
                self.levels, self.counters, self.analogs, self._rates = {}, {}, {}, {}  # it began anew
            self.hello = line
        elif isinstance(line, Levels):
            width = line.width if self.hello is None else min(line.width, self.hello.levels)
            for k in range(width):
                self._take("level", self.levels, k, line.mask >> k & 1, at_s)
        elif isinstance(line, Pulses):
            for k, (count, _) in enumerate(line.counters):
                self._take("counter", self.counters, k, count, at_s)
                then_s, then = self._rates.setdefault(k, (at_s, count))
                if at_s - then_s >= RATE_S:
                    self.counters[k].rate = ((count - then) & TICK_MASK) / (at_s - then_s)
                    self._rates[k] = (at_s, count)
        elif isinstance(line, Raws):
            for k, raw in enumerate(line.raws):
                self._take("analog", self.analogs, k, raw, at_s)

    def _take(self, kind: Kind, inputs: dict[int, Input], k: int, value: int, at_s: float) -> None:
        if (one := inputs.get(k)) is None:
            inputs[k] = Input(value, low=value, high=value)
            return
        if kind == "analog":
            moved = value < one.low - ARM_STEP or value > one.high + ARM_STEP
            if moved:
                one.low, one.high = min(one.low, value), max(one.high, value)
        else:
            moved = value != one.value
        one.value = value
        if moved:
            one.moved_s = at_s
            self._moved(self, kind, k, one)


Moved = Callable[[Probe, Kind, int, Input], None]
