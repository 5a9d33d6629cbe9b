"""An adapter's counters over one life: 32-bit wraps undone, each pulse dated once."""

from __future__ import annotations

from drivers.ticks import TickClock, signed_ms
from drivers.wire import TICK_MASK, Pulses

SLACK_MS = 2000
"""A pulse may be told this much after its line's own tick: an adapter reads its clock twice."""


class _Counter:
    __slots__ = ("pulse_s", "pulse_tick", "raw", "total")

    def __init__(self, raw: int) -> None:
        self.raw = self.total = raw
        self.pulse_tick = -1
        self.pulse_s: float | None = None


class CounterBook:
    """Counter number → pulses since power-up and the desk second of the latest."""

    def __init__(self) -> None:
        self._counters: dict[int, _Counter] = {}

    def clear(self) -> None:
        """The adapter began anew."""
        self._counters.clear()

    def is_back(self, line: Pulses) -> bool:
        """Whether any count is less than it was: a wrap is a step forward, the short way round."""
        for k, (raw, _) in enumerate(line.counters):
            counter = self._counters.get(k)
            if counter is not None and signed_ms(raw, counter.raw) < 0:
                return True
        return False

    def take(self, line: Pulses, ticks: TickClock, at_s: float) -> list[tuple[int, float | None]]:
        """Pulses since power-up, and the desk second of the latest (None before the first), of each counter.

        A pulse is dated when it is first told, and keeps its date: the map moves by microseconds, and a
        standing machine's last pulse must not move with it. No pulse is dated before an earlier one of its
        counter.
        """
        taken: list[tuple[int, float | None]] = []
        for k, (raw, pulse_tick) in enumerate(line.counters):
            counter = self._counters.get(k)
            if counter is None:
                counter = self._counters[k] = _Counter(raw)
            counter.total += (raw - counter.raw) & TICK_MASK
            counter.raw = raw
            if counter.total and pulse_tick != counter.pulse_tick:
                pulse_s = _pulse_s(line.tick, pulse_tick, ticks, at_s)
                counter.pulse_tick = pulse_tick
                counter.pulse_s = pulse_s if counter.pulse_s is None else max(pulse_s, counter.pulse_s)
            taken.append((counter.total, counter.pulse_s))
        return taken


def _pulse_s(tick: int, pulse_tick: int, ticks: TickClock, at_s: float) -> float:
    """When the pulse was. A machine may have stood for longer than half the ticks' circle."""
    age_ms = (tick - pulse_tick) & TICK_MASK
    if age_ms <= TICK_MASK >> 1 or age_ms > TICK_MASK - SLACK_MS:
        return min(at_s, ticks.to_s(pulse_tick))
    return min(at_s, ticks.raw_s(tick)) - age_ms / 1000.0
