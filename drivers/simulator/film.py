"""The film in the room: loops that go tight or spill, splices that part, ends that pass, platters that turn.

A loop that is pulled tight does not give: the machine that pulls stalls, or a splice parts (polyester rarely
does). A loop that spills no longer holds its film, and drift goes on growing.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from drivers.simulator.machine import SWITCH_HYSTERESIS_FR, Loop, Machine
from drivers.simulator.motion import difference, first_reach

if TYPE_CHECKING:
    from drivers.simulator.room import Room

PARTS_SHARE = 0.2
"""How often a tight film parts a splice rather than stalling the machine."""
STILL_TIGHT_S = 0.6
DECK_SLACK_FR = 48.0
DECK_LAG_S = 0.3
ARM_FALLS_S = 0.2
_NEVER = object()


class Film:
    """What the film does to the machines, and they to it."""

    def __init__(self, room: Room) -> None:
        self.room = room
        spec = room.spec
        self.decks = {
            name: False
            for name, length in (("feed", spec.feed_fr), ("take-up", spec.take_up_fr))
            if length is not None
        }
        self.stopped_decks: set[str] = set()
        self._feed_empty = False
        self._ends: dict[tuple[int, str], float] = {}
        for m in room.machines:
            self._mark_ends(m)
        if spec.feed_fr is not None:
            first = room.machines[0]
            empty_fr = first.first_picture_fr + spec.length_fr - spec.feed_fr
            first.mark(max(empty_fr, 0.0), self._empty)

    # Ends.

    def _mark_ends(self, m: Machine) -> None:
        """Foresee the film's end at the sensor and in the gate; what was foreseen before no longer counts."""
        for what, frame, do in (
            ("sensor", m.end_frame + m.spec.film_sensor_fr, self._past_sensor),
            ("gate", m.end_frame, self._past_gate),
        ):
            key = (m.index, what)
            if self._ends.get(key, _NEVER) == frame:
                continue
            self._ends[key] = frame
            m.mark(m.first_picture_fr + frame, self._if_still(key, frame, m, do))

    def _if_still(
        self, key: tuple[int, str], frame: float, m: Machine, do: Callable[[Machine, float], None]
    ) -> Callable[[float], None]:
        def reached(t_s: float) -> None:
            if self._ends[key] == frame:
                do(m, t_s)

        return reached

    def _past_sensor(self, m: Machine, t_s: float) -> None:
        self.room.say(t_s, "film-past", m.house)
        self.room.contact(t_s, f"{m.house}.film", False)

    def _past_gate(self, m: Machine, t_s: float) -> None:
        m.clear = True
        self.room.say(t_s, "clear", m.house)
        if m.index < len(self.room.loops):
            p = self.room.loops[m.index]
            p.released = True
            p.released_s = t_s
            p.loose_s = min(p.loose_s, t_s)
            self.room.say(t_s, "released", p.id)
            self._switches(p, t_s, tight=False, spill=p.spill)
        self.room.crew.house_clear(m, t_s)
        self.motors_changed(m, t_s)

    def part(self, p: Loop, t_s: float) -> None:
        """A splice parts somewhere between the two gates. What is beyond it runs out, house by house."""
        if not p.holds:
            return
        p.parted = True
        p.loose_s = p.parted_s = t_s
        beyond_fr = p.rng.random() * p.path_fr
        self.room.say(t_s, "parted", p.id, f"{beyond_fr:.0f} fr before the gate of {p.spec.downstream}")
        end = p.down.print_frame(t_s) + beyond_fr
        for m in self.room.machines[p.down.index :]:
            if end < m.end_frame and not m.clear:
                m.end_frame = end
                self._mark_ends(m)
                self.room.look(m, t_s)
        self.room.at(t_s + ARM_FALLS_S, lambda at_s: self._switches(p, at_s, tight=False, spill=True))
        self.room.crew.incident(p.down, t_s)

    # Limits.

    def watch(self, p: Loop, t_s: float) -> None:
        """Foresee the next limit that this loop reaches or leaves, if before the next beat."""
        p.look_no = number = p.look_no + 1
        if not p.holds:
            return
        room = self.room
        c, b, a = difference(p.up.motion.pieces[-1], p.down.motion.pieces[-1], t_s)
        if a == b == 0.0 and not p.tight and -p.spec.tight_fr < c < p.spec.spill_fr:
            return
        give = SWITCH_HYSTERESIS_FR
        low = p.spec.tight_fr - (give if p.tight else 0.0)
        high = p.spec.spill_fr - (give if p.spill else 0.0)
        tight_in = first_reach(c + low, b, a) if p.tight else first_reach(-c - low, -b, -a)
        spill_in = first_reach(high - c, -b, -a) if p.spill else first_reach(c - high, b, a)
        for tau, do in ((tight_in, self._at_tight), (spill_in, self._at_spill)):
            if tau is not None and t_s + tau <= room.beat_s:
                room.at(
                    t_s + tau,
                    lambda at_s, do=do: do(p, at_s) if p.look_no == number else None,  # type: ignore[misc]
                )

    def _at_tight(self, p: Loop, t_s: float) -> None:
        self._switches(p, t_s, tight=not p.tight, spill=p.spill)
        if p.tight:
            self.room.say(t_s, "tight", p.id)
            self._pulled(p, t_s)
        self.watch(p, t_s)

    def _at_spill(self, p: Loop, t_s: float) -> None:
        self._switches(p, t_s, tight=p.tight, spill=not p.spill)
        if p.spill:
            self.room.say(t_s, "spilled", p.id)
        self.watch(p, t_s)

    def _pulled(self, p: Loop, t_s: float) -> None:
        """The film is tight and the downstream machine pulls: something gives way."""
        if not (p.tight and p.holds):
            return
        then = p.then or ("parts" if p.rng.random() < PARTS_SHARE else "stalls")
        if then == "parts":
            self.part(p, t_s)
        else:
            self.room.cut(p.down, t_s, "stalled")

    def _switches(self, p: Loop, t_s: float, *, tight: bool, spill: bool) -> None:
        for what, now, before in (("tight", tight, p.tight), ("spill", spill, p.spill)):
            if now != before:
                self.room.contact(t_s, f"{p.id}.{what}", now)
        p.tight, p.spill = tight, spill

    # Platters.

    def _empty(self, t_s: float) -> None:
        self._feed_empty = True
        self._decks_follow(t_s)

    def motors_changed(self, m: Machine, t_s: float) -> None:
        """A motor went on or off: the platters follow, and a loop that is still tight is pulled again."""
        if self.decks and m.index in (0, len(self.room.machines) - 1):
            self.room.at(t_s + DECK_LAG_S, self._decks_follow)
        if m.motor_on and m.index:
            p = self.room.loops[m.index - 1]
            if p.tight:
                self.room.at(t_s + STILL_TIGHT_S, lambda at_s: self._pulled(p, at_s) if m.motor_on else None)

    def _decks_follow(self, t_s: float) -> None:
        first, last = self.room.machines[0], self.room.machines[-1]
        wanted = {"feed": first.motor_on and not self._feed_empty, "take-up": last.motor_on}
        for name, turning in self.decks.items():
            now = wanted[name] and name not in self.stopped_decks
            if now != turning:
                self.decks[name] = now
                self.room.contact(t_s, f"{name}.run", now)

    def deck(self, name: str, t_s: float, *, stopped: bool) -> None:
        """A platter stops by itself, or turns again. From a feed that stands the first machine pulls until it stalls."""
        if name not in self.decks:
            return
        self.room.say(t_s, "deck-stopped" if stopped else "deck-runs", name)
        (self.stopped_decks.add if stopped else self.stopped_decks.discard)(name)
        self._decks_follow(t_s)
        if stopped and name == "feed" and not self._feed_empty:
            first = self.room.machines[0]

            def pulled(at_s: float) -> None:
                if "feed" in self.stopped_decks and not self._feed_empty:
                    self.room.say(at_s, "tight", "feed")
                    self.room.cut(first, at_s, "stalled")

            first.mark(first.motion.frames(t_s) + DECK_SLACK_FR, pulled)
            self.room.look(first, t_s)
