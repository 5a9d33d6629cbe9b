"""A record as the review's screens want it: any moment at once, however long the show was.

A moment is put together from what the desk said during the show (the lines, and the figures that were kept of every
second), not folded anew: so it is there within milliseconds, and it is what people then saw, not what today's
desk would have said. ``interlock.incident.replay`` does that.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from datetime import UTC, datetime
from functools import lru_cache

from interlock.errors import RecordAltered
from interlock.incident.recorded import refold_seconds, seconds_at, show_of
from interlock.journal import Record
from interlock.service.review_state import Said
from interlock.watch.desk import layout
from interlock.watch.seconds import Second
from interlock.watch.state import AlarmLine, CueLine, Line
from tui.recording import AlarmMark, Moment

CHECKPOINT = 500
"""Lines from one copy of the tables to the next: what must be laid over each other at most for a moment."""
LOG_LINES = 20_000
HISTORY = 1_200
"""Points of drift for each link, as on a live screen."""
GAP_S = 3.0
"""So long after the last kept second nothing is known any more: nobody was watching then."""


class RecordedShow:
    """A record, read (:class:`tui.recording.Recording`)."""

    def __init__(self, record: Record) -> None:
        """``RecordAltered`` if nothing of it can be shown. Takes about a second for a show of four hours."""
        meta = record.meta
        show = show_of(meta)
        self.layout = layout(show, rehearsal=meta.rehearsal, record=str(record.path))
        remarks = [] if record.ended else ["cut off: it has no end mark"]
        lines: list[Line] = []
        seconds: list[Second] = []
        try:
            lines.extend(line for _, line in record.lines())
        except RecordAltered as error:
            remarks.append(str(error))
        try:
            seconds.extend(record.seconds())
            if not seconds:
                remarks.append("written without its seconds: folded anew by this version")
                seconds.extend(refold_seconds(show, meta.rehearsal, (x for _, x in record.inputs())))
        except RecordAltered as error:
            remarks.append(str(error))
        if not lines and not seconds:
            raise RecordAltered(
                f"{record.path}: nothing in it can be shown{': ' + remarks[-1] if remarks else ''}"
            )
        self.remark = "; ".join(dict.fromkeys(remarks))
        self._show, self._lines, self._seconds = show, lines, seconds
        self._motor_start_s = show.motor_start_wall_s
        line_s, second_s = [seconds_at(x.at) for x in lines], [seconds_at(x.at) for x in seconds]
        self.began_s = min([*line_s[:1], *second_s[:1]])
        self._line_s, self._second_s = _rising(line_s, self.began_s), _rising(second_s, self.began_s)
        self.length_s = max([0.0, *self._line_s[-1:], *self._second_s[-1:]])
        started = [t - x.show_s for t, x in zip(self._second_s, seconds, strict=True) if x.show_s is not None]
        self.zero_s: float | None = started[-1] if started else None
        self.alarms = self._marks()
        self._checkpoints = self._fold()
        self._cues = self._first_words()
        self._drifts = lru_cache(maxsize=2)(self._drifts_to)
        self._log = lru_cache(maxsize=2)(self._log_to)

    def at(self, t_s: float) -> Moment:
        """The moment ``t_s`` seconds after the beginning."""
        t_s = max(0.0, min(self.length_s, t_s))
        i = bisect_right(self._line_s, t_s)
        j = bisect_right(self._second_s, t_s) - 1
        said = self._checkpoints[i // CHECKPOINT].copy()
        for line in self._lines[i - i % CHECKPOINT : i]:
            said.take(line)
        wall_s = self.began_s + t_s
        at = datetime.fromtimestamp(wall_s, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        second = self._seconds[j] if j >= 0 else None
        # With no seconds at all (none could be read) the lines are all there is; a hole among them is nobody's word.
        gap = bool(self._seconds) and (second is None or t_s - self._second_s[j] > GAP_S)
        show_s = None
        if second is not None and second.show_s is not None and not gap:
            show_s = second.show_s + (t_s - self._second_s[j])
        state = said.state(
            at=at, show_s=show_s, beat=max(0, j), plan_s=wall_s - self._motor_start_s if show_s is None else None,
            later=[c for n, c in self._cues if n >= i], houses=second.houses if second else (),
            links=second.links if second else (), row_at=second.at if second else "",
            row_show_s=second.show_s if second else None, gap=gap,
        )  # fmt: skip
        return Moment(state, self._log(i), self._drifts(j), gap)

    def _log_to(self, i: int) -> Sequence[Line]:
        return self._lines[max(0, i - LOG_LINES) : i]

    def _drifts_to(self, j: int) -> dict[str, list[tuple[float, float | None, float | None]]]:
        rows = [x for x in self._seconds[max(0, j + 1 - HISTORY) : j + 1] if x.show_s is not None]
        return {
            link.link: [(x.show_s or 0.0, x.links[n][0], x.links[n][1]) for x in rows if n < len(x.links)]
            for n, link in enumerate(self.layout.links)
        }

    def _fold(self) -> list[Said]:
        said = Said(self.layout, self._show)
        kept = [said.copy()]
        for n, line in enumerate(self._lines, 1):
            said.take(line)
            if n % CHECKPOINT == 0:
                kept.append(said.copy())
        return kept

    def _marks(self) -> list[AlarmMark]:
        up: set[tuple[str, str]] = set()
        found = []
        for t, line in zip(self._line_s, self._lines, strict=True):
            if not isinstance(line, AlarmLine):
                continue
            key = (line.code, line.subject)
            if line.active and line.state != "suppressed" and key not in up:
                up.add(key)
                found.append(AlarmMark(t, line.priority, line.code, line.subject))
            elif not line.active:
                up.discard(key)
        return found

    def _first_words(self) -> list[tuple[int, CueLine]]:
        found: dict[tuple[str, str], tuple[int, CueLine]] = {}
        for n, line in enumerate(self._lines):
            if isinstance(line, CueLine):
                found.setdefault((line.house, line.cue), (n, line))
        return list(found.values())


def _rising(at_s: list[float], began_s: float) -> list[float]:
    """Seconds since the beginning; a clock that was set back does not turn the show's order round."""
    rising, last = [], 0.0
    for s in at_s:
        last = max(last, s - began_s)
        rising.append(last)
    return rising
