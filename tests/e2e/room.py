"""A machine room of the end-to-end test's own: what really happens, on the computer's monotonic clock.

It shares no code with the program. Machines are piecewise linear in speed, so frames, the moment at
which a frame passes and the moment at which a link has used so much of its limit are exact. What a
show does is written down before it begins; nothing here is found out afterwards.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass, field

FRAMES_PER_TAPE_FT = 304.8 / 19.00  # 35 mm 4-perf: frame pitch 19.00 mm, [P] frame-pitch tables


class Motion:
    """Frames that a machine has run, as a function of time. It never runs backwards."""

    def __init__(self) -> None:
        self._bends: list[tuple[float, float, float, float]] = [(-math.inf, 0.0, 0.0, 0.0)]
        """(from_s, frames there, speed there in fps, acceleration from there on), in order."""

    def change_speed(self, at_s: float, fps: float, over_s: float) -> None:
        """From ``at_s`` on, linearly within ``over_s``, to ``fps``. Changes are given in order of time."""
        frames, speed = self.frames(at_s), self.speed(at_s)
        if over_s > 0:
            accel = (fps - speed) / over_s
            self._bends.append((at_s, frames, speed, accel))
            frames += (speed + fps) / 2 * over_s
        self._bends.append((at_s + over_s, frames, fps, 0.0))

    def _bend(self, at_s: float) -> tuple[float, float, float, float]:
        return self._bends[bisect_right(self._bends, at_s, key=lambda b: b[0]) - 1]

    def frames(self, at_s: float) -> float:
        """Frames run up to ``at_s``."""
        from_s, frames, speed, accel = self._bend(at_s)
        dt_s = at_s - from_s
        return frames + speed * dt_s + accel * dt_s * dt_s / 2 if speed or accel else frames

    def speed(self, at_s: float) -> float:
        """Speed at ``at_s`` in fps."""
        from_s, _, speed, accel = self._bend(at_s)
        return speed + accel * (at_s - from_s) if accel else speed

    def when(self, frames: float) -> float:
        """The first moment at which so many frames have been run; infinite if that never happens."""
        for (from_s, at_from, speed, accel), after in zip(self._bends, [*self._bends[1:], None], strict=True):
            if at_from >= frames:
                return from_s
            if after is not None and after[1] < frames:
                continue
            if not (speed or accel):
                return math.inf
            if not accel:
                return from_s + (frames - at_from) / speed
            root = math.sqrt(max(0.0, speed * speed + 2 * accel * (frames - at_from)))
            return from_s + 2 * (frames - at_from) / (speed + root)
        return math.inf


class Switch:
    """A contact: what it says as a function of time."""

    def __init__(self, state: bool) -> None:
        self.changes: list[tuple[float, bool]] = [(-math.inf, state)]

    def set(self, at_s: float, state: bool) -> None:
        """From ``at_s`` on; in order of time."""
        self.changes.append((at_s, state))

    def state(self, at_s: float) -> bool:
        """True while it says yes."""
        return self.changes[bisect_right(self.changes, at_s, key=lambda c: c[0]) - 1][1]

    def next_change_s(self, after_s: float) -> float:
        """The first change later than ``after_s``; infinite if there is none."""
        return next((at_s for at_s, _ in self.changes if at_s > after_s), math.inf)


@dataclass
class House:
    """One machine with its contacts. ``first_picture_fr``: frames it runs until picture is in its gate, in truth."""

    id: str
    first_picture_fr: float
    ramp_s: float
    coast_s: float
    motion: Motion = field(default_factory=Motion)
    run: Switch = field(default_factory=lambda: Switch(False))
    lamp: Switch = field(default_factory=lambda: Switch(False))
    dowser: Switch = field(default_factory=lambda: Switch(False))
    film: Switch = field(default_factory=lambda: Switch(True))

    def start(self, at_s: float, fps: float) -> None:
        """The motor starts to turn."""
        self.run.set(at_s, True)
        self.motion.change_speed(at_s, fps, self.ramp_s)

    def cut(self, at_s: float) -> None:
        """The motor is cut, and the machine coasts to a stand."""
        self.run.set(at_s, False)
        self.motion.change_speed(at_s, 0.0, self.coast_s)

    def signal(self, kind: str) -> Switch:
        """``run``, ``lamp``, ``dowser`` or ``film``."""
        switch: Switch = getattr(self, kind)
        return switch


@dataclass(frozen=True)
class Link:
    """The film between two houses. Limits in frames of drift."""

    upstream: House
    downstream: House
    tight_fr: float
    spill_fr: float

    @property
    def id(self) -> str:
        """As the show file's signals name it."""
        return f"{self.upstream.id}>{self.downstream.id}"

    def drift_fr(self, at_s: float) -> float:
        """Frames of upstream minus frames of downstream, both since threaded."""
        return self.upstream.motion.frames(at_s) - self.downstream.motion.frames(at_s)

    def used(self, at_s: float) -> float:
        """Share of the limit that the drift goes towards."""
        drift_fr = self.drift_fr(at_s)
        return drift_fr / self.spill_fr if drift_fr > 0 else -drift_fr / self.tight_fr

    def crossing_s(self, share: float, after_s: float, before_s: float) -> float:
        """When the share of the limit is first used up, to a microsecond; infinite if not between the two moments."""
        step_s = 0.01
        low_s = after_s
        while low_s < before_s:
            high_s = min(low_s + step_s, before_s)
            if self.used(high_s) >= share:
                while high_s - low_s > 1e-6:
                    middle_s = (low_s + high_s) / 2
                    low_s, high_s = (low_s, middle_s) if self.used(middle_s) >= share else (middle_s, high_s)
                return high_s
            low_s = high_s
        return math.inf
