"""``driver = "gpio"``: contacts and pulse outputs on the computer's own GPIO lines (Linux).

The kernel stamps each edge in its interrupt with the monotonic clock, which is the clock of desk
seconds but for a constant; an edge waits as long as it must and keeps its date. Edges are numbered: if
some were lost (its buffer overran), their number tells how many pulses a counter must be given, and the
contacts are read anew. So they are five times a second in any case, which is the sign of life as well.
"""

from __future__ import annotations

import asyncio
import select
from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar, Literal

from pydantic import BaseModel

from drivers import gpio_lines
from drivers.driver import Emit, read_options
from drivers.gpio_lines import Request
from drivers.gpio_options import GpioOptions
from drivers.serial_port import say
from interlock.clock import Clock, SystemClock
from interlock.errors import OptionError
from interlock.signals import AdapterSpec, Contacts, Counts, Presence
from interlock.text import clean

if TYPE_CHECKING:
    import gpiod

FIRST_PAUSE_S = 0.2
LONGEST_PAUSE_S = 5.0
COUNTS_S = 0.1
LEVELS_S = 0.2
PRESENCE_S = 1.0
AT_ONCE = 256
"""Edges read before others may run."""
SEQNO = 1 << 32


class GpioDriver:
    """Serves lines of one chip; see :class:`drivers.driver.Driver`."""

    Options: ClassVar[type[BaseModel]] = GpioOptions
    request: ClassVar[Callable[[GpioOptions], Request]] = staticmethod(gpio_lines.request)
    kernel: ClassVar[Clock] = SystemClock()
    """The clock that stamps the edges."""

    def __init__(self, spec: AdapterSpec, clock: Clock) -> None:
        """Raises ``OptionError`` if the options make no sense; opens nothing yet."""
        self.spec = spec
        self.options = o = read_options(GpioOptions, spec)
        self.clock = clock
        try:
            import gpiod  # noqa: F401, PLC0415 - an extra, for Linux only
        except ImportError as error:
            text = 'gpiod is not installed: install the program with its extra "gpio", on Linux'
            raise _wrong(spec, text) from error
        if spec.wiring.analogs:
            raise _wrong(
                spec, "analogs: a GPIO line is open or closed; an arm needs an adapter with analog inputs"
            )
        for table, wired, have in (
            ("level_lines", spec.wiring.levels, o.level_lines),
            ("counter_lines", spec.wiring.counters, o.counter_lines),
        ):
            if missing := [str(k) for k in sorted(wired) if k not in have]:
                raise _wrong(
                    spec, f"{table}: input {', '.join(missing)} is wired, and no line is given for it"
                )
        if not o.level_lines and not o.counter_lines:
            raise _wrong(spec, "give level_lines or counter_lines: which line is which input")

    async def run(self, emit: Emit) -> None:
        """Serve until cancelled."""
        chip = _Chip(self, emit)
        pause_s = FIRST_PAUSE_S
        while True:
            try:
                request = type(self).request(self.options)
            except (OSError, ValueError) as error:
                chip.gone(f"{self.options.chip}: {_why(error)}")
            else:
                pause_s = FIRST_PAUSE_S
                await chip.serve(request)
            await self.clock.sleep_until(self.clock.now_s() + pause_s)
            pause_s = min(2 * pause_s, LONGEST_PAUSE_S)


