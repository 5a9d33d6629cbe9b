"""The crew of the room: does what the plan says, by where the print is, a moment late as people are.

Strikes, opens, shuts, puts lamps and motors off; after an incident, if the scenario says so, stops all machines
(the downstream neighbour first and onward, then the upstream ones), shuts the dowsers, and starts all again.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from drivers.simulator.chance import stream
from drivers.simulator.machine import Machine

if TYPE_CHECKING:
    from drivers.simulator.room import Room

IGNITION_S = 0.2
NEXT_HOUSE_S = 0.3
"""From one stop button to the next."""


class Light:
    """Lamp and dowser of one house, and what hinders them."""

    def __init__(self) -> None:
        self.lamp = self.dowser = False
        self.lamp_wanted = self.dowser_wanted = False
        self.fails: float = 0
        self.retry_s = 15.0
        self.late_s = 0.0
        self.dowser_late_s = 0.0
        self.stuck = False


class Crew:
    """One person for each house, who sees its gate."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.rng = {m.house: stream(room.seed, "crew", m.house) for m in room.machines}
        self.light = {m.house: Light() for m in room.machines}
        self.stopping = False
        self.will_restart = False
        for m in room.machines:
            self._cues(m)

    def _soon(self, m: Machine, low_s: float = 0.15, high_s: float = 0.6) -> float:
        return self.rng[m.house].uniform(low_s, high_s)

    def _cues(self, m: Machine) -> None:
        """What is done in this house at which print frame, as the plan lists it."""
        fps, spans = self.room.spec.fps, self.room.spec.picture_spans
        if not (m.spec.lit and spans):
            return
        self._when(m, spans[0][0] - m.spec.lamp_lead_s * fps, self._strike_cue)
        shut_fr = float("-inf")
        for start_fr, end_fr in spans:
            self._when(m, max(start_fr - m.spec.dowser_lead_s * fps, shut_fr), self._open_cue)
            self._when(m, end_fr, self._close_cue)
            shut_fr = end_fr
        self._when(m, spans[-1][1], self._lamp_off_cue)

    def _when(self, m: Machine, frame: float, do: Callable[[Machine, float], None]) -> None:
        run_fr = m.first_picture_fr + frame
        if run_fr > 0:
            m.mark(run_fr, lambda t_s: do(m, t_s))
        else:  # due before the motors start: by the clock
            plan_s = m.spec.start_delay_s + m.spec.ramp_s / 2.0 + run_fr / self.room.spec.fps
            self.room.at(plan_s, lambda t_s: do(m, t_s))

    # Light.

    def _strike_cue(self, m: Machine, t_s: float) -> None:
        light = self.light[m.house]
        light.lamp_wanted = True
        self.room.at(t_s + self._soon(m) + light.late_s, lambda at_s: self.strike(m, at_s))

    def strike(self, m: Machine, t_s: float) -> None:
        """The igniter fires; the lamp burns, or does not."""
        light = self.light[m.house]
        if light.lamp or not light.lamp_wanted:
            return
        self.room.struck(t_s, m.house)
        if light.fails > 0:
            light.fails -= 1
            self.room.say(t_s, "lamp-failed", m.house)
            self.room.at(t_s + light.retry_s, lambda at_s: self.strike(m, at_s))
        else:
            self.room.at(t_s + IGNITION_S, lambda at_s: self.set_lamp(m, at_s, light.lamp_wanted))

    def set_lamp(self, m: Machine, t_s: float, lit: bool) -> None:
        """The lamp burns, or no longer."""
        light = self.light[m.house]
        if light.lamp != lit:
            light.lamp = lit
            self.room.say(t_s, "lamp-lit" if lit else "lamp-dark", m.house)
            self.room.contact(t_s, f"{m.house}.lamp", lit)

    def _lamp_off_cue(self, m: Machine, t_s: float) -> None:
        self.light[m.house].lamp_wanted = False
        self.room.at(t_s + self._soon(m, 1.0, 2.5), lambda at_s: self.set_lamp(m, at_s, False))

    def _open_cue(self, m: Machine, t_s: float) -> None:
        wait_s = self._soon(m) + self.light[m.house].dowser_late_s
        self.room.at(t_s + wait_s, lambda at_s: self.want_dowser(m, at_s, True))

    def _close_cue(self, m: Machine, t_s: float) -> None:
        self.room.at(t_s + self._soon(m), lambda at_s: self.want_dowser(m, at_s, False))

    def want_dowser(self, m: Machine, t_s: float, is_open: bool) -> None:
        """A hand on the dowser; it moves unless it is stuck."""
        light = self.light[m.house]
        light.dowser_wanted = is_open
        if light.dowser != is_open and not light.stuck:
            light.dowser = is_open
            self.room.say(t_s, "dowser-open" if is_open else "dowser-shut", m.house)
            self.room.contact(t_s, f"{m.house}.dowser", is_open)

    # The end.

    def house_clear(self, m: Machine, t_s: float) -> None:
        """The film is through here: this link is released, and the motor may go off."""
        self.room.at(t_s + self._soon(m, 2.0, 5.0), lambda at_s: self.room.cut(m, at_s, "motor-off"))
        if (
            self.light[m.house].dowser_wanted or self.light[m.house].lamp_wanted
        ):  # torn film, picture not over
            self._close_cue(m, t_s)
            self._lamp_off_cue(m, t_s)

    # Incidents.

    def incident(self, m: Machine, t_s: float) -> None:
        """Something stopped or tore: whoever is there sees it."""
        wait_s = self.room.scenario.crew_stops_after_s
        if wait_s is not None and not self.stopping:
            self.stopping = True
            self.room.at(t_s + wait_s, lambda at_s: self.stop_all(at_s, m.index))

    def stop_all(self, t_s: float, where: int = -1) -> None:
        """Every machine is stopped by hand, every dowser shut; ``where``: the house that it began in."""
        self.stopping = True
        machines = self.room.machines
        order = [*machines[where + 1 :], *reversed(machines[: where + 1])]
        self.room.say(t_s, "stop-all", "crew")
        last_s = t_s
        for n, m in enumerate(order):
            last_s = t_s + n * NEXT_HOUSE_S + self._soon(m, 0.0, 0.2)
            self.room.at(last_s, lambda at_s, m=m: self._stop(m, at_s))  # type: ignore[misc]
        again_s = self.room.scenario.crew_restarts_after_s
        if again_s is not None:
            self.will_restart = True
            self.room.at(last_s + again_s, self.restart_all)

    def _stop(self, m: Machine, t_s: float) -> None:
        self.room.cut(m, t_s, "crew")
        self.room.at(t_s + self._soon(m, 0.2, 0.5), lambda at_s: self.want_dowser(m, at_s, False))

    def restart_all(self, t_s: float) -> None:
        """All start again together, as their timers do. Not with film that has parted."""
        self.will_restart = self.stopping = False
        room = self.room
        if any(p.parted and not p.released for p in room.loops):
            room.say(t_s, "restart-refused", "crew", "film has parted")
            return
        room.say(t_s, "restart-all", "crew")
        least_s = min(m.spec.start_delay_s for m in room.machines)
        for m in room.machines:
            if m.clear or m.motor_on:
                continue
            scatter_s = m.rng.gauss(0.0, m.spec.start_scatter_s)
            start_s = max(t_s, t_s + m.spec.start_delay_s - least_s + scatter_s + 1.0)
            room.plan_start(m, start_s)
            room.at(start_s + m.spec.ramp_s + 1.0, lambda at_s, m=m: self._light_again(m, at_s))  # type: ignore[misc]

    def _light_again(self, m: Machine, t_s: float) -> None:
        frame = m.print_frame(t_s)
        if m.spec.lit and m.motor_on and any(a <= frame < b for a, b in self.room.spec.picture_spans):
            self.want_dowser(m, t_s, True)
