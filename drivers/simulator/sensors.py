"""What an adapter's inputs feel: pulses of a counter, the arm of a loop."""

from __future__ import annotations

from math import floor, inf, sqrt
from random import Random

from drivers.simulator.machine import Loop
from drivers.simulator.motion import Motion, Piece
from interlock.signals import AnalogWire, CounterWire

ARM_NOISE = 3.0
"""1-sigma of an arm's raw value: a 12-bit converter beside motors."""
ARM_STOP = 1.08
"""Where an arm's own stops are, in limits."""
TICK_S = 0.001


class Counter:
    """One frame counter. A pulse comes with each ``frames_per_pulse`` frames; machines are threaded in frame, so none is split.

    :meth:`read` gives the reading's value: (signal, frames since power-up, desk second of the latest pulse),
    that second by the adapter's own milliseconds.
    """

    __slots__ = (
        "_base",
        "_end_s",
        "_i",
        "_motion",
        "_piece",
        "_pulse_s",
        "_pulses",
        "_value",
        "base_s",
        "dead",
        "per_pulse",
        "signal",
    )

    def __init__(self, wire: CounterWire, motion: Motion, base_s: float) -> None:
        self.signal, self.per_pulse = wire.signal, wire.frames_per_pulse
        self._motion, self.base_s = motion, base_s
        self._i = 0
        self._piece: Piece = (-inf, 0.0, 0.0, 0.0)
        self._end_s = -inf
        """When the next piece begins, if there was one when this one was found."""
        self._base = self._pulses = 0
        self._pulse_s: float | None = None
        self.dead = False
        self._value: tuple[str, float, float | None] = (self.signal, 0.0, None)

    @property
    def count(self) -> int:
        """Pulses since power-up."""
        return self._pulses - self._base

    @property
    def pulse_s(self) -> float | None:
        """Plan time of the latest pulse of this life."""
        return self._pulse_s

    def restart(self, t_s: float) -> None:
        """The adapter began anew at ``t_s``."""
        self.read(t_s)
        self._base = self._pulses
        self._pulse_s = None
        self._value = (self.signal, 0.0, None)

    def read(self, t_s: float) -> tuple[str, float, float | None]:
        """As of plan time ``t_s``, never earlier than before."""
        pieces = self._motion.pieces
        t0, f0, v, a = piece = self._piece
        if t_s < self._end_s or pieces[-1] is piece:  # as at the last reading, which nearly always it is
            if v == a == 0.0:
                return self._value  # it stands
        else:
            t0, f0, v, a = self._next_piece(t_s)
        dt = t_s - t0
        if dt < 0.0:
            return self._value
        per = self.per_pulse
        pulses = int((f0 + dt * (v + 0.5 * a * dt)) / per + 1e-9)
        if pulses == self._pulses:
            return self._value
        if self.dead:
            self._base += pulses - self._pulses
            self._pulses = pulses
            return self._value
        if pulses < self._pulses:  # turned back by hand: a counter only counts
            self._base -= 2 * (self._pulses - pulses)
            self._pulses = pulses
            self._pulse_s = t_s
        else:
            self._pulses = pulses
            x = pulses * per
            at_speed = a == 0.0 and v > 0.0 and x >= f0
            pulse_s = t0 + (x - f0) / v if at_speed else self._search(x, t_s)
            before_s = self._pulse_s
            self._pulse_s = pulse_s if before_s is None or pulse_s > before_s else before_s
        self._value = value = (
            self.signal,
            (pulses - self._base) * per,
            self.base_s + floor(self._pulse_s / TICK_S) * TICK_S,
        )
        return value

    def _next_piece(self, t_s: float) -> Piece:
        """The piece that holds at ``t_s``; the first for what is forgotten."""
        pieces, dropped = self._motion.pieces, self._motion.dropped
        i = max(self._i - dropped, 0)
        last = len(pieces) - 1
        while i < last and pieces[i + 1][0] <= t_s:
            i += 1
        self._i = i + dropped
        self._piece = pieces[i]
        self._end_s = pieces[i + 1][0] if i < last else -inf
        return self._piece

    def _search(self, x: float, t_s: float) -> float:
        """When the machine had run ``x`` frames, in the piece of now or an earlier one."""
        pieces = self._motion.pieces
        i = max(self._i - self._motion.dropped, 0)
        while i > 0 and pieces[i][1] > x:
            i -= 1
        t0, f0, v, a = pieces[i]
        end_s = min(t_s, pieces[i + 1][0] if i + 1 < len(pieces) else inf)
        if x <= f0:
            return t0
        if abs(a) < 1e-12:
            return min(t0 + (x - f0) / v, end_s) if v > 0 else end_s
        root = v * v + 2.0 * a * (x - f0)
        if root < 0.0:
            return end_s
        return min(t0 + 2.0 * (x - f0) / (v + sqrt(root)), end_s)


class Arm:
    """The accumulator arm of one loop, read by a 12-bit converter: linear in the film that the loop holds."""

    __slots__ = (
        "_down",
        "_loop",
        "_noise",
        "_rest",
        "_scale",
        "_spill_fr",
        "_tight_fr",
        "_up",
        "signal",
        "wire",
    )

    def __init__(self, wire: AnalogWire, loop: Loop, rng: Random) -> None:
        self.wire, self._loop, self._noise = wire, loop, rng.gauss
        self.signal = wire.signal
        spec = loop.spec
        self._scale = (wire.spill_at - wire.tight_at) / (spec.tight_fr + spec.spill_fr)
        self._rest = wire.tight_at + spec.tight_fr * self._scale
        self._up, self._down = loop.up.motion.frames, loop.down.motion.frames
        self._tight_fr, self._spill_fr = -ARM_STOP * spec.tight_fr, ARM_STOP * spec.spill_fr

    def raw(self, t_s: float) -> int:
        """0…4095."""
        drift_fr = self._spill_fr  # nothing holds it up, or so much film that it lies there
        if t_s < self._loop.loose_s:
            drift_fr = self._up(t_s) - self._down(t_s)
            if drift_fr > self._spill_fr:
                drift_fr = self._spill_fr
            elif drift_fr < self._tight_fr:
                drift_fr = self._tight_fr
        raw = int(self._rest + drift_fr * self._scale + self._noise(0.5, ARM_NOISE))
        return 0 if raw < 0 else raw if raw < 4095 else 4095

    def read(self, t_s: float) -> tuple[str, float]:
        """The reading's value, as of plan time ``t_s``."""
        return self.signal, self.wire.position(self.raw(t_s))
