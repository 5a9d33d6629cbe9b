"""The start of a recorded show: when each house's motor began to turn, in seconds after the planned motor_start."""

from __future__ import annotations

import msgspec
import numpy as np

from interlock.incident.recorded import show_of
from interlock.journal import Record
from interlock.showfile.show import Show
from interlock.signals import Contacts, Counts
from interlock.text import shown
from interlock.watch.inputs import Anchor, Input
from interlock.watch.state import ShowLine

LONGEST_S = 60.0
"""A motor that has not turned so long after the first one did not start."""
AT_SPEED_S = 1.0
"""After its ramp a machine is given so long to be at speed, where only its counter says when it started."""
LOOK_S = 5.0
"""And its counter is looked at for so long: a supply that is 0.05 % off is then 2 ms off."""


class Start(msgspec.Struct, frozen=True):
    """One recorded start. ``delay_s``: per house, seconds after motor_start; of a house that is missing nobody saw a start.

    ``by``: what said so, ``contact`` or ``counter`` (then the show file's ramp is taken for true). ``rehearsal``: of simulated
    machines.
    """

    record: str
    title: str
    show: Show
    delay_s: dict[str, float]
    by: dict[str, str]
    rehearsal: bool = False


def read_start(record: Record) -> Start | None:
    """The first start after the desk was armed for the last time before show zero; None if no motor ever turned."""
    show = show_of(record.meta)
    armed = zero = None
    for seq, line in record.lines():
        if isinstance(line, ShowLine):
            if line.phase == "armed":
                armed = seq
            elif line.phase == "starting":
                zero = seq
                break
    if zero is None:
        return None
    inputs: list[Input] = []
    anchor: Anchor | None = None
    for _, x in record.inputs(0):
        if isinstance(x, Anchor):
            anchor = x
        break
    end_s: float | None = None
    for seq, x in record.inputs(armed or 0):
        if isinstance(x, Anchor):
            anchor = x
        if seq == zero:
            end_s = x.at_s + LONGEST_S
        if end_s is not None and x.at_s > end_s:
            break
        inputs.append(x)
    if anchor is None:
        return None
    offset_s = anchor.wall_s - anchor.at_s - show.motor_start_wall_s
    begun, by = _begun(show, inputs)
    return Start(
        record=shown(record.path.name),
        title=record.meta.title,
        show=show,
        delay_s={h: t + offset_s for h, t in begun.items()},
        by=by,
        rehearsal=record.meta.rehearsal,
    )


def _begun(show: Show, inputs: list[Input]) -> tuple[dict[str, float], dict[str, str]]:
    """Desk seconds at which each motor began to turn, and what said so."""
    state: dict[str, bool] = {}
    begun: dict[str, float] = {}
    wired: set[str] = set()
    pulses: dict[str, tuple[list[float], list[float]]] = {}
    runs = {f"{h.id}.run": h.id for h in show.houses}
    for x in inputs:
        if isinstance(x, Contacts):
            for signal, value in x.values:
                house = runs.get(signal)
                if house is None:
                    continue
                wired.add(house)
                if value and state.get(signal) is False:
                    begun.setdefault(house, x.fact_s)
                state[signal] = value
        elif isinstance(x, Counts):
            for signal, frames, pulse_s in x.values:
                times, counts = pulses.setdefault(signal.removesuffix(".frames"), ([], []))
                if not counts or frames != counts[-1]:
                    # Before its first pulse a counter stands at what it stood at: that is where counting begins.
                    times.append(pulse_s if pulse_s is not None else x.fact_s)
                    counts.append(frames)
    by = dict.fromkeys(begun, "contact")
    for h in show.houses:
        if h.id not in wired and h.id in pulses:
            start_s = _by_counter(*pulses[h.id], show.fps, h.ramp_s)
            if start_s is not None:
                begun[h.id], by[h.id] = start_s, "counter"
    return begun, by


def _by_counter(times: list[float], counts: list[float], fps: float, ramp_s: float) -> float | None:
    """At speed a machine has run fps·(t − start − ramp/2) frames: the start is read back from where that line is zero."""
    if len(counts) < 3:
        return None
    t, n = np.array(times), np.array(counts)
    moving = np.flatnonzero(np.diff(n) > 0)
    if not len(moving):
        return None
    first = int(moving[0]) + 1
    steady_s = t[first] + ramp_s + AT_SPEED_S
    at_speed = (t >= steady_s) & (t <= steady_s + LOOK_S)
    if at_speed.sum() < 5:
        return None
    # The film stood somewhere between two pulses: the first one came after half a frame on average (1-sigma 0.29 of one).
    lag_s = float(np.mean(t[at_speed] - (n[at_speed] - n[first - 1] - 0.5) / fps))
    return lag_s - ramp_s / 2.0
