"""What the desk is told of an adapter behind a station: its readings, and how the way to it is."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from drivers.driver import Emit
from drivers.mqtt_words import moved
from interlock.clock import Clock
from interlock.signals import AdapterSpec, Counts, Presence, Reading
from interlock.text import clean

REPORT_S = 1.0


class Telling:
    """``lines``, ``bad``, ``lost``: what came over the broker; those of the adapter's own line are added."""

    def __init__(self, spec: AdapterSpec, clock: Clock, emit: Emit, ours_s: Callable[[float], float]) -> None:
        self._name, self._clock, self._emit, self._ours_s = spec.name, clock, emit, ours_s
        self.lines = self.bad = self.lost = 0
        self._state: Literal["", "up", "gone"] = ""
        self._text = ""
        self._theirs = (0, 0, 0)
        self._reported: tuple[int, ...] = ()
        self._reported_s = float("-inf")
        self._counts: dict[str, tuple[float, float | None]] = {}

    def gone(self, text: str) -> None:
        """What was said may no longer hold; said once for each reason."""
        if (self._state, self._text) != ("gone", clean(text, 500)):
            self._presence("gone", text)

    def late(self, reading: Reading) -> None:
        """A fact of a time that has been told already. Comings and goings of back then say nothing of now."""
        if not isinstance(reading, Presence):
            self._emit(moved(reading, self._name, self._clock.now_s(), self._ours_s))

    def tell(self, reading: Reading) -> None:
        """The next reading in order."""
        now_s = self._clock.now_s()
        if isinstance(reading, Presence):
            self._theirs = (reading.lines, reading.bad_lines, reading.lost_lines)
            if reading.state == "restarted":
                self._counts.clear()
            self._presence(reading.state, reading.text)
            return
        told = moved(reading, self._name, now_s, self._ours_s)
        self._emit(self._steady(told) if isinstance(told, Counts) else told)
        if self._state != "up":
            self._presence("up")
        elif now_s - self._reported_s >= REPORT_S and self._reported != self._figures()[1:]:
            self._presence("up", self._text)

    def _steady(self, counts: Counts) -> Counts:
        """A pulse keeps the date that it was first given, and none is dated before the one before it."""
        values = []
        for signal, frames, pulse_s in counts.values:
            before = self._counts.get(signal)
            if before is not None and frames < before[0]:
                self._counts.clear()  # the station has begun anew, and did not say so
                self._presence("restarted")
                before = None
            if before is not None and before[1] is not None and pulse_s is not None:
                pulse_s = before[1] if frames == before[0] else max(before[1], pulse_s)  # noqa: PLW2901
            self._counts[signal] = (frames, pulse_s)
            values.append((signal, frames, pulse_s))
        return Counts(counts.at_s, counts.fact_s, counts.adapter, tuple(values))

    def _figures(self) -> tuple[int, int, int]:
        lines, bad, lost = self._theirs
        return self.lines + lines, self.bad + bad, self.lost + lost

    def _presence(self, state: Literal["up", "gone", "restarted"], text: str = "") -> None:
        now_s = self._clock.now_s()
        self._state, self._text = ("gone" if state == "gone" else "up"), clean(text, 500)
        self._reported, self._reported_s = self._figures()[1:], now_s
        self._emit(Presence(now_s, now_s, self._name, state, *self._figures(), self._text))
