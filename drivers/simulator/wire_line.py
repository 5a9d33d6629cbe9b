"""The simulated booth on the wire: its adapters speak wire.md, version 1, onto pseudo-terminals in real time.

So the serial driver, or anybody's own program for the same line, can be tried without hardware::

    python -m drivers.simulator.wire_line --links /tmp/booth < booth.json

``booth.json`` is a :class:`~drivers.simulator.machines.SimSpec` (the composition root has it from a show). Each adapter gets
a pseudo-terminal, under ``--links`` by its own name. Lines that come doubled or out of their order do not exist on a
wire, so these faults are left out; a pulled plug is silence here.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import os
import sys
import tty
from functools import partial
from pathlib import Path
from typing import Any, Literal

import msgspec

from drivers.simulator.adapter import Adapter
from drivers.simulator.booth import Booth
from drivers.simulator.machines import SimSpec
from drivers.simulator.room import Room
from drivers.simulator.scenario import Scenario, load_scenario
from drivers.simulator.sensors import Counter
from drivers.wire import SEQ_MODULUS, TICK_MASK, Ask, encode
from drivers.wire_parser import Parser
from interlock.clock import Clock, SystemClock
from interlock.signals import AdapterSpec

PACE_S = 0.005
ASK_KEPT = 4096


class Said(msgspec.Struct, frozen=True):
    """A line of an adapter, and when it comes in."""

    at_s: float
    adapter: str
    data: bytes


class WireVoice(Adapter):
    """An adapter that says lines instead of readings.

    ``first_tick``: where its ticks begin at the first power-up, to try the wrap.
    """

    def __init__(self, spec: AdapterSpec, room: Room, base_s: float, first_tick: int = 0) -> None:
        super().__init__(spec, room, base_s)
        self._first_tick, self._seq, self._born = first_tick, 0, False
        wiring = spec.wiring
        self._inputs = max(wiring.levels, default=-1) + 1
        self._counter_at = dict(zip(sorted(wiring.counters), self.counters, strict=True))
        self._arm_at = dict(zip(sorted(wiring.analogs), self.arms, strict=True))

    def _tick(self, t_s: float) -> int:
        return (self._first_tick + int((t_s - self.born_s) * 1000 + 1e-6)) & TICK_MASK

    def _say(self, kind: str, t_s: float, fact_s: float, out: list[Any], *fields: str) -> None:
        if t_s < self.silent_until_s:
            return
        data = encode(kind, self._seq, self._tick(fact_s), *fields)
        self._seq = (self._seq + 1) % SEQ_MODULUS
        at_s = self.base_s + self.arrival(t_s)
        if self.dropped and self.bad_rng.random() < self.dropped:
            return
        if self.damaged and self.bad_rng.random() < self.damaged:
            k = self.bad_rng.randrange(len(data) - 1)
            data = data[:k] + bytes([data[k] ^ 0x14]) + data[k + 1 :]
        out.append(Said(at_s, self.name, data))

    def say_counts(self, t_s: float, out: list[Any]) -> None:
        """A ``CT`` line."""
        for c in self.counters:
            c.read(t_s)
        if self.counters:
            fields = [self._count(self._counter_at.get(k)) for k in range(max(self._counter_at) + 1)]
            self._say("CT", t_s, t_s, out, *fields)

    def _count(self, c: Counter | None) -> str:
        if c is None or c.pulse_s is None:
            return "0@0"
        return f"{c.count & TICK_MASK}@{self._tick(c.pulse_s)}"

    def say_contacts(self, t_s: float, fact_s: float, out: list[Any]) -> None:
        """An ``LV`` line."""
        mask = 0
        for (k, signal), value in zip(sorted(self.spec.wiring.levels.items()), self.values, strict=True):
            mask |= (value != signal.startswith("!")) << k
        self._say("LV", t_s, fact_s, out, f"{mask:0{max(1, -(-self._inputs // 4))}X}")

    def say_arms(self, t_s: float, out: list[Any]) -> None:
        """An ``AN`` line."""
        if self.arms:
            raws = [
                str(a.raw(t_s)) if (a := self._arm_at.get(k)) else "0" for k in range(max(self._arm_at) + 1)
            ]
            self._say("AN", t_s, t_s, out, *raws)

    def say_presence(
        self, t_s: float, state: Literal["up", "gone", "restarted"], out: list[Any], text: str = ""
    ) -> None:
        """A ``HI`` at power-up; otherwise an adapter says nothing of itself."""
        self.presence_at_s = t_s + 3600.0
        if state == "restarted" or not self._born:
            if state == "restarted":
                self._first_tick = self._seq = 0
            self._born = True
            self._greet(t_s, out)

    def _greet(self, t_s: float, out: list[Any], *answer: str) -> None:
        counters = max(self._counter_at, default=-1) + 1
        analogs = max(self._arm_at, default=-1) + 1
        sizes = (f"levels={self._inputs}", f"counters={counters}", f"analogs={analogs}")
        self._say("HI", t_s, t_s, out, "v1", self.name, *sizes, *answer)

    def asked(self, t_s: float, seq: int) -> None:
        """An ``ID`` came in: answered at once, with the present state behind it."""
        self.later(t_s, self._answer, seq)

    def _answer(self, t_s: float, seq: int, out: list[Any]) -> None:
        self._greet(t_s, out, f"re={seq}")
        self.say_contacts(t_s, t_s, out)
        self.say_counts(t_s, out)
        self.say_arms(t_s, out)


class WireBooth(Booth):
    """A booth whose :meth:`advance` gives lines (:class:`Said`) instead of readings."""

    def __init__(self, spec: SimSpec, *args: Any, first_tick: int = 0, **more: Any) -> None:
        self._first_tick = first_tick
        self.voices: dict[str, WireVoice] = {}
        super().__init__(spec, *args, **more)

    def _adapters(self) -> list[Adapter]:
        self.voices = {
            a.name: WireVoice(a, self.room, self.base_s, self._first_tick) for a in self.spec.adapters
        }
        return list(self.voices.values())


class Ptys:
    """A booth on pseudo-terminals, one an adapter. ``ports``: adapter → the name of its far end."""

    def __init__(self, booth: WireBooth, clock: Clock) -> None:
        self.booth, self._clock = booth, clock
        self.ports: dict[str, str] = {}
        self._fds: dict[str, tuple[int, int]] = {}
        self._parsers = {name: Parser() for name in booth.voices}
        for name in booth.voices:
            master, slave = os.openpty()
            tty.setraw(slave)
            os.set_blocking(master, False)
            self._fds[name] = (master, slave)
            self.ports[name] = os.ttyname(slave)

    async def run(self) -> None:
        """Speak until cancelled; the pseudo-terminals are closed then."""
        loop, booth = asyncio.get_running_loop(), self.booth
        begin_s = self._clock.now_s() - booth.room.now_s
        try:
            for name, (master, _) in self._fds.items():
                loop.add_reader(master, partial(self._hear, name))
            while True:
                await self._clock.sleep_until(self._clock.now_s() + PACE_S)
                said: list[Any] = booth.advance(self._clock.now_s() - begin_s)
                for line in said:
                    # Nobody reads, and the terminal is full: so would a UART lose it.
                    with contextlib.suppress(BlockingIOError):
                        os.write(self._fds[line.adapter][0], line.data)
        finally:
            for master, slave in self._fds.values():
                loop.remove_reader(master)
                os.close(master)
                os.close(slave)

    def _hear(self, name: str) -> None:
        for line in self._parsers[name].feed(os.read(self._fds[name][0], ASK_KEPT)):
            if isinstance(line, Ask):
                self.booth.voices[name].asked(self.booth.room.now_s, line.seq)


async def _speak(spec: SimSpec, seed: int, scenario: Scenario, links: Path | None) -> None:
    ptys = Ptys(WireBooth(spec, seed, scenario, begin_s=-45.0), SystemClock())
    for name, port in ptys.ports.items():
        if links is not None:
            link = links / name
            link.unlink(missing_ok=True)
            link.symlink_to(port)
        sys.stdout.write(f"{name} {port}\n")
    sys.stdout.flush()
    await ptys.run()


def main() -> None:
    """Speak for the booth on standard input until interrupted."""
    options = argparse.ArgumentParser(description="A simulated booth's adapters on pseudo-terminals.")
    options.add_argument("--seed", type=int, default=0)
    options.add_argument("--scenario", type=load_scenario, default=Scenario())
    options.add_argument("--links", type=Path, help="a folder for links to the ports, named as the adapters")
    given = options.parse_args()
    spec = msgspec.json.decode(sys.stdin.buffer.read(), type=SimSpec)
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(_speak(spec, given.seed, given.scenario, given.links))


if __name__ == "__main__":
    main()
