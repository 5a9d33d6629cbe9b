"""The alarms of a house's lamp and dowser: heat in the gate first, then what the audience would see.

What depends on where the print is waits for certainty (95 %, survey included): a wrong survey alarms nobody.
"""

from __future__ import annotations

import math

from interlock.watch.house import HouseWatch
from interlock.watch.look import Look
from interlock.watch.raising import judge
from interlock.watch.world import World

LAMP_DARK_S = 10.0
STRIKE_GRACE_S = 2.0
"""A strike is not missed before so long after its time (half of a shorter lead)."""
LAMP_LEFT_ON_S = 300.0
DOWSER_SHUT_S = 1.0
DOWSER_EARLY_S = 10.0


def judge_light(w: World, h: HouseWatch, look: Look) -> None:
    """Judge lamp and dowser of one house."""
    _judge_heat(w, h, look)
    if h.dark:
        _clear(w, h, look, "lamp-dark", "lamp-out", "dowser-shut")
    if look.frame is None or w.zero_s is None or not w.spans:
        return
    _follow_picture(h, look, w.show.last_picture_fr)
    lamp = look.lamp
    if lamp:
        judge(w, "lamp-left-on", h.id, condition=look.reached(h.over_s + LAMP_LEFT_ON_S))
    elif lamp is False:
        _clear(w, h, look, "lamp-left-on")
    moving = h.machine.ran and look.turning is True
    if not h.dark and moving and lamp is not None:
        _judge_lamp(w, h, look, lamp)
    if look.dowser is not None:
        _judge_dowser(w, h, look, look.dowser, moving)


def _follow_picture(h: HouseWatch, here: Look, last_fr: float) -> None:
    """Date the end of its picture when it passes: from a machine that stands nobody could tell it any more."""
    if here.fr < last_fr - here.margin_fr:
        h.over_s = math.inf
    elif h.over_s == math.inf and here.fr >= last_fr + here.margin_fr:
        h.over_s = here.when(last_fr + here.margin_fr)


def _clear(w: World, h: HouseWatch, look: Look, *codes: str) -> None:
    if look.alarmed:
        for code in codes:
            judge(w, code, h.id, condition=False)


def _judge_heat(w: World, h: HouseWatch, look: Look) -> None:
    lamp, dowser = look.lamp, look.dowser
    if lamp is False or dowser is False or look.turning is True or look.film is False:
        _clear(w, h, look, "gate-heat")
    elif lamp and dowser and look.turning is False:
        since_s = max(h.lamp.since_s, h.dowser.since_s, h.machine.run.since_s)
        judge(w, "gate-heat", h.id, condition=True, crossed_s=max(since_s, w.started_s))
    if lamp is None or dowser is None:
        return
    if lamp and not dowser:
        since_s = max(h.lamp.since_s, h.dowser.since_s, w.started_s)
        judge(w, "lamp-against-dowser", h.id, look.reached(since_s + h.spec.shut_dowser_limit_s))
    else:
        _clear(w, h, look, "lamp-against-dowser")


def _within(w: World, fr: float, margin_fr: float) -> bool:
    """Whether the frame in the gate is of the picture, by that margin at both ends (less than 0: or near to it)."""
    for begin_fr, end_fr in w.spans:
        if fr < end_fr - margin_fr:
            return fr >= begin_fr + margin_fr
    return False


def _judge_lamp(w: World, h: HouseWatch, here: Look, lamp: bool) -> None:
    first_fr, last_fr = w.spans[0][0], w.spans[-1][1]
    on_picture = _within(w, here.fr, here.margin_fr)
    if lamp:
        h.lit_on_picture = h.lit_on_picture or on_picture
        _clear(w, h, here, "lamp-dark", "lamp-out")
        if not on_picture and here.fr < last_fr:
            ahead = [a + here.margin_fr for a, _ in w.spans if a + here.margin_fr > here.fr]
            if ahead:
                here.reached(here.when(min(ahead)) + 1e-6)
        return
    if here.fr >= last_fr - here.margin_fr:
        _clear(w, h, here, "lamp-dark", "lamp-out")
        return
    if h.lit_on_picture:
        if on_picture:
            judge(w, "lamp-out", h.id, condition=True, crossed_s=h.lamp.since_s)
        return
    strike_fr = first_fr - h.spec.lamp_lead_s * w.show.fps
    missed_s = max(here.when(strike_fr + here.margin_fr), h.machine.start_s or w.started_s)
    missed_s = max(missed_s, h.lamp.since_s)  # struck, and gone out again
    grace_s = min(STRIKE_GRACE_S, h.spec.lamp_lead_s / 2.0)
    if here.reached(max(here.when(first_fr) - LAMP_DARK_S, missed_s + grace_s)):
        judge(w, "lamp-dark", h.id, condition=True, priority="high")
    elif here.reached(missed_s + LAMP_DARK_S):
        judge(w, "lamp-dark", h.id, condition=True)


def _judge_dowser(w: World, h: HouseWatch, here: Look, is_open: bool, moving: bool) -> None:
    if not h.dark:
        shut = False
        if moving and not is_open:
            # Only a stretch that is surely not over yet; its beginning must surely have passed for a second.
            span = next(((a, b) for a, b in w.spans if here.fr + here.margin_fr < b), None)
            if span is not None:
                certain_s = here.when(span[0] + here.margin_fr)
                since_s = max(certain_s, h.dowser.since_s, h.machine.start_s or w.started_s)
                shut = here.reached(since_s + DOWSER_SHUT_S)
        if shut or here.alarmed:
            judge(w, "dowser-shut", h.id, shut)
    if not h.machine.ran:
        return
    early = False
    if is_open and not _within(w, here.fr, -here.margin_fr):
        before_fr = max((b for _, b in w.spans if b <= here.fr + here.margin_fr), default=-math.inf)
        ahead = [a for a, _ in w.spans if a > here.fr]
        if ahead and h.dowser.since_s >= here.when(before_fr):
            early = not here.reached(here.when(min(ahead) - here.margin_fr) - DOWSER_EARLY_S)
    if early or here.alarmed:
        judge(w, "dowser-open-early", h.id, early)
