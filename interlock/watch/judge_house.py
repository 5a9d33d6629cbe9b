"""The alarms of one house, judged from its contacts and its position, each with the moment at which it became true.

``judge_house`` is called when something of the house changed, once a second, and at the deadlines that
its look tells: whatever will become true by time alone within the next second is due at its own time.
"""

from __future__ import annotations

import math

from interlock.watch.house import HouseWatch
from interlock.watch.judge_light import judge_light
from interlock.watch.look import Look
from interlock.watch.raising import judge
from interlock.watch.say import house_line
from interlock.watch.world import World

RUN_EARLY_S = 5.0
HALF = 0.5
"""A neighbour's start that has used this share of a link makes a start late."""
END_SIGMA_FR = 5.0
"""1-sigma of a film's end at its sensor: the length of the tail is hardly ever measured."""
DECK_GRACE_S = 2.0
HORIZON_S = 1.1
"""Everything is looked at again within this time anyway."""


def judge_house(w: World, h: HouseWatch, look: Look) -> None:
    """Judge house ``h`` at the desk's time, by this look at it."""
    _follow_phase(w, h, look)
    _judge_motor(w, h, look)
    judge_light(w, h, look)
    _judge_film(w, h, look)
    if h.index in (0, len(w.houses) - 1):
        _judge_decks(w, h, look)
    _say_if_changed(w, h, look)


def _say_if_changed(w: World, h: HouseWatch, look: Look) -> None:
    """A line on every change but that of frame and speed."""
    part = h.part_at(look.fr) if look.frame is not None and h.phase != "clear" else None
    now = (
        h.phase, look.turning, look.lamp, look.dowser, look.film, h.dark, look.frame is None, part,
    )  # fmt: skip
    if now != h.said:
        h.said = now
        w.lines.append(house_line(w, h, look))


def _follow_phase(w: World, h: HouseWatch, look: Look) -> None:
    if not h.machine.tracking or h.phase == "clear":
        return
    if not h.machine.ran and h.phase == "threaded":
        return
    if look.frame is None:
        return
    fr, v, var = look.frame
    end = w.show.length_fr
    last_picture_fr = w.show.last_picture_fr
    if fr >= end or _stopped_at_end(look, fr, var, end):
        h.phase = "clear"
    elif fr >= last_picture_fr:
        h.phase = "tail"
    elif fr >= 0:
        h.phase = "picture"
    else:
        h.phase = "leader"
    if v > 0.0:
        part = h.part_at(fr)
        ahead_fr = math.inf if part is None else part.end_fr
        for boundary_fr in (0, last_picture_fr, end):
            if fr < boundary_fr < ahead_fr:
                ahead_fr = boundary_fr
        # A hair later than the boundary, so that rounding cannot leave it just before.
        look.reached(w.t_s + (ahead_fr - fr) / v + 1e-6)


def _stopped_at_end(look: Look, fr: float, var: float, end: int) -> bool:
    """It was stopped when its film may well have been through, and no sensor says otherwise."""
    return look.turning is False and look.film is not True and fr + 3.0 * math.sqrt(var) >= end


def film_to_run(w: World, h: HouseWatch, frame: tuple[float, float, float] | None) -> bool:
    """Whether film is still to run through this gate, with 3 σ to spare; with no position: by its phase."""
    if h.phase == "clear":
        return False
    if frame is None:
        return h.phase in ("threaded", "leader", "picture")
    return frame[0] + 3.0 * math.sqrt(frame[2]) < w.show.length_fr


def _judge_motor(w: World, h: HouseWatch, look: Look) -> None:
    m = h.machine
    run, frame = look.run, look.frame
    stopped = run is False and m.ran and film_to_run(w, h, frame)
    if stopped or (run is not None and look.alarmed):
        judge(
            w, "run-lost", h.id, stopped, crossed_s=m.stop_s,
            values={"frame": None if frame is None else frame[0]},
        )  # fmt: skip
    early = _early(w, h, look)
    if early or (run is not None and look.alarmed):
        judge(w, "run-early", h.id, early, crossed_s=m.start_s)
    _judge_start(w, h, look)
    doubt_due_s = m.doubt_due_s()
    if doubt_due_s is None:
        if look.alarmed and m.counter.known and run is not None:
            judge(w, "count-lost", h.id, condition=False)
    elif look.reached(doubt_due_s):
        judge(w, "count-lost", h.id, condition=True, crossed_s=doubt_due_s)


