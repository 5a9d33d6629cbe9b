"""What must hold of the alarms of lamps and dowsers: by contract.md's words, the contacts as they were told, and the truth.

Each alarm is held both ways. It is false if what it says was not so by any contact that was told, or with the print anywhere
that the desk's σ leaves open. It is missed if all of that held beyond doubt for its time, in a phase in which it may trip.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from tests.campaign.beside import Beside
from tests.campaign.gate import Z95, Gate
from tests.campaign.heard import LAMPS, NEAR_S, WATCHED, Heard, both
from tests.campaign.oracle_dark import OFF_S, Darks

OPEN_EARLY_S = 10.0
LEFT_ON_S = 300.0
ON_PICTURE_S = 1.0
ALWAYS = WATCHED | {"waiting", "armed", "stopped", "ended"}
TRUTH = {
    "lamp-lit": ("lamp", True), "lamp-dark": ("lamp", False), "dowser-open": ("dowser", True),
    "dowser-shut": ("dowser", False), "start": ("run", True), "stop": ("run", False), "film-past": ("film", False),
}  # fmt: skip
TICK_S = 0.02


class Lights:
    """The findings about lamps and dowsers of one show."""

    def __init__(self, beside: Beside, heard: Heard) -> None:
        self.b, self.heard, self.show = beside, heard, beside.run.show
        first = [p for p in self.show.parts if p.kind in ("feature", "trailer")]
        self.first_fr, self.last_fr = float(first[0].start_fr), float(first[-1].end_fr)
        # These shows have one stretch of picture each.
        assert all(a.end_fr == b.start_fr for a, b in pairwise(first))

    def findings(self) -> Iterator[str]:
        """Everything that is wrong with them."""
        yield from self._told_as_it_was()
        darks = Darks(self.b, self.heard, self.first_fr, self.last_fr)
        for k, house in enumerate(self.show.houses):
            gate = Gate(self.b, self.heard, k)
            yield from self._heat(house.id)
            yield from self._against(house.id, house.shut_dowser_limit_s)
            yield from self._left_on(gate)
            yield from self._open_early(gate)
            if house.lit:
                yield from darks.findings(gate, house.lamp_lead_s)
                yield from self._shut(gate)
            else:
                for code in ("lamp-dark", "lamp-out", "dowser-shut"):
                    for x in self.heard.spells.get((code, house.id), ()):
                        yield f"{code} on {house.id} at plan {x.from_s:.3f} s is false: no picture is wanted there"

    def _told_as_it_was(self) -> Iterator[str]:
        """A contact that does not lie is told as it was at that moment."""
        moves: dict[str, list[tuple[float, bool]]] = {}
        for e in self.b.room.log:
            if e.what in TRUTH:
                what, value = TRUTH[e.what]
                moves.setdefault(f"{e.subject}.{what}", []).append((e.at_s, value))
        for signal in sorted(self.heard.place):
            if signal in self.heard.lies or signal.split(".")[0] in ("feed", "take-up"):
                continue
            for x in self.heard.series(signal):
                was = [signal.endswith(".film")]
                for at_s, value in moves.get(signal, ()):
                    if at_s > x.fact_s + TICK_S:
                        break
                    was = [*was[-1:], value] if at_s > x.fact_s - TICK_S else [value]
                if x.value not in was:
                    yield f"{signal} is told to be {x.value} at plan {x.fact_s:.3f} s and was not"

    # Heat.

    def _heat(self, house: str) -> Iterator[str]:
        """Lit, open, film (present or unknown) not moving; in every phase."""
        gone = self.heard.spans(f"{house}.film", False)
        edges = [-math.inf, *(t for span in gone for t in span), math.inf]
        there = list(zip(edges[::2], edges[1::2], strict=True))
        spans = both(self.heard.where(house, lamp=True, dowser=True, run=False), there)
        yield from self.heard.missed("gate-heat", house, spans, ALWAYS)
        for cold in ({"lamp": False}, {"dowser": False}, {"run": True}):
            yield from self.heard.lingers("gate-heat", house, self.heard.where(house, **cold))
        for x in self.heard.spells.get(("gate-heat", house), ()):
            so = self.heard.so(house, x.from_s, lamp=True, dowser=True, run=False)
            if not so or not any(a - NEAR_S <= x.from_s <= b + NEAR_S for a, b in there):
                yield f"gate-heat on {house} at plan {x.from_s:.3f} s is false"

    def _against(self, house: str, limit_s: float) -> Iterator[str]:
        """Lit against the shut dowser for longer than its limit; what is not heard does not begin it anew."""
        for a, b in self.heard.where(house, lamp=True, dowser=False):
            lit = self.heard.at(f"{house}.lamp", a, True)
            shut = self.heard.at(f"{house}.dowser", a, False)
            assert lit is not None
            assert shut is not None
            left_s = max(0.0, max(lit.since_s, shut.since_s) + limit_s - a)
            yield from self.heard.missed("lamp-against-dowser", house, [(a, b)], ALWAYS, left_s)
        for well in (
            {"lamp": False, "dowser": False},
            {"lamp": False, "dowser": True},
            {"lamp": True, "dowser": True},
        ):
            yield from self.heard.lingers("lamp-against-dowser", house, self.heard.where(house, **well))
        for x in self.heard.spells.get(("lamp-against-dowser", house), ()):
            lit = self.heard.at(f"{house}.lamp", x.from_s, True)
            shut = self.heard.at(f"{house}.dowser", x.from_s, False)
            if lit is None or shut is None or x.from_s - max(lit.fact_s, shut.fact_s) < limit_s - 2 * NEAR_S:
                yield f"lamp-against-dowser on {house} at plan {x.from_s:.3f} s is false"

    # By where the print is.

    def _left_on(self, gate: Gate) -> Iterator[str]:
        """Still lit 5 min after the last picture."""
        house = gate.house
        for passed in list(gate.surely(self.heard.where(house, run=True), self.last_fr, math.inf))[:1]:
            # Not of a house that was not heard when its picture ended.
            since_s = max(passed[0], gate.when(self.last_fr)) + LEFT_ON_S
            spans = both(self.heard.where(house, lamp=True), [(since_s, math.inf)])
            yield from self.heard.missed("lamp-left-on", house, spans, LAMPS | {"ended"})
        yield from self.heard.lingers("lamp-left-on", house, gate.seen(self.heard.where(house, lamp=False)))
        for x in self.heard.spells.get(("lamp-left-on", house), ()):
            over_s = gate.when(self.last_fr - (gate.allowed_fr(x.from_s) or math.inf))
            if not self.heard.so(house, x.from_s, lamp=True) or x.from_s - over_s < LEFT_ON_S - 0.1:
                yield f"lamp-left-on on {house} at plan {x.from_s:.3f} s is false"

    def _open_early(self, gate: Gate) -> Iterator[str]:
        """Open more than 10 s before picture, film running."""
        house = gate.house
        before_fr = self.first_fr - OPEN_EARLY_S * gate.fast_fps
        spans = list(gate.surely(self.heard.where(house, dowser=True, run=True), -math.inf, before_fr))
        yield from self.heard.missed("dowser-open-early", house, spans, WATCHED)
        shut = gate.seen(self.heard.where(house, dowser=False, run=True))
        yield from self.heard.lingers("dowser-open-early", house, shut, OFF_S)
        for x in self.heard.spells.get(("dowser-open-early", house), ()):
            open_fr = gate.allowed_fr(x.from_s)
            if not self.heard.so(house, x.from_s, dowser=True):
                yield f"dowser-open-early on {house} at plan {x.from_s:.3f} s is false: it is not open"
            elif gate.known and (
                open_fr is None
                or gate.frame(x.from_s) > self.first_fr - OPEN_EARLY_S * gate.slow_fps + open_fr
            ):
                yield f"dowser-open-early on {house} at plan {x.from_s:.3f} s is false: frame {gate.frame(x.from_s):.1f}"

    def _shut(self, gate: Gate) -> Iterator[str]:
        """Picture in the gate with 95 % certainty for 1 s, and the dowser shut."""
        house = gate.house
        spans = list(
            gate.surely(self.heard.where(house, dowser=False, run=True), self.first_fr, self.last_fr)
        )
        yield from self.heard.missed("dowser-shut", house, spans, WATCHED, ON_PICTURE_S)
        yield from self.heard.lingers("dowser-shut", house, gate.seen(self.heard.where(house, dowser=True)))
        for x in self.heard.spells.get(("dowser-shut", house), ()):
            if not self.heard.so(house, x.from_s, dowser=False, run=True):
                yield f"dowser-shut on {house} at plan {x.from_s:.3f} s is false: it is not shut, or nothing runs"
            elif gate.known:
                open_fr, sure_fr = gate.allowed_fr(x.from_s), Z95 * gate.survey_fr
                now_fr, then_fr = gate.frame(x.from_s), gate.frame(x.from_s - ON_PICTURE_S)
                if (
                    open_fr is None
                    or then_fr < self.first_fr + sure_fr - open_fr
                    or now_fr > self.last_fr - sure_fr + open_fr
                ):
                    yield f"dowser-shut on {house} at plan {x.from_s:.3f} s is false: frame {now_fr:.1f}"
