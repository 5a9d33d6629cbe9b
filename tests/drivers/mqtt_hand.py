"""A far booth's hardware, moved by hand."""

from __future__ import annotations

import asyncio
import contextlib
from typing import ClassVar

from contract import WIRING
from pydantic import BaseModel

from drivers.driver import Emit
from interlock.clock import Clock
from interlock.signals import AdapterSpec, Contacts, Counts, Positions, Presence


class HandDriver:
    """The far booth's adapter: says all it knows every 100 ms, and at once what a hand moves."""

    class Options(BaseModel):
        pass

    name: ClassVar[str] = "north"

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self.mask, self.count, self.raw = 0, 0, 2055
        self.pulse_s: float | None = None
        self.silent = self._was_silent = False
        self.restarted = False
        self._wake = asyncio.Event()

    @property
    def spec(self) -> AdapterSpec:
        return AdapterSpec(self.name, "hand", {}, WIRING)

    def moved(self) -> None:
        self._wake.set()

    async def run(self, emit: Emit) -> None:
        while True:
            if not self.silent:
                if self._was_silent:  # its inputs are told in the same instant
                    now_s = self._clock.now_s()
                    emit(Presence(now_s, now_s, self.name, "up"))
                self._say(emit)
            self._was_silent = self.silent
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(0.1):
                    await self._wake.wait()
            self._wake.clear()

    def _say(self, emit: Emit) -> None:
        now_s = self._clock.now_s()
        w = WIRING
        if self.restarted:
            self.restarted = False
            emit(Presence(now_s, now_s, self.name, "restarted"))
        emit(Contacts(now_s, now_s, self.name, w.contacts(self.mask)))
        counter, analog = w.counters[0], w.analogs[0]
        frames = self.count * counter.frames_per_pulse
        emit(Counts(now_s, now_s, self.name, ((counter.signal, frames, self.pulse_s),)))
        emit(Positions(now_s, now_s, self.name, ((analog.signal, analog.position(self.raw)),)))

    def contact(self, level: int, closed: bool) -> None:
        self.mask = self.mask | 1 << level if closed else self.mask & ~(1 << level)
        self.moved()

    def pulses(self, n: int) -> None:
        self.count += n
        self.pulse_s = self._clock.now_s()
        self.moved()

    def arm(self, raw: int) -> None:
        self.raw = raw
        self.moved()

    def restart(self) -> None:
        self.count, self.pulse_s, self.restarted = 0, None, True
        self.moved()
