"""The cue sheet that the desk gave to this booth, and what of it is to be done now, when no desk can be asked.

What the desk expected last is counted on by the station's own clock; where the desk did not know, the plan is. A
contact of this booth that says that something has been done, ends it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Literal, TypeAlias
from zoneinfo import ZoneInfo

import msgspec

from drivers.mqtt_sheet import Sheet, SheetCue, SheetHouse, decode_sheet, encode_sheet
from interlock.clock import Clock
from interlock.station.journal import Journal

SAVE_S = 10.0
DUE_S = 10.0
"""A cue is due for so long; then it is late, where a contact denies it."""
OVER_S = 60.0
"""A cue that no contact can confirm is no longer shown."""
LATE_S = 600.0
WORDS = {
    "strike-lamp": "strike the lamp",
    "open-dowser": "open the dowser",
    "close-dowser": "close the dowser",
    "lamp-off": "lamp off",
    "motor-off": "motor off",
}
_CONFIRMED_BY = {
    "strike-lamp": ("lamp", True),
    "open-dowser": ("dowser", True),
    "close-dowser": ("dowser", False),
    "lamp-off": ("lamp", False),
    "motor-off": ("run", False),
}
BEFORE_START = ("waiting", "armed")
State: TypeAlias = Literal["coming", "due", "late"]


class Row(msgspec.Struct, frozen=True):
    """Something to do. ``in_s`` < 0: that long ago; ``planned``: by the plan, the desk did not know better."""

    house: str
    do: str
    in_s: float
    state: State
    planned: bool
    plan_s: float


class Lone:
    """``bad``: payloads that were no sheet for this booth."""

    def __init__(self, of: str, journal: Journal, clock: Clock) -> None:
        self._of, self._journal, self._clock = of, journal, clock
        self.sheet: Sheet | None = None
        self.heard_s = float("-inf")
        """When it was made, in the station's seconds."""
        self._saved_s = float("-inf")
        self.bad = 0
        self._read()

    def take(self, payload: object, *, retained: bool) -> None:
        """From the broker. A retained one may be old: it is dated by the two computers' wall clocks."""
        sheet = decode_sheet(payload, self._of)
        if sheet is None:
            self.bad += 1
            return
        now_s = self._clock.now_s()
        if retained:
            if self.sheet is not None and sheet.wall_s <= self.sheet.wall_s:
                return  # known already, and better dated
            now_s -= max(0.0, self._clock.wall_s() - sheet.wall_s)
        self.sheet, self.heard_s = sheet, now_s
        if now_s - self._saved_s >= SAVE_S:
            self.save()

    def save(self) -> None:
        """For a station that is started anew while it is cut off."""
        if self.sheet is not None:
            self._saved_s = self._clock.now_s()
            self._journal.note("sheet", encode_sheet(self.sheet).decode())
            self._journal.note("sheet_heard_s", repr(self.heard_s))

    def age_s(self) -> float:
        """Seconds since it was made."""
        return self._clock.now_s() - self.heard_s

    def plan_s(self) -> float:
        """Plan time now, counted on from the sheet; it stands where it stood."""
        assert self.sheet is not None
        return self.sheet.plan_s + (0.0 if self.sheet.standing else self.age_s())

    def clock_text(self, in_s: float) -> str:
        """The time of day, in the show's zone, so many seconds from now."""
        assert self.sheet is not None
        at = datetime.fromtimestamp(self._clock.wall_s() + in_s, UTC).astimezone(
            ZoneInfo(self.sheet.timezone)
        )
        return f"{at:%H:%M:%S}"

    def rows(
        self, contacts: Mapping[str, bool], turned_s: Mapping[str, float] = MappingProxyType({})
    ) -> list[Row]:
        """What is still to do, by time. ``contacts``: what this booth's signals are now, those that are known.

        ``turned_s``: when each of its motors (``4.run``) was seen to start: if the desk was lost before any turned, the
        house's own start is worth more than the plan's.
        """
        if self.sheet is None:
            return []
        found = [
            row
            for h in self.sheet.houses
            for cue in h.cues
            if (row := self._row(h.house, cue, contacts, self._start_s(h, turned_s))) is not None
        ]
        return sorted(found, key=lambda r: r.in_s)

    def _start_s(self, h: SheetHouse, turned_s: Mapping[str, float]) -> float | None:
        """The second of plan time 0 by this house's own start, where the desk did not see it."""
        at_s = turned_s.get(f"{h.house}.run")
        assert self.sheet is not None
        if at_s is None or at_s < self.heard_s or self.sheet.phase not in BEFORE_START:
            return None
        return at_s - h.start_s

    def _row(
        self, house: str, cue: SheetCue, contacts: Mapping[str, bool], zero_s: float | None
    ) -> Row | None:
        assert self.sheet is not None
        if cue.state == "done":
            return None
        age_s = 0.0 if self.sheet.standing else self.age_s()
        planned = cue.in_s is None
        in_s = (cue.plan_s - self.sheet.plan_s if cue.in_s is None else cue.in_s) - age_s
        if zero_s is not None:
            in_s, planned = cue.plan_s - (self._clock.now_s() - zero_s), False
        if in_s > 0.0:
            return Row(house, WORDS.get(cue.cue, cue.cue), in_s, "coming", planned, cue.plan_s)
        signal, wanted = _CONFIRMED_BY.get(cue.cue, ("", True))
        is_so = contacts.get(f"{house}.{signal}")
        if is_so is wanted or in_s < -LATE_S or (is_so is None and (in_s < -OVER_S or cue.state == "missed")):
            return None
        state: State = "late" if in_s < -DUE_S and is_so is not None else "due"
        return Row(house, WORDS.get(cue.cue, cue.cue), in_s, state, planned, cue.plan_s)

    def _read(self) -> None:
        text, heard = self._journal.noted("sheet"), self._journal.noted("sheet_heard_s")
        if text is not None and heard is not None:
            self.sheet = decode_sheet(text.encode(), self._of)
            self.heard_s = float(heard)
