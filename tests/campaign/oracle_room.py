"""What must hold of the alarms of film, platters, early machines and adapters; and of every alarm's phase and priority.

As for lamps and dowsers (oracle_light.py): by contract.md's words, what was told, and the truth. Adapters are held to the
millisecond: a word that comes or does not come is all there is to know of them.
"""

from __future__ import annotations

from collections.abc import Iterator

from tests.campaign.beside import ARM_PLAN_S, Beside
from tests.campaign.gate import Gate
from tests.campaign.heard import NEAR_S, Heard, Spell, both

LOST_S = 2.0
DECK_S = 2.0
"""A platter is given so long to follow its machine."""
EARLY_S = 5.0
PULSES_S = 0.2
"""A start may be dated by the pulses after it."""
SURE = 3.0
OFF_S = 1.0
"""Film or a platter must have been there again for so long."""
WAITING = frozenset(
    {
        "gate-heat",
        "lamp-against-dowser",
        "adapter-stale",
        "adapter-lost",
        "adapter-restarted",
        "record-failing",
    }
)
LAMPS = frozenset({"lamp-dark", "lamp-out", "lamp-against-dowser", "lamp-left-on"})
STARTING = (
    WAITING | LAMPS
    | {"run-early", "start-late", "run-lost", "slack-low", "slack-critical", "slack-lost", "count-lost",
       "dowser-shut", "dowser-open-early", "film-out"}
)  # fmt: skip
PHASES = {
    "waiting": WAITING,
    "armed": WAITING | {"run-early"},
    "starting": STARTING,
    "stopped": WAITING | LAMPS | {"film-out"},
    "ended": WAITING | {"lamp-left-on"},
}
"""What can trip (contract.md's table); all in the phases that do not stand here."""
WITH_FILM = frozenset({"starting", "running", "running-out", "stopped"})
RUNNING = frozenset({"running", "running-out"})
ARMED = frozenset({"armed", "starting", "running", "running-out"})
PRIORITIES = {
    "low": {"lamp-left-on", "dowser-open-early", "adapter-stale", "adapter-restarted"},
    "medium": {"slack-low", "slack-forecast", "speed-off", "lamp-against-dowser", "blind"},
    "high": {"slack-critical", "slack-lost", "start-late", "run-lost", "run-early", "count-lost", "film-out",
             "deck-stopped", "lamp-out", "gate-heat", "dowser-shut", "adapter-lost", "record-failing"},
}  # fmt: skip
"""contract.md's, of all that have only one."""


