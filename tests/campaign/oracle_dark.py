"""What must hold of lamp-dark and lamp-out: a lamp that was not struck in time, or went out on picture."""

from __future__ import annotations

import math
from collections.abc import Iterator

from tests.campaign.beside import Beside
from tests.campaign.gate import Z95, Gate
from tests.campaign.heard import LAMPS, Heard, both

SEEN_S = 1.2
"""A lamp that burns on picture so long has been seen to."""
LAMP_DARK_S, PICTURE_WITHIN_S, MISSED_S = 10.0, 10.0, 2.0
"""A strike is missed when it is so late that no hand is just about to do it."""
OFF_S = 1.0
"""So long what is said by where the print is may stand when it is over."""


class Darks:
    """The findings of one show, whose picture is from ``first_fr`` to ``last_fr``."""

    def __init__(self, beside: Beside, heard: Heard, first_fr: float, last_fr: float) -> None:
        self.b, self.heard, self.show = beside, heard, beside.run.show
        self.first_fr, self.last_fr = first_fr, last_fr

    def findings(self, gate: Gate, lead_s: float) -> Iterator[str]:
        """Everything that is wrong with the lamp at this gate, to be struck ``lead_s`` before picture."""
        house = gate.house
        on = list(gate.surely(self.heard.where(house, lamp=True, run=True), self.first_fr, self.last_fr))
        seen_s = min((a + SEEN_S for a, b in on if b - a > SEEN_S), default=math.inf)
        perhaps = [
            max(x.from_s, gate.when(self.first_fr - Z95 * gate.survey_fr - 60.0))
            for x in self.heard.series(f"{house}.lamp")
            if x.value
        ]
        perhaps_s = min((t for t in perhaps if t < math.inf), default=math.inf)
        dark = self.heard.where(house, lamp=False, run=True)
        out = list(gate.surely(both(dark, [(seen_s, math.inf)]), self.first_fr, self.last_fr))
        yield from self.heard.missed("lamp-out", house, out, LAMPS)
        for a, b in gate.surely(both(dark, [(-math.inf, perhaps_s)]), -math.inf, self.last_fr):
            yield from self._missed_strike(gate, lead_s, a, b)
        lit = gate.seen(self.heard.where(house, lamp=True, run=True))
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
                if not self.heard.so(house, t_s, lamp=False, run=True):
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
