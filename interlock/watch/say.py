"""Lines out of the world: each made in one place, so that a snapshot and an event cannot differ."""

from __future__ import annotations

import math

import msgspec

from interlock.plan.timeline import frames_run
from interlock.watch.alarms import Alarm
from interlock.watch.forecast import time_to_limit_s
from interlock.watch.house import AdapterWatch, HouseWatch
from interlock.watch.look import Look
from interlock.watch.loop import Drift
from interlock.watch.state import (
    AdapterLine,
    AlarmLine,
    CueLine,
    HouseLine,
    LinkLine,
    OperatorLine,
    ShowLine,
)
from interlock.watch.world import World

FRESH_S = 2.0
"""A rate that was found longer ago than this says nothing of the limit any more."""


def _seq(w: World, snapshot: bool) -> int:
    if snapshot:
        return w.seq - 1
    w.seq += 1
    return w.seq - 1


def show_line(w: World, *, snapshot: bool = False) -> ShowLine:
    """The show's phase."""
    t = w.t_s
    return ShowLine(seq=_seq(w, snapshot), at=w.at(t), show_s=w.show_s(t), phase=w.phase, title=w.show.title)


def expected_frame(w: World, h: HouseWatch) -> float:
    """By the plan, shifted by show zero; before it, what is threaded."""
    if w.zero_s is None:
        return -h.first_picture_at_fr
    spec = h.spec
    return frames_run(w.plan_s(w.t_s), spec.start_delay_s, spec.ramp_s, w.show.fps) - h.first_picture_at_fr


def house_line(
    w: World, h: HouseWatch, look: Look, *, snapshot: bool = False, periodic: bool = False
) -> HouseLine:
    """One house, by a look at it of now."""
    t = w.t_s
    f = look.frame
    part = None
    if f is not None and h.phase != "clear":
        in_gate = h.part_at(f[0])
        part = in_gate.name if in_gate is not None else None
    return HouseLine(
        seq=_seq(w, snapshot),
        at=w.at(t),
        show_s=w.show_s(t),
        house=h.id,
        phase=h.phase,
        run=look.turning,
        lamp=look.lamp,
        dowser=look.dowser,
        film=look.film,
        frame=None if f is None else f[0],
        expected_frame=expected_frame(w, h),
        sigma_fr=None if f is None else math.sqrt(f[2]),
        speed_fps=f[1] if f is not None and h.machine.counter.known else None,
        part=part,
        dark=h.dark,
        periodic=periodic,
    )


def to_limit(w: World, i: int, drift: Drift) -> tuple[float, float, float] | None:
    """(5 %, 50 %, 95 %) seconds to the limit towards which link ``i`` drifts; None where not bounded.

    By its slow rate where there is one, else by what its machines are believed to run off.
    """
    loop, creep = w.loops[i], w.creeps[i]
    if creep.ready and w.t_s - creep.t_s < FRESH_S:
        if creep.span is None:
            return None
        early, middle, late = (max(0.0, s - (w.t_s - creep.t_s)) for s in creep.span)
        return early, middle, late
    up, down = loop.up.motion, loop.down.motion
    if up.profile.v1 == 0.0 and down.profile.v1 == 0.0:
        return None
    pvv, pxv = up.pvv + down.pvv, up.pxv + down.pxv
    if drift.rate_fps >= 0.0:
        return time_to_limit_s(drift.fr, drift.rate_fps, loop.link.spill_fr, drift.var, pxv, pvv)
    return time_to_limit_s(-drift.fr, -drift.rate_fps, loop.link.tight_fr, drift.var, pxv, pvv)


