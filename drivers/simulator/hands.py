"""Faults made real: what each kind of fault does to the room, and how it passes."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from drivers.simulator import faults_booth as booth
from drivers.simulator.chance import stream
from drivers.simulator.fault_model import FaultModel
from drivers.simulator.faults import Fault
from drivers.simulator.machine import Machine, Swing

if TYPE_CHECKING:
    from drivers.simulator.room import Room

HUNTING_TAU_S = 5.0


class Hands:
    """Brings faults about, at their times."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.last_fault_s = -math.inf
        """When the last fault of the scenario happens."""

    def from_the_beginning(self) -> None:
        """What the scenario says: faults without a time hold now, the others come in theirs."""
        for fault in self.room.scenario.faults:
            if fault.at_s is None:
                self.bring(fault, self.room.now_s)
            else:
                self.plan(fault, fault.at_s)

    def plan(self, fault: Fault, at_s: float) -> None:
        """It will happen then."""
        self.last_fault_s = max(self.last_fault_s, at_s)
        self.room.at(at_s, lambda t_s: self.bring(fault, t_s))

    def bring(self, fault: FaultModel, t_s: float) -> None:
        """It happens now."""
        subject = next(
            (
                v
                for k in ("house", "link", "adapter", "signal", "supply", "platter")
                if (v := getattr(fault, k, None))
            ),
            "booth",
        )
        self.room.say(t_s, "fault", subject, getattr(fault, "kind", ""))
        act = _ACTS.get(type(fault))
        if act is None:
            self.room.adapter_fault(t_s, fault)
        else:
            act(self.room, fault, t_s)
            for m in self.room.machines:
                if m.phase == "running":
                    m.motion.begin(t_s, self.room.speed(m))
                    self.room.moved(m, t_s)


def _house(room: Room, fault: FaultModel) -> Machine:
    return room.by_house[getattr(fault, "house", "")]


def _passes(room: Room, fault: FaultModel, t_s: float, undo: Callable[[], None]) -> None:
    """After ``for`` it is as before."""
    for_s = getattr(fault, "for_s", None)
    if for_s is None:
        return

    def over(at_s: float) -> None:
        undo()
        for m in room.machines:
            if m.phase == "running":
                m.motion.begin(at_s, room.speed(m))
                room.moved(m, at_s)

    room.at(t_s + for_s, over)


def _trip(room: Room, f: booth.Trip, t_s: float) -> None:
    room.cut(_house(room, f), t_s, "trip")


def _no_start(room: Room, f: booth.NoStart, t_s: float) -> None:
    _house(room, f).no_start = True


def _start_late(room: Room, f: booth.StartLate, t_s: float) -> None:
    m = _house(room, f)
    m.late_s += f.by_s
    if m.start_s is not None:
        room.plan_start(m, max(t_s, m.start_s + f.by_s))


def _creep(room: Room, f: booth.Creep, t_s: float) -> None:
    m = _house(room, f)
    m.creep += f.by

    def undo() -> None:
        m.creep -= f.by

    _passes(room, f, t_s, undo)


def _speed(room: Room, f: booth.SpeedFault, t_s: float) -> None:
    m = _house(room, f)
    m.forced_fps = f.fps

    def undo() -> None:
        m.forced_fps = None

    _passes(room, f, t_s, undo)


def _wander(room: Room, f: booth.Wander, t_s: float) -> None:
    m = _house(room, f)
    m.hunting = Swing(stream(room.seed, "hunting", m.house, f"{t_s}"), f.by, HUNTING_TAU_S)

    def undo() -> None:
        m.hunting = None

    _passes(room, f, t_s, undo)


def _mains(room: Room, f: booth.Mains, t_s: float) -> None:
    room.mains_off[f.supply] += f.by

    def undo() -> None:
        room.mains_off[f.supply] -= f.by

    _passes(room, f, t_s, undo)


def _jog(room: Room, f: booth.Jog, t_s: float) -> None:
    m = _house(room, f)
    if m.motor_on:
        return
    planned_s = m.start_s
    room.start(m, t_s)

    def off(at_s: float) -> None:
        room.cut(m, at_s, "jog")
        if planned_s is not None and planned_s > at_s:
            room.plan_start(m, planned_s)

    room.at(t_s + f.for_s, off)


def _pass_film(room: Room, f: booth.PassFilm, t_s: float) -> None:
    m = _house(room, f)
    if m.phase == "standing":
        m.motion.begin(t_s, 0.0, jump_fr=f.n_fr)
        room.moved(m, t_s)


def _when_tight(room: Room, f: booth.WhenTight, t_s: float) -> None:
    next(p for p in room.loops if p.id == f.link).then = f.then


def _splice_parts(room: Room, f: booth.SpliceParts, t_s: float) -> None:
    room.film.part(next(p for p in room.loops if p.id == f.link), t_s)


def _platter_stops(room: Room, f: booth.PlatterStops, t_s: float) -> None:
    room.film.deck(f.platter, t_s, stopped=True)
    if f.for_s is not None:
        room.at(t_s + f.for_s, lambda at_s: room.film.deck(f.platter, at_s, stopped=False))


def _lamp_fails(room: Room, f: booth.LampFails, t_s: float) -> None:
    light = room.crew.light[f.house]
    light.fails, light.retry_s = f.tries or math.inf, f.retry_s


def _lamp_late(room: Room, f: booth.LampLate, t_s: float) -> None:
    room.crew.light[f.house].late_s += f.by_s


def _lamp_out(room: Room, f: booth.LampOut, t_s: float) -> None:
    m = _house(room, f)
    room.crew.set_lamp(m, t_s, False)
    if f.for_s is not None:
        room.at(t_s + f.for_s, lambda at_s: room.crew.strike(m, at_s))


def _dowser_stuck(room: Room, f: booth.DowserStuck, t_s: float) -> None:
    m = _house(room, f)
    light = room.crew.light[f.house]
    light.stuck = True

    def free(at_s: float) -> None:
        light.stuck = False
        room.crew.want_dowser(m, at_s, light.dowser_wanted)

    if f.for_s is not None:
        room.at(t_s + f.for_s, free)


def _dowser_late(room: Room, f: booth.DowserLate, t_s: float) -> None:
    room.crew.light[f.house].dowser_late_s += f.by_s


def _stop_all(room: Room, f: booth.StopAll, t_s: float) -> None:
    room.crew.stop_all(t_s)


def _restart_all(room: Room, f: booth.RestartAll, t_s: float) -> None:
    room.crew.restart_all(t_s)


_ACTS: dict[type, Callable[..., None]] = {
    booth.Trip: _trip, booth.NoStart: _no_start, booth.StartLate: _start_late, booth.Creep: _creep,
    booth.SpeedFault: _speed, booth.Wander: _wander, booth.Mains: _mains, booth.Jog: _jog,
    booth.PassFilm: _pass_film, booth.WhenTight: _when_tight, booth.SpliceParts: _splice_parts,
    booth.PlatterStops: _platter_stops, booth.LampFails: _lamp_fails, booth.LampLate: _lamp_late,
    booth.LampOut: _lamp_out, booth.DowserStuck: _dowser_stuck, booth.DowserLate: _dowser_late,
    booth.StopAll: _stop_all, booth.RestartAll: _restart_all,
}  # fmt: skip
"""What is not here concerns the adapters or the wall clock."""
