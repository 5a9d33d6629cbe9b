"""``driver = "modbus"``: cheap input and counter modules on a serial line (RTU) or behind a host (TCP).

What can be said of dates: a module is asked, and what it answers was true at some moment between the
request and the answer, so ``fact_s`` is the middle of the two. An edge is therefore found up to one
round of polling late (``poll_ms``, 50 ms: 1.2 frames at 24 fps), 25 ms on average; pulses are dated by
:mod:`drivers.modbus_counter`. Good for lamps, dowsers, film and limit switches; a start timed to a
frame needs an adapter that stamps its own edges.

A module that is silent for 750 ms is said to be gone, whereupon the desk holds nothing of this adapter
for known; the modules that answer are known again with their next answer, the silent one's signals are not.
"""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import BaseModel

from drivers.driver import Emit, read_options
from drivers.modbus_client import Connection, Silent, why_not
from drivers.modbus_counter import PolledCounter
from drivers.modbus_options import ModbusOptions
from drivers.modbus_poll import Polled, Turns
from drivers.modbus_reads import Answer, Module, Read, counts_of, mask_of, modules, raws_of
from interlock.clock import Clock
from interlock.errors import OptionError
from interlock.signals import AdapterSpec, Contacts, Counts, Positions, Presence
from interlock.text import clean

FIRST_PAUSE_S = 0.2
LONGEST_PAUSE_S = 5.0
PRESENCE_S = 1.0
ALIVE_S = 0.15


class ModbusDriver:
    """Serves the modules of one line; see :class:`drivers.driver.Driver`."""

    Options: ClassVar[type[BaseModel]] = ModbusOptions

    def __init__(self, spec: AdapterSpec, clock: Clock) -> None:
        """Raises ``OptionError`` if the options make no sense; opens nothing yet."""
        self.spec = spec
        self.options = o = read_options(ModbusOptions, spec)
        self._clock = clock
        try:
            import pymodbus  # noqa: F401, PLC0415 - an extra, and slow to import
        except ImportError as error:
            raise _wrong(
                spec, 'pymodbus is not installed: install the program with its extra "modbus"'
            ) from error
        if o.port is not None and "://" in o.port:
            raise _wrong(
                spec, f"port: {o.port!r} is no serial device (/dev/ttyUSB0, COM3); for TCP give host"
            )
        try:
            self._modules = modules(o, spec.wiring)
        except ValueError as error:
            raise _wrong(spec, str(error)) from error
        if not self._modules:
            raise _wrong(spec, "none of its devices' inputs is wired: there is nothing to read")
        self._place = clean(o.port or f"{o.host}:{o.tcp_port}")

    async def run(self, emit: Emit) -> None:
        """Serve until cancelled."""
        line = _Line(self.spec, self.options, self._modules, self._place, self._clock, emit)
        pause_s = FIRST_PAUSE_S
        while True:
            client = Connection(self.options)
            try:
                if await client.open():
                    heard = await line.serve(client)
                    pause_s = FIRST_PAUSE_S if heard else pause_s
                else:
                    line.gone(why_not(self.options))
            finally:
                client.close()
                await self._clock.sleep_until(self._clock.now_s())  # the transport closes in the next round
            await self._clock.sleep_until(self._clock.now_s() + pause_s)
            pause_s = min(2 * pause_s, LONGEST_PAUSE_S)