def link_line(
    w: World, i: int, d: Drift | None, *, snapshot: bool = False, periodic: bool = False
) -> LinkLine:
    """One link, now; ``d`` its drift."""
    t = w.t_s
    loop = w.loops[i]
    return LinkLine(
        seq=_seq(w, snapshot),
        at=w.at(t),
        show_s=w.show_s(t),
        link=loop.id,
        state=loop.phase,
        drift_fr=None if d is None else d.fr,
        sigma_fr=None if d is None else math.sqrt(d.var),
        toward=None if d is None else loop.toward(d.fr),
        used=None if d is None else loop.used(d.fr),
        left_fr=None if d is None else loop.left_fr(d.fr),
        rate_fps=None if d is None else d.rate_fps,
        to_limit_s=None if d is None else to_limit(w, i, d),
        periodic=periodic,
    )


def _what_to_do(w: World, a: Alarm) -> str:
    # Who has stopped all and sees every machine stand is not told to stop all.
    if a.kind.stopped and w.phase == "stopped" and all(h.machine.turning is False for h in w.seen):
        return a.kind.stopped.format(subject=a.subject)
    return a.text


def alarm_line(w: World, a: Alarm, *, snapshot: bool = False) -> AlarmLine:
    """One alarm, now. What is said of it is what floods are counted by."""
    t = w.t_s
    line = AlarmLine(
        seq=_seq(w, snapshot),
        at=w.at(t),
        show_s=w.show_s(t),
        code=a.code,
        subject=a.subject,
        state=a.visible,
        priority=a.priority,
        first_out=a.first_out,
        group=a.group,
        text=_what_to_do(w, a),
        values=a.values,
        active=a.active,
        since_at=None if a.since_s is None else w.at(a.since_s),
        until_at=None if a.shelved_until_s is None else w.at(a.shelved_until_s),
    )
    if not snapshot:
        w.flood.heard(t, line)
    return line if w.flood.standing(t) is None else msgspec.structs.replace(line, flood=True)


def cue_due_s(w: World, h: HouseWatch, n: int, frame: tuple[float, float, float] | None) -> float | None:
    """Show second at which the estimated ``frame`` reaches cue ``n``; before show zero the planned one; None if unknown."""
    cue = h.cues[n]
    if w.zero_s is None:
        return cue.plan_s - w.show.least_start_delay_s
    if frame is None:
        return None
    if not h.machine.ran:
        planned_s = cue.plan_s - w.show.least_start_delay_s + w.plan_shift_s
        # While the motor stands its film comes no nearer, whatever the plan says.
        return max(planned_s, h.when_s(w.t_s, frame, cue.frame) - w.zero_s)
    return h.when_s(w.t_s, frame, cue.frame) - w.zero_s


def cue_line(w: World, h: HouseWatch, n: int, *, snapshot: bool = False) -> CueLine:
    """One cue, now."""
    t = w.t_s
    return CueLine(
        seq=_seq(w, snapshot),
        at=w.at(t),
        show_s=w.show_s(t),
        house=h.id,
        cue=h.cues[n].cue,
        due_s=cue_due_s(w, h, n, h.frame(t)),
        state=h.cue_states[n] or "coming",
    )


def adapter_line(w: World, a: AdapterWatch, *, snapshot: bool = False, periodic: bool = False) -> AdapterLine:
    """One adapter, now."""
    t = w.t_s
    return AdapterLine(
        seq=_seq(w, snapshot),
        at=w.at(t),
        show_s=w.show_s(t),
        adapter=a.name,
        state=a.phase or "stale",
        lines=a.lines,
        bad_lines=a.bad_lines,
        lost_lines=a.lost_lines,
        age_s=t - a.word_s if a.heard else None,
        text=a.text,
        periodic=periodic,
    )


def operator_line(
    w: World,
    seq: int,
    action: str,
    keys: dict[str, float | str | bool | None],
    by: str | None,
    booth: str | None,
    refused: str | None,
) -> OperatorLine:
    """Something that a person did; its number was taken before what it brought about."""
    return OperatorLine(
        seq=seq,
        at=w.at(w.t_s),
        show_s=w.show_s(w.t_s),
        action=action,
        keys=keys,
        by=by,
        booth=booth,
        refused=refused,
    )
