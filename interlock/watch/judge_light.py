"""The alarms of a house's lamp and dowser: heat in the gate first, then what the audience would see.

What depends on where the print is waits for certainty (95 %, survey included): a wrong survey alarms nobody.
"""

from __future__ import annotations

import math

from interlock.watch.forecast import Z95
from interlock.watch.house import HouseWatch
from interlock.watch.raising import judge
from interlock.watch.world import World

LAMP_DARK_S = 10.0
STRIKE_GRACE_S = 2.0
"""A strike is not missed before so long after its time (half of a shorter lead)."""
LAMP_LEFT_ON_S = 300.0
DOWSER_SHUT_S = 1.0
DOWSER_EARLY_S = 10.0


class Soonest:
    """Collects the next moment at which something becomes true by time alone."""

    def __init__(self, now_s: float) -> None:
        self.now_s = now_s
        self.at_s = math.inf

    def reached(self, at_s: float) -> bool:
        """Whether ``at_s`` has come; if not, it is a deadline."""
        if at_s <= self.now_s:
            return True
        self.at_s = min(self.at_s, at_s)
        return False


class _Here:
    """Where the print is in one house: the frame, how sure, and when another frame is in the gate."""

    def __init__(self, w: World, h: HouseWatch, frame: tuple[float, float, float]) -> None:
        self.fr = frame[0]
        self.margin_fr = Z95 * math.sqrt(frame[2])
        self._t_s, self._house, self._frame = w.t_s, h, frame

    def when(self, frame_fr: float) -> float:
        """Desk second at which that frame is (or was) in the gate."""
        return self._house.when_s(self._t_s, self._frame, frame_fr)


def judge_light(w: World, h: HouseWatch, frame: tuple[float, float, float] | None, soon: Soonest) -> None:
    """Judge lamp and dowser of one house."""
    _judge_heat(w, h, soon)
    if h.dark:
        for code in ("lamp-dark", "lamp-out", "dowser-shut"):
            judge(w, code, h.id, condition=False)
    if frame is None or w.zero_s is None or not w.spans:
        return
    here = _Here(w, h, frame)
    _follow_picture(h, here, w.show.last_picture_fr)
    lamp = h.lamp.now
    if lamp is not None:
        left_on = lamp and soon.reached(h.over_s + LAMP_LEFT_ON_S)
        judge(w, "lamp-left-on", h.id, condition=left_on)
    moving = h.machine.ran and h.machine.turning is True
    if not h.dark and moving and lamp is not None:
        _judge_lamp(w, h, here, lamp, soon)
    if h.dowser.now is not None:
        _judge_dowser(w, h, here, h.dowser.now, moving, soon)


def _follow_picture(h: HouseWatch, here: _Here, last_fr: float) -> None:
    """Date the end of its picture when it passes: from a machine that stands nobody could tell it any more."""
    if here.fr < last_fr - here.margin_fr:
        h.over_s = math.inf
    elif h.over_s == math.inf and here.fr >= last_fr + here.margin_fr:
        h.over_s = here.when(last_fr + here.margin_fr)


def _judge_heat(w: World, h: HouseWatch, soon: Soonest) -> None:
    lamp, dowser, turning = h.lamp.now, h.dowser.now, h.machine.turning
    if lamp is False or dowser is False or turning is True or h.film.now is False:
        heat: bool | None = False
    elif lamp is None or dowser is None or turning is None:
        heat = None
    else:
        heat = True
    since_s = max(h.lamp.since_s, h.dowser.since_s, h.machine.run.since_s)
    judge(w, "gate-heat", h.id, heat, crossed_s=max(since_s, w.started_s))
    if lamp is None or dowser is None:
        return
    against = lamp and not dowser
    if against:
        since_s = max(h.lamp.since_s, h.dowser.since_s, w.started_s)
        against = soon.reached(since_s + h.spec.shut_dowser_limit_s)
    judge(w, "lamp-against-dowser", h.id, against)


def _within(w: World, here: _Here, margin_fr: float) -> bool:
    """Whether the frame in the gate is of the picture, by that margin at both ends (less than 0: or near to it)."""
    for begin_fr, end_fr in w.spans:
        if here.fr < end_fr - margin_fr:
            return here.fr >= begin_fr + margin_fr
    return False


def _judge_lamp(w: World, h: HouseWatch, here: _Here, lamp: bool, soon: Soonest) -> None:
    first_fr, last_fr = w.spans[0][0], w.spans[-1][1]
    on_picture = _within(w, here, here.margin_fr)
    if lamp:
        h.lit_on_picture = h.lit_on_picture or on_picture
        judge(w, "lamp-dark", h.id, condition=False)
        judge(w, "lamp-out", h.id, condition=False)
        if not on_picture and here.fr < last_fr:
            ahead = [a + here.margin_fr for a, _ in w.spans if a + here.margin_fr > here.fr]
            if ahead:
                soon.reached(here.when(min(ahead)) + 1e-6)
        return
    if here.fr >= last_fr - here.margin_fr:
        judge(w, "lamp-dark", h.id, condition=False)
        judge(w, "lamp-out", h.id, condition=False)
        return
    if h.lit_on_picture:
        if on_picture:
            judge(w, "lamp-out", h.id, condition=True, crossed_s=h.lamp.since_s)
        return
    strike_fr = first_fr - h.spec.lamp_lead_s * w.show.fps
    missed_s = max(here.when(strike_fr + here.margin_fr), h.machine.start_s or w.started_s)
    missed_s = max(missed_s, h.lamp.since_s)  # struck, and gone out again
    grace_s = min(STRIKE_GRACE_S, h.spec.lamp_lead_s / 2.0)
    if soon.reached(max(here.when(first_fr) - LAMP_DARK_S, missed_s + grace_s)):
        judge(w, "lamp-dark", h.id, condition=True, priority="high")
    elif soon.reached(missed_s + LAMP_DARK_S):
        judge(w, "lamp-dark", h.id, condition=True)


def _judge_dowser(w: World, h: HouseWatch, here: _Here, is_open: bool, moving: bool, soon: Soonest) -> None:
    if not h.dark:
        shut = False
        if moving and not is_open:
            # Only a stretch that is surely not over yet; its beginning must surely have passed for a second.
            span = next(((a, b) for a, b in w.spans if here.fr + here.margin_fr < b), None)
            if span is not None:
                certain_s = here.when(span[0] + here.margin_fr)
                since_s = max(certain_s, h.dowser.since_s, h.machine.start_s or w.started_s)
                shut = soon.reached(since_s + DOWSER_SHUT_S)
        judge(w, "dowser-shut", h.id, shut)
    if not h.machine.ran:
        return
    if _within(w, here, -here.margin_fr):
        judge(w, "dowser-open-early", h.id, condition=False)
        return
    before_fr = max((b for _, b in w.spans if b <= here.fr + here.margin_fr), default=-math.inf)
    ahead = [a for a, _ in w.spans if a > here.fr]
    early = False
    if is_open and ahead and h.dowser.since_s >= here.when(before_fr):
        early = not soon.reached(here.when(min(ahead) - here.margin_fr) - DOWSER_EARLY_S)
    judge(w, "dowser-open-early", h.id, early)