class Rooms:
    """The findings about all that of one show."""

    def __init__(self, beside: Beside, heard: Heard) -> None:
        self.b, self.heard, self.show = beside, heard, beside.run.show

    def findings(self) -> Iterator[str]:
        """Everything that is wrong with them."""
        yield from self._in_their_phase()
        for a in self.show.adapters:
            yield from self._adapter(a.name)
        for k in range(len(self.show.houses)):
            yield from self._early(self.show.houses[k].id)
            yield from self._film(Gate(self.b, self.heard, k))
        yield from self._deck("feed", 0)
        yield from self._deck("take-up", -1)

    def _trips(self, code: str, subject: str) -> list[Spell]:
        return self.heard.spells.get((code, subject), [])

    def _in_their_phase(self) -> Iterator[str]:
        rank = {code: priority for priority, codes in PRIORITIES.items() for code in codes}
        for (code, subject), spells in self.heard.spells.items():
            for x in spells:
                if code not in PHASES.get(x.phase, {code}):
                    yield f"{code} on {subject} trips at plan {x.from_s:.3f} s while the show is {x.phase}"
                wanted = rank.get(code)
                if code.startswith("adapter-") and x.phase == "waiting":
                    wanted = "low"
                if wanted is not None and x.line.priority != wanted:
                    yield f"{code} on {subject} is {x.line.priority} at plan {x.from_s:.3f} s, and is to be {wanted}"

    def _adapter(self, name: str) -> Iterator[str]:
        """Stale after 750 ms without a word or when it is known to be gone, lost after 2 s, until its next word."""
        for code in ("adapter-stale", "adapter-lost"):
            due = [
                (max(stale_s, word_s + LOST_S) if code == "adapter-lost" else stale_s, back_s)
                for stale_s, back_s, word_s in self.heard.silences[name]
            ]
            due = [(a, b) for a, b in due if a < min(b, self.heard.until_s) - NEAR_S]
            said = [(x.from_s, x.to_s) for x in self._trips(code, name) if x.to_s - x.from_s > NEAR_S]
            for from_s, to_s in said:
                if not any(abs(from_s - a) < NEAR_S for a, _ in due):
                    yield f"{code} on {name} at plan {from_s:.3f} s is false, or is said at the wrong time"
                elif not any(
                    abs(from_s - a) < NEAR_S and (to_s == b or abs(to_s - b) < NEAR_S) for a, b in due
                ):
                    yield f"{code} on {name} of plan {from_s:.3f} s ends at {to_s:.3f} s, and not with its next word"
            for a, _ in due:
                if not any(abs(from_s - a) < NEAR_S for from_s, _ in said):
                    yield f"{code} on {name} does not come at plan {a:.3f} s"

    def _early(self, house: str) -> Iterator[str]:
        """Armed, and turning more than 5 s before motor_start. The wall clock is not set before the start."""
        for x in self.heard.series(f"{house}.run"):
            since_s = max(x.fact_s, ARM_PLAN_S)
            if x.value and since_s < -EARLY_S - PULSES_S:
                from_s = max(x.from_s, ARM_PLAN_S)
                spans = [(from_s, min(x.to_s, 0.0))] if from_s < min(x.to_s, 0.0) else []
                yield from self.heard.missed("run-early", house, spans, ARMED)
        yield from self.heard.lingers("run-early", house, self.heard.spans(f"{house}.run", False))
        yield from self.heard.lingers(
            "run-early", house, both(self.heard.spans(f"{house}.run", True), [(0.0, 9e9)])
        )
        for spell in self._trips("run-early", house):
            on = self.heard.at(f"{house}.run", spell.from_s, True)
            if on is None or spell.from_s > 0.0 or max(on.fact_s, ARM_PLAN_S) > -EARLY_S + PULSES_S:
                yield f"run-early on {house} at plan {spell.from_s:.3f} s is false"

    def _film(self, gate: Gate) -> Iterator[str]:
        """Film absent at its sensor where film should be, with 3 σ to spare."""
        house, signal = gate.house, f"{gate.house}.film"
        end_fr = self.show.length_fr + self.show.houses[self._index(house)].film_sensor_fr
        gone = both(self.heard.spans(signal, False), [(ARM_PLAN_S, self.heard.until_s)])
        yield from self.heard.missed(
            "film-out", house, list(gate.surely(gone, -1e9, end_fr, SURE)), WITH_FILM
        )
        there = both(self.heard.spans(signal, True), [(ARM_PLAN_S, self.heard.until_s)])
        yield from self.heard.lingers("film-out", house, gate.seen(there), OFF_S)
        for x in self._trips("film-out", house):
            out = self.heard.at(signal, x.from_s, False)
            if out is None:
                yield f"film-out on {house} at plan {x.from_s:.3f} s is false: film is there"
                continue
            crossed_s = x.line.values.get("crossed_s")
            if not isinstance(crossed_s, float) or abs(self.b.plan_s(crossed_s) - out.fact_s) > 0.3:
                yield f"film-out on {house} is dated {crossed_s}, and film was out at plan {out.fact_s:.3f} s"
            open_fr = gate.allowed_fr(x.from_s)
            if gate.known and (
                open_fr is None or gate.frame(x.from_s) + SURE * gate.survey_fr - open_fr > end_fr
            ):
                yield f"film-out on {house} at plan {x.from_s:.3f} s is false: it may be through"

    def _index(self, house: str) -> int:
        return next(k for k, h in enumerate(self.show.houses) if h.id == house)

    def _deck(self, name: str, k: int) -> Iterator[str]:
        """Its platter does not turn although film runs."""
        link = self.show.feed if name == "feed" else self.show.take_up
        k %= len(self.show.houses)
        gate, house = Gate(self.b, self.heard, k), self.show.houses[k]
        if link is None or f"{name}.run" not in self.heard.place:
            for x in self._trips("deck-stopped", name):
                yield f"deck-stopped on {name} at plan {x.from_s:.3f} s: it has no contact"
            return
        end_fr = self.show.length_fr - (link.path_fr if name == "feed" else 0.0)
        stood = both(self.heard.spans(f"{name}.run", False), self.heard.spans(f"{house.id}.run", True))
        spans = list(gate.surely(stood, -1e9, end_fr, SURE))
        yield from self.heard.missed("deck-stopped", name, spans, RUNNING, DECK_S + house.ramp_s)
        turns = both(self.heard.spans(f"{name}.run", True), self.heard.spans(f"{house.id}.run", True))
        yield from self.heard.lingers("deck-stopped", name, turns, OFF_S)
        for x in self._trips("deck-stopped", name):
            open_fr = gate.allowed_fr(x.from_s)
            if not any(a - NEAR_S <= x.from_s <= b + NEAR_S for a, b in stood):
                yield f"deck-stopped on {name} at plan {x.from_s:.3f} s is false: it turns, or {house.id} stands"
            elif gate.known and (
                open_fr is None or gate.frame(x.from_s) - open_fr - SURE * gate.survey_fr > end_fr
            ):
                yield f"deck-stopped on {name} at plan {x.from_s:.3f} s is false: no film is on it any more"