class _Line:
    """One line over all its openings: what its modules said, and what is said of them."""

    def __init__(
        self,
        spec: AdapterSpec,
        options: ModbusOptions,
        all_: list[Module],
        place: str,
        clock: Clock,
        emit: Emit,
    ) -> None:
        self._spec, self._options, self._place, self._clock, self._emit = spec, options, place, clock, emit
        self._polled = [Polled(m, clock.now_s()) for m in all_]
        self._turns = Turns(self._polled)
        self._counters = {c.number: PolledCounter(c.modulus) for m in all_ for c, _ in m.counters}
        self._state, self._text = "", ""
        self._presence_s = self._spoke_s = float("-inf")
        self._lines = self._bad = self._lost = 0
        self._quiet_s = 0.0
        if options.baud is not None:
            # Between two frames the line rests for 3.5 characters of 11 bits, 1.75 ms above 19200 baud.
            self._quiet_s = max(38.5 / options.baud, 0.00175)

    async def serve(self, client: Connection) -> bool:
        """Poll until the connection is gone. Whether anything was ever heard on it."""
        poll_s, heard = self._options.poll_ms / 1000.0, False
        # An answer that comes too late must not meet the next request: it has the same form.
        rest_s = max(poll_s, self._options.timeout_ms / 1000.0)
        for p in self._polled:
            p.connected(self._clock.now_s())
        while client.is_open():
            polled = self._turns.next()
            await self._clock.sleep_until(polled.due_s)
            try:
                for read in polled.reads(self._clock.now_s()):
                    if not client.is_open():
                        break
                    heard = await self._read(client, polled, read) or heard
                    await self._clock.sleep_until(self._clock.now_s() + self._quiet_s)
                else:
                    if polled.answered(now_s := self._clock.now_s(), poll_s):
                        self._presence("up", now_s)
            except Silent as why:
                if polled.failed(self._clock.now_s(), rest_s, str(why)):
                    self.gone(f"{polled.module.name} on {self._place} {why}")
        if not all(p.trouble for p in self._polled):  # else that is what is wrong, and has been said
            self.gone(f"{self._place}: the connection is gone; trying again")
        return heard

    async def _read(self, client: Connection, polled: Polled, read: Read) -> bool:
        """One request, and what its answer says. Raises ``Silent`` without one."""
        sent_s = self._clock.now_s()
        try:
            answer, refusal = await client.ask(polled.module.unit, read)
        except Silent as why:
            self._lost, self._bad = self._lost + (not why.heard), self._bad + why.heard
            raise
        at_s = self._clock.now_s()
        self._lines += 1
        if answer is None:
            self._bad += 1
            if polled.refuses(read, at_s, refusal):
                self.gone(polled.complaint(), at_s)
        else:
            polled.gives(read)
        if self._state != "up" or self._complaint() != self._text or at_s - self._presence_s >= PRESENCE_S:
            self._presence("up", at_s)
        if answer is not None:
            self._say(polled.module, {read: answer}, at_s, (sent_s + at_s) / 2.0)
        if at_s - self._spoke_s >= ALIVE_S:
            self._presence("up", at_s)
        return True

    def _say(self, module: Module, answers: dict[Read, Answer], at_s: float, fact_s: float) -> None:
        name, wiring = self._spec.name, self._spec.wiring
        counts = counts_of(module, answers)
        if any(self._counters[c.number].restarts(raw, fact_s) for c, raw in counts):
            for c, _ in module.counters:
                self._counters[c.number].begin_anew()
            self._presence("restarted", at_s)
        for c, raw in counts:
            self._counters[c.number].take(raw, fact_s)
        if contacts := tuple(
            (wired.removeprefix("!"), closed is not wired.startswith("!"))
            for k, closed in mask_of(module, answers).items()
            for wired in (wiring.levels[k],)
        ):
            self._emit(Contacts(at_s, fact_s, name, contacts))
        if values := tuple(
            (w.signal, counter.total * w.frames_per_pulse, counter.pulse_s)
            for c, _ in counts
            for w, counter in ((wiring.counters[c.number], self._counters[c.number]),)
        ):
            self._emit(Counts(at_s, fact_s, name, values))
        if arms := tuple(
            (a.signal, a.position(raw)) for k, raw in raws_of(module, answers) for a in (wiring.analogs[k],)
        ):
            self._emit(Positions(at_s, fact_s, name, arms))
        if contacts or values or arms:
            self._spoke_s = at_s

    def _complaint(self) -> str:
        return clean("; ".join(c for p in self._polled if (c := p.complaint())), 500)

    def gone(self, text: str, at_s: float | None = None) -> None:
        """What was said may no longer hold; said once for each reason."""
        if (self._state, self._text) != ("gone", clean(text, 500)):
            self._presence("gone", self._clock.now_s() if at_s is None else at_s, text)

    def _presence(self, state: Literal["up", "gone", "restarted"], at_s: float, text: str = "") -> None:
        text = clean(text, 500) or self._complaint()
        self._presence_s = self._spoke_s = at_s
        self._state, self._text = ("up" if state == "restarted" else state), text
        self._emit(Presence(at_s, at_s, self._spec.name, state, self._lines, self._bad, self._lost, text))


def _wrong(spec: AdapterSpec, text: str) -> OptionError:
    return OptionError(clean(f"adapter {spec.name} (modbus): {text}", 500))