def _early(w: World, h: HouseWatch, look: Look) -> bool:
    m = h.machine
    if m.start_s == h.start_seen_s and not h.start_early:
        return False
    planned_s = w.t_s + w.show.motor_start_wall_s - w.wall_s(w.t_s)
    by_now = m.start_s is not None and m.start_s < planned_s - RUN_EARLY_S
    if m.start_s != h.start_seen_s:
        h.start_seen_s, h.start_early = m.start_s, by_now
    if look.reached(planned_s):
        h.start_early = False  # it is over, whatever the clock may be set to later
    return look.run is True and m.tracking and h.start_early and by_now


def _judge_start(w: World, h: HouseWatch, look: Look) -> None:
    """Late once it would use half of a link even if it started now: its neighbour has run so long already."""
    run = look.run
    if run is True and look.alarmed:
        judge(w, "start-late", h.id, condition=False)
    if run is not False or h.machine.ran or w.phase not in ("starting", "running"):
        return
    for i, beside, sign in ((h.index - 1, h.index - 1, 1.0), (h.index, h.index + 1, -1.0)):
        if not 0 <= i < len(w.loops):
            continue
        loop, m = w.loops[i], w.houses[beside].machine
        d = loop.drift(w.t_s)
        if d is None or m.turning is not True or m.start_s is None:
            continue
        # What the link had used before the neighbour's start (after a stop it may be something).
        before_fr = sign * d.fr - (m.motion.at(w.t_s)[0] - m.motion.at(m.start_s)[0])
        limit_fr = loop.link.spill_fr if sign > 0.0 else loop.link.tight_fr
        late_s = m.start_s + max(0.0, HALF * limit_fr - before_fr) / w.show.fps
        if look.reached(late_s):
            judge(w, "start-late", h.id, condition=True, crossed_s=late_s, values={"link": loop.id})


def _judge_film(w: World, h: HouseWatch, look: Look) -> None:
    film, frame = look.film, look.frame
    if film is None or frame is None or not h.machine.tracking:
        return
    out = not film and frame[0] + 3.0 * math.sqrt(frame[2]) < w.show.length_fr + h.spec.film_sensor_fr
    if out or look.alarmed:
        judge(w, "film-out", h.id, out, crossed_s=h.film.since_s)
    if out and w.active("film-out", h.id):
        for i in (h.index - 1, h.index):
            if 0 <= i < len(w.loops) and w.loops[i].judged:
                w.loops[i].phase = "parted"


def film_end_seen(w: World, h: HouseWatch) -> None:
    """The film sensor lost the film where its end may be: that says which frame is in the gate."""
    frame = h.frame(w.t_s)
    if frame is None or not h.machine.tracking or h.phase in ("threaded", "clear"):
        return
    end_at_sensor_fr = w.show.length_fr + h.spec.film_sensor_fr
    if abs(frame[0] - end_at_sensor_fr) <= 3.0 * math.sqrt(frame[2]):
        h.mark(w.t_s, end_at_sensor_fr + frame[1] * (w.t_s - h.film.since_s), END_SIGMA_FR)


def _judge_decks(w: World, h: HouseWatch, look: Look) -> None:
    m = h.machine
    turning, frame = look.turning, look.frame
    for name, ends in (("feed", h.index == 0), ("take-up", h.index == len(w.houses) - 1)):
        platter = w.platters[name]
        if not ends or platter.now is None or turning is None:
            continue
        film_on_it = h.phase != "clear"
        if name == "feed" and w.show.feed is not None and frame is not None:
            film_on_it = frame[0] + 3.0 * math.sqrt(frame[2]) + w.show.feed.path_fr < w.show.length_fr
        stopped = turning and film_on_it and not platter.now
        if stopped:
            since_s = max(platter.since_s, (m.start_s or w.started_s) + m.motion.ramp_s)
            stopped = look.reached(since_s + DECK_GRACE_S)
        judge(w, "deck-stopped", name, stopped)