class _Chip:
    """The lines over all their openings: contacts, and pulses counted since the driver was started."""

    def __init__(self, driver: GpioDriver, emit: Emit) -> None:
        self._spec, self._clock, self._kernel, self._emit = driver.spec, driver.clock, driver.kernel, emit
        self._levels = sorted(driver.options.level_lines)
        self._counters = sorted(driver.options.counter_lines)
        self._closed: dict[int, bool] = {}
        self._count = dict.fromkeys(self._counters, 0)
        self._pulse_s: dict[int, float | None] = dict.fromkeys(self._counters, None)
        self._request: Request | None = None
        self._level_of: dict[int, int] = {}
        self._counter_of: dict[int, int] = {}
        self._seqno = 0
        self._line_seqno: dict[int, int] = {}
        self._offset_s = 0.0
        self._fault = ""
        self._edges = self._lost = 0
        self._text = ""
        self._presence_s = float("-inf")

    async def serve(self, request: Request) -> None:
        """Until the chip is gone."""
        loop = asyncio.get_running_loop()
        offsets = request.offsets
        self._request, self._fault, self._text = request, "", ""
        self._level_of = dict(zip(offsets, self._levels, strict=False))
        self._counter_of = dict(zip(offsets[len(self._levels) :], self._counters, strict=True))
        self._seqno, self._line_seqno = 0, dict.fromkeys(offsets, 0)
        self._offset_s = self._clock.now_s() - self._kernel.now_s()
        loop.add_reader(request.fd, self._ready)
        try:
            at_s = self._clock.now_s()
            self._presence("up", at_s)
            self._reread()
            beat = 0
            while not self._fault:
                if beat % round(LEVELS_S / COUNTS_S) == 0:
                    self._catch_up()
                    self._reread()
                self._say_counts()
                if self._clock.now_s() - self._presence_s >= PRESENCE_S:
                    self._presence("up", self._clock.now_s())
                beat += 1
                at_s = max(at_s + COUNTS_S, self._clock.now_s())
                # In steps: a chip that is pulled out is to be told at once.
                await self._clock.sleep_until(at_s - COUNTS_S / 2)
                if not self._fault:
                    await self._clock.sleep_until(at_s)
        finally:
            loop.remove_reader(request.fd)
            request.release()
            self._request = None
        self.gone(self._fault)

    def gone(self, text: str) -> None:
        """The lines cannot be had; said once for each reason."""
        text = clean(f"{text}; trying again")
        if text != self._text:
            self._text = text
            self._presence("gone", self._clock.now_s(), text)

    def _catch_up(self) -> None:
        """Edges that are there already come before what the lines are now."""
        assert self._request is not None
        while not self._fault and select.select([self._request.fd], [], [], 0)[0]:
            self._ready()

    def _ready(self) -> None:
        """Edges are there."""
        if self._request is None or self._fault:
            return
        at_s = self._clock.now_s()
        try:
            events = self._request.read_edge_events(AT_ONCE)
        except OSError as error:
            self._fault = f"the GPIO chip does not speak any more ({_why(error)})"
            return
        lost = 0
        for event in events:
            lost += (event.global_seqno - self._seqno - 1) % SEQNO
            self._seqno = event.global_seqno
            self._edge(event, at_s)
        self._edges += len(events)
        if lost:
            self._lost += lost
            self._presence("up", at_s)
            self._reread()

    def _edge(self, event: gpiod.EdgeEvent, at_s: float) -> None:
        offset, fact_s = event.line_offset, min(at_s, event.timestamp_ns / 1e9 + self._offset_s)
        if (k := self._level_of.get(offset)) is not None:
            closed = event.event_type is event.Type.RISING_EDGE
            if self._closed.get(k) is not closed:
                self._closed[k] = closed
                self._say_contacts({k: closed}, at_s, fact_s)
        elif (k := self._counter_of.get(offset)) is not None:
            # The line's own numbers go on over edges that were lost: so many pulses there have been.
            self._count[k] += (event.line_seqno - self._line_seqno[offset]) % SEQNO
            self._pulse_s[k] = max(fact_s, self._pulse_s[k] or fact_s)
        self._line_seqno[offset] = event.line_seqno

    def _reread(self) -> None:
        """The contacts as they are now."""
        if self._request is None or self._fault:
            return
        try:
            values = self._request.get_values()
        except OSError as error:
            self._fault = f"the GPIO chip does not speak any more ({_why(error)})"
            return
        self._closed = {k: bool(v) for k, v in zip(self._levels, values, strict=False)}
        now_s = self._clock.now_s()
        self._say_contacts(self._closed, now_s, now_s)

    def _say_contacts(self, closed: dict[int, bool], at_s: float, fact_s: float) -> None:
        levels = self._spec.wiring.levels
        if values := tuple(
            (wired.removeprefix("!"), now is not wired.startswith("!"))
            for k, now in sorted(closed.items())
            if (wired := levels.get(k)) is not None
        ):
            self._emit(Contacts(at_s, fact_s, self._spec.name, values))

    def _say_counts(self) -> None:
        at_s = self._clock.now_s()
        if values := tuple(
            (wire.signal, self._count[k] * wire.frames_per_pulse, self._pulse_s[k])
            for k, wire in sorted(self._spec.wiring.counters.items())
        ):
            self._emit(Counts(at_s, at_s, self._spec.name, values))
        elif not self._spec.wiring.levels:
            self._presence("up", at_s)

    def _presence(self, state: Literal["up", "gone"], at_s: float, text: str = "") -> None:
        self._presence_s = at_s
        self._emit(Presence(at_s, at_s, self._spec.name, state, self._edges, 0, self._lost, text))


def _why(error: OSError | ValueError) -> str:
    if isinstance(error, FileNotFoundError) and error.errno is None:
        return clean(str(error))
    if isinstance(error, OSError):
        return say(error)
    return clean(str(error))


def _wrong(spec: AdapterSpec, text: str) -> OptionError:
    return OptionError(clean(f"adapter {spec.name} (gpio): {text}", 500))
