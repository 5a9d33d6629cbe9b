"""Snapshots of the world for the screens: the newest line of everything, and what does not change."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from interlock.showfile.show import Show
from interlock.watch.alarms import Alarm
from interlock.watch.cues import open_cues
from interlock.watch.look import Look
from interlock.watch.say import adapter_line, alarm_line, house_line, link_line
from interlock.watch.state import FloodState, HouseLayout, Layout, LinkLayout, PartLayout, State
from interlock.watch.world import World

_URGENCY = {"high": 0, "medium": 1, "low": 2}


def _order(a: Alarm) -> tuple[int, int, int, int]:
    # Worst first: what is seen before what was put aside, then by priority, the first of a group before the others.
    return (1 if a.quiet else 0, _URGENCY[a.priority], 0 if a.first_out else 1, -a.index)


def snapshot(w: World) -> State:
    """The newest of everything, as of the last input."""
    t = w.t_s
    shown = sorted((a for a in w.alarm_list if a.said != "normal"), key=_order)
    return State(
        seq=w.seq - 1,
        at=w.at(t),
        show_s=w.show_s(t),
        phase=w.phase,
        beat=w.beat,
        plan_s=w.plan_s(t),
        age_s=None if w.newest_s is None else max(0.0, t - w.newest_s),
        houses=tuple(house_line(w, h, Look(w, h), snapshot=True) for h in w.houses),
        links=tuple(link_line(w, i, k.drift(t), snapshot=True) for i, k in enumerate(w.loops)),
        alarms=tuple(alarm_line(w, a, snapshot=True) for a in shown),
        cues=open_cues(w),
        adapters=tuple(adapter_line(w, a, snapshot=True) for a in w.adapters),
        leads=w.leads,
        booth=w.booth,
        silenced=w.silenced,
        record_ok=w.record_ok,
        speed=w.speed,
        flood=_flood(w),
    )


def _flood(w: World) -> FloodState | None:
    span = w.flood.standing(w.t_s)
    if span is None:
        return None
    return FloodState(
        since_at=w.at(span.start_s),
        since_s=w.show_s(span.start_s),
        alarms=span.alarms,
        recent=w.flood.recent(w.t_s),
        ends_at=w.at(span.end_s),
    )


def layout(show: Show, *, rehearsal: bool = False, record: str | None = None) -> Layout:
    """What does not change during the show."""
    start = datetime.fromtimestamp(show.motor_start_wall_s, UTC).astimezone(ZoneInfo(show.timezone))
    return Layout(
        title=show.title,
        film=show.film.name,
        fps=show.fps,
        frames_per_ft=float(show.film.frames_per_ft),
        motor_start_at=start.isoformat(),
        timezone=show.timezone,
        parts=tuple(PartLayout(p.name, p.kind, p.start_fr, p.frames) for p in show.parts),
        houses=tuple(
            HouseLayout(h.id, h.name, h.booth, h.lit, show.first_picture_at_fr[k], _signals(show, h.id))
            for k, h in enumerate(show.houses)
        ),
        links=tuple(
            LinkLayout(k.id, k.upstream, k.downstream, k.path_fr, k.tight_fr, k.spill_fr, k.wired)
            for k in show.links
        ),
        feed=show.feed is not None,
        take_up=show.take_up is not None,
        rehearsal=rehearsal,
        length_fr=show.length_fr,
        record=record,
    )


def _signals(show: Show, house: str) -> tuple[tuple[str, str, str], ...]:
    found: list[tuple[str, str, str]] = []
    for a in show.adapters:
        wires = [(s.removeprefix("!"), f"level {n}") for n, s in sorted(a.wiring.levels.items())]
        wires += [(c.signal, f"counter {n}") for n, c in sorted(a.wiring.counters.items())]
        wires += [(x.signal, f"analog {n}") for n, x in sorted(a.wiring.analogs.items())]
        for signal, words in wires:
            subject = signal.rsplit(".", 1)[0]
            if house in subject.split(">"):
                found.append((signal, a.name, words))
    return tuple(found)
