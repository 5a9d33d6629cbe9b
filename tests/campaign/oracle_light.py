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
from tests.campaign.heard import NEAR_S, Heard, Span, Spell, both

LAMP_DARK_S, PICTURE_WITHIN_S, MISSED_S = 10.0, 10.0, 2.0
"""A strike is missed when it is so late that no hand is just about to do it."""
OPEN_EARLY_S = 10.0
LEFT_ON_S = 300.0
ON_PICTURE_S = OFF_S = 1.0
SEEN_S = 1.2
"""A lamp that burns on picture so long has been seen to."""
EVER: tuple[Span, ...] = ((-math.inf, math.inf),)
WATCHED = frozenset({"starting", "running", "running-out"})
LAMPS = WATCHED | {"stopped"}
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
        for k, house in enumerate(self.show.houses):
            gate = Gate(self.b, self.heard, k)
            yield from self._heat(house.id)
            yield from self._against(house.id, house.shut_dowser_limit_s)
            yield from self._left_on(gate)
            yield from self._open_early(gate)
            if house.lit:
                yield from self._dark(gate, house.lamp_lead_s)
                yield from self._shut(gate)
            else:
                for code in ("lamp-dark", "lamp-out", "dowser-shut"):
                    for x in self._trips(code, house.id):
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

    def _trips(self, code: str, house: str) -> list[Spell]:
        return self.heard.spells.get((code, house), [])

    def _so(self, house: str, t_s: float, **contacts: bool) -> bool:
        """Whether these contacts were known to be so."""
        return all(self.heard.at(f"{house}.{c}", t_s, v) is not None for c, v in contacts.items())

    def _spans(self, house: str, **contacts: bool) -> list[Span]:
        spans = list(EVER)
        for contact, value in contacts.items():
            spans = both(spans, self.heard.spans(f"{house}.{contact}", value))
        return spans

    # Heat.

    def _heat(self, house: str) -> Iterator[str]:
        """Lit, open, film (present or unknown) not moving; in every phase."""
        gone = self.heard.spans(f"{house}.film", False)
        edges = [-math.inf, *(t for span in gone for t in span), math.inf]
        there = list(zip(edges[::2], edges[1::2], strict=True))
        spans = both(self._spans(house, lamp=True, dowser=True, run=False), there)
        yield from self.heard.missed("gate-heat", house, spans, ALWAYS)
        for cold in ({"lamp": False}, {"dowser": False}, {"run": True}):
            yield from self.heard.lingers("gate-heat", house, self._spans(house, **cold))
        for x in self._trips("gate-heat", house):
            so = self._so(house, x.from_s, lamp=True, dowser=True, run=False)
            if not so or not any(a - NEAR_S <= x.from_s <= b + NEAR_S for a, b in there):
                yield f"gate-heat on {house} at plan {x.from_s:.3f} s is false"

    def _against(self, house: str, limit_s: float) -> Iterator[str]:
        """Lit against the shut dowser for longer than its limit; what is not heard does not begin it anew."""
        for a, b in self._spans(house, lamp=True, dowser=False):
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
            yield from self.heard.lingers("lamp-against-dowser", house, self._spans(house, **well))
        for x in self._trips("lamp-against-dowser", house):
            lit = self.heard.at(f"{house}.lamp", x.from_s, True)
            shut = self.heard.at(f"{house}.dowser", x.from_s, False)
            if lit is None or shut is None or x.from_s - max(lit.fact_s, shut.fact_s) < limit_s - 2 * NEAR_S:
                yield f"lamp-against-dowser on {house} at plan {x.from_s:.3f} s is false"

    # By where the print is.

    def _left_on(self, gate: Gate) -> Iterator[str]:
        """Still lit 5 min after the last picture."""
        house = gate.house
        for passed in list(gate.surely(self._spans(house, run=True), self.last_fr, math.inf))[:1]:
            # Not of a house that was not heard when its picture ended.
            since_s = max(passed[0], gate.when(self.last_fr)) + LEFT_ON_S
            spans = both(self._spans(house, lamp=True), [(since_s, math.inf)])
            yield from self.heard.missed("lamp-left-on", house, spans, LAMPS | {"ended"})
        yield from self.heard.lingers("lamp-left-on", house, gate.seen(self._spans(house, lamp=False)))
        for x in self._trips("lamp-left-on", house):
            over_s = gate.when(self.last_fr - (gate.allowed_fr(x.from_s) or math.inf))
            if not self._so(house, x.from_s, lamp=True) or x.from_s - over_s < LEFT_ON_S - 0.1:
                yield f"lamp-left-on on {house} at plan {x.from_s:.3f} s is false"

    def _open_early(self, gate: Gate) -> Iterator[str]:
        """Open more than 10 s before picture, film running."""
        house = gate.house
        before_fr = self.first_fr - OPEN_EARLY_S * gate.fast_fps
        spans = list(gate.surely(self._spans(house, dowser=True, run=True), -math.inf, before_fr))
        yield from self.heard.missed("dowser-open-early", house, spans, WATCHED)
        shut = gate.seen(self._spans(house, dowser=False, run=True))
        yield from self.heard.lingers("dowser-open-early", house, shut, OFF_S)
        for x in self._trips("dowser-open-early", house):
            open_fr = gate.allowed_fr(x.from_s)
            if not self._so(house, x.from_s, dowser=True):
                yield f"dowser-open-early on {house} at plan {x.from_s:.3f} s is false: it is not open"
            elif gate.known and (
                open_fr is None
                or gate.frame(x.from_s) > self.first_fr - OPEN_EARLY_S * gate.slow_fps + open_fr
            ):
                yield f"dowser-open-early on {house} at plan {x.from_s:.3f} s is false: frame {gate.frame(x.from_s):.1f}"

    def _shut(self, gate: Gate) -> Iterator[str]:
        """Picture in the gate with 95 % certainty for 1 s, and the dowser shut."""
        house = gate.house
        spans = list(gate.surely(self._spans(house, dowser=False, run=True), self.first_fr, self.last_fr))
        yield from self.heard.missed("dowser-shut", house, spans, WATCHED, ON_PICTURE_S)
        yield from self.heard.lingers("dowser-shut", house, gate.seen(self._spans(house, dowser=True)))
        for x in self._trips("dowser-shut", house):
            if not self._so(house, x.from_s, dowser=False, run=True):
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

    def _dark(self, gate: Gate, lead_s: float) -> Iterator[str]:
        """A lamp that was not struck, or went out on picture."""
        house = gate.house
        on = list(gate.surely(self._spans(house, lamp=True, run=True), self.first_fr, self.last_fr))
        seen_s = min((a + SEEN_S for a, b in on if b - a > SEEN_S), default=math.inf)
        perhaps = [
            max(x.from_s, gate.when(self.first_fr - Z95 * gate.survey_fr - 60.0))
            for x in self.heard.series(f"{house}.lamp")
            if x.value
        ]
        perhaps_s = min((t for t in perhaps if t < math.inf), default=math.inf)
        dark = self._spans(house, lamp=False, run=True)
        out = list(gate.surely(both(dark, [(seen_s, math.inf)]), self.first_fr, self.last_fr))
        yield from self.heard.missed("lamp-out", house, out, LAMPS)
        for a, b in gate.surely(both(dark, [(-math.inf, perhaps_s)]), -math.inf, self.last_fr):
            yield from self._missed_strike(gate, lead_s, a, b)
        lit = gate.seen(self._spans(house, lamp=True, run=True))
        for code, off_s in (("lamp-dark", 0.0), ("lamp-out", OFF_S)):
            yield from self.heard.lingers(code, house, lit, off_s)
        yield from self._false_dark(gate, lead_s)

    def _missed_strike(self, gate: Gate, lead_s: float, a: float, b: float) -> Iterator[str]:
        house, fps = gate.house, self.show.fps
        open_fr = gate.open_fr(a, b)
        assert open_fr is not None
        struck_s = gate.when(self.first_fr - lead_s * fps + Z95 * gate.survey_fr + open_fr)
        missed_s = max(struck_s, a)
        near_s = max(
            gate.when(self.first_fr - PICTURE_WITHIN_S * gate.slow_fps + open_fr), missed_s + MISSED_S
        )
        due_s = min(near_s, missed_s + LAMP_DARK_S)
        yield from self.heard.missed("lamp-dark", house, [(a, b)], LAMPS, max(0.0, due_s - a))
        urgent_s = near_s + self.heard.soon_s(house)
        if urgent_s < b and any(s <= urgent_s < e for s, e in self.heard.live(LAMPS)):
            said = self.heard.urgency("lamp-dark", house, urgent_s)
            if self.heard.stands("lamp-dark", house, urgent_s) and said != "high":
                yield f"lamp-dark on {house} is {said} at plan {urgent_s:.3f} s, with picture near"

    def _false_dark(self, gate: Gate, lead_s: float) -> Iterator[str]:
        house, fps = gate.house, self.show.fps
        for code in ("lamp-dark", "lamp-out"):
            for t_s, line in self.heard.alarms.get((code, house), ()):
                if not line.active:
                    continue
                if not self._so(house, t_s, lamp=False, run=True):
                    yield f"{code} on {house} at plan {t_s:.3f} s is false: it is not dark, or nothing runs"
                    continue
                if not gate.known:
                    continue
                open_fr, frame = gate.allowed_fr(t_s), gate.frame(t_s)
                begin_fr = self.first_fr
                if code == "lamp-dark":
                    begin_fr -= lead_s * fps
                    if line.priority == "high":
                        begin_fr = max(begin_fr, self.first_fr - PICTURE_WITHIN_S * gate.fast_fps)
                if open_fr is None or not begin_fr - open_fr <= frame <= self.last_fr + open_fr:
                    yield f"{code} ({line.priority}) on {house} at plan {t_s:.3f} s is false: frame {frame:.1f}"
                elif code == "lamp-dark" and line.priority != "high":
                    if t_s - gate.when(begin_fr - open_fr) < LAMP_DARK_S - 0.1:
                        yield f"lamp-dark on {house} at plan {t_s:.3f} s comes before a strike is 10 s late"
                elif code == "lamp-out":
                    yield from self._dated(house, t_s, line.values.get("crossed_s"))

    def _dated(self, house: str, t_s: float, crossed_s: object) -> Iterator[str]:
        """A lamp that went out is dated by its contact."""
        dark = self.heard.at(f"{house}.lamp", t_s, False)
        assert dark is not None
        if not isinstance(crossed_s, float) or abs(self.b.plan_s(crossed_s) - dark.fact_s) > 0.3:
            yield f"lamp-out on {house} at plan {t_s:.3f} s is dated {crossed_s}, and went out at plan {dark.fact_s:.3f} s"
