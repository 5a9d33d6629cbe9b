"""Who is off: machines of one supply compared with each other, forecasts of a limit, and links that cannot be judged.

A shift of the supply that all share moves no machine against the others, and alarms nobody.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median

from interlock.watch.house import HouseWatch
from interlock.watch.loop import Drift, Loop
from interlock.watch.raising import judge
from interlock.watch.world import Values, World

AT_SPEED_S = 3.0
TOLERANCES = 3.0
SIGMAS = 6.0
"""Beyond the contract's 3 σ, so that it errs less than once in a month of shows (neighbouring seconds are not independent)."""
QUARTZ = ""
"""What crystal machines keep time by; no supply has this name."""
CLOCK_SHARE = 0.00005
"""1-sigma of the desk's own clock against time itself."""
BLIND_SIGMAS = 3.0
BLIND_SHARE = 0.25
BLIND_S = 3.0
CLEAR = 0.7
"""A speed is right again below this share of what made it an alarm; a forecast is gone beyond its inverse."""
VANISHES = 0.85
"""A difference that is below this share of what it was a second ago is one that a filter is still taking back."""
RATE_SIGMAS = 4.0
"""A rate below this many of its sigmas makes no forecast: near a limit noise alone would."""


def judge_speeds(w: World, drifts: Sequence[Drift | None]) -> None:
    """Once a second: every house's speed against its supply's, every link's forecast and blindness; ``drifts`` in their order."""
    off = _deviations(w)
    for i, (loop, d) in enumerate(zip(w.loops, drifts, strict=True)):
        w.creeps[i].second(w.t_s, loop)
        _judge_forecast(w, i, loop, d, off)
        _judge_blind(w, i, loop, d)


def _at_speed(w: World, h: HouseWatch) -> bool:
    m = h.machine
    return (
        m.counter.known
        and w.t_s >= m.counter.settled_s + AT_SPEED_S
        and m.motion.counted
        and m.doubt_since_s is None
        and m.turning is True
        and h.phase != "clear"
        and w.t_s >= m.motion.profile.steady_s + AT_SPEED_S
    )


def _keeps_time_by(h: HouseWatch) -> str:
    """Machines that are compared with each other: crystal ones whatever feeds them, the others by their supply."""
    return QUARTZ if h.spec.motor == "crystal" else h.spec.supply


def _by_the_clock(w: World, h: HouseWatch) -> tuple[float, float]:
    """The only crystal machine has nobody to be compared with but the clock: (fps off its speed, 1-sigma); judged."""
    motion = h.machine.motion
    fps = motion.profile.v1 + motion.dv - w.show.fps
    sigma = math.sqrt(motion.pvv + (CLOCK_SHARE * w.show.fps) ** 2)
    _judge_off(w, h, (fps, sigma), TOLERANCES * w.show.fps * h.spec.speed_tolerance, 0)
    return fps, sigma


def _deviations(w: World) -> dict[int, tuple[float, float]]:
    """House → (fps off the middle of the machines of its supply, 1-sigma); judges ``speed-off`` on the way."""
    supplies: dict[str, list[HouseWatch]] = {}
    for h in w.houses:
        if _at_speed(w, h):
            supplies.setdefault(_keeps_time_by(h), []).append(h)
    off: dict[int, tuple[float, float]] = {}
    for supply, members in supplies.items():
        if len(members) < 2:
            if supply == QUARTZ:
                off[members[0].index] = _by_the_clock(w, members[0])
            continue
        speeds = {h.index: h.machine.motion.profile.v1 + h.machine.motion.dv for h in members}
        # The middle of all of three or more is not moved by one that is off; of two it would be halfway.
        middle = median(speeds.values())
        all_var = math.fsum(h.machine.motion.pvv for h in members)
        for h in members:
            others = len(members) - 1
            beside = members[0] if members[0] is not h else members[1]
            if others == 1:
                middle = speeds[beside.index]
            own_var = h.machine.motion.pvv
            var = own_var + max(0.0, all_var - own_var) / others**2
            off[h.index] = (speeds[h.index] - middle, math.sqrt(var))
            # With only one other there is no third to compare: its tolerance counts as well, and both are named.
            share = h.spec.speed_tolerance
            if others == 1:
                if _named_by_a_third(w, beside.id):
                    continue
                share = math.hypot(share, beside.spec.speed_tolerance)
            _judge_off(w, h, off[h.index], TOLERANCES * w.show.fps * share, others)
    return off


def _named_by_a_third(w: World, house: str) -> bool:
    """Whether it was told already, while there was a third to compare, that it is this one."""
    alarm = w.alarms.get(("speed-off", house))
    return alarm is not None and alarm.active and alarm.values.get("compared_with") != 1


def _judge_off(w: World, h: HouseWatch, off: tuple[float, float], tolerance_fps: float, others: int) -> None:
    fps, sigma = off
    limit = max(tolerance_fps, SIGMAS * sigma)
    before, h.off_fps = h.off_fps, fps
    # When all follow the mains, one is found to have done so a second or two later than another: what vanishes was none.
    vanishes = before * fps > 0.0 and abs(fps) < VANISHES * abs(before)
    if abs(fps) > limit and (not vanishes or w.active("speed-off", h.id)):
        share = fps / w.show.fps
        words = f"{h.id} runs {share:+.2%} off the others."
        if others == 0:
            words = f"{h.id} runs {share:+.2%} off the speed of its crystal."
        elif others == 1:
            words = f"Two machines differ by {abs(share):.2%}; which of them is off cannot be told."
        judge(
            w, "speed-off", h.id, condition=True, words={"cause": words},
            values={"off_fps": fps, "sigma_fps": sigma, "share": share, "compared_with": others},
        )  # fmt: skip
    elif abs(fps) < CLEAR * limit:
        judge(w, "speed-off", h.id, condition=False)


def _cause(w: World, i: int, off: dict[int, tuple[float, float]]) -> tuple[str, Values]:
    """Which of the two machines it is, and how sure that is."""
    first, second = (w.houses[k].id for k in (i, i + 1))
    known = [(abs(off[k][0]) / max(off[k][1], 1e-9), k) for k in (i, i + 1) if k in off]
    apart = sorted((z for z in known if z[0] >= SIGMAS), reverse=True)
    if not apart:
        return f"{first} and {second} differ; which is off cannot be told.", {"cause": None}
    if len(apart) == 2:
        return f"{first} and {second} both run off the others.", {"cause": f"{first} {second}"}
    sigmas, worse = apart[0]
    share = off[worse][0] / w.show.fps
    return (
        f"{w.houses[worse].id} runs {share:+.2%} off the others.",
        {"cause": w.houses[worse].id, "cause_sigmas": sigmas},
    )


def _judge_forecast(
    w: World, i: int, loop: Loop, d: Drift | None, off: dict[int, tuple[float, float]]
) -> None:
    creep = w.creeps[i]
    link = loop.id
    if not loop.judged:
        judge(w, "slack-forecast", link, condition=False)
        return
    if d is None or not creep.ready or creep.t_s < w.t_s:
        return  # nothing new is known of it
    span = creep.span
    limit_s = w.show.alarms.forecast_s
    sure = abs(creep.rate_fps) > RATE_SIGMAS * math.sqrt(creep.prr)
    if span is not None and span[2] <= limit_s and sure:
        if w.active("slack-forecast", link):
            judge(w, "slack-forecast", link, condition=True)
            return
        if span[1] <= 0.0:
            return  # it has been reached: slack-lost says so
        words, cause = _cause(w, i, off)
        judge(
            w, "slack-forecast", link, condition=True, words={"cause": words},
            values={
                "to_limit_05_s": span[0], "to_limit_50_s": span[1], "to_limit_95_s": span[2],
                "rate_fps": creep.rate_fps, "toward": "spill" if creep.rate_fps > 0.0 else "tight", **cause,
            },
        )  # fmt: skip
    elif link in w.alarmed and (span is None or span[2] > limit_s / CLEAR):
        judge(w, "slack-forecast", link, condition=False)


def _judge_blind(w: World, i: int, loop: Loop, d: Drift | None) -> None:
    link = loop.id
    if not loop.judged or w.phase not in ("running", "running-out"):
        w.blind_since[i] = None
        if link in w.alarmed:
            judge(w, "blind", link, condition=False)
        return
    for a in w.link_adapters[i]:
        if w.active("adapter-lost", a.name) or w.active("adapter-stale", a.name):
            w.blind_since[i] = None
            return  # a silent adapter explains it, and says so itself
    # Where nothing is wired nothing can be known, and nobody can act on that in a show.
    blind = w.told[i] if d is None else BLIND_SIGMAS * math.sqrt(d.var) > BLIND_SHARE * loop.nearer_fr
    if not blind:
        w.blind_since[i] = None
        if link in w.alarmed:
            judge(w, "blind", link, condition=False)
        return
    since = w.blind_since[i]
    if since is None:
        w.blind_since[i] = since = w.t_s
    if w.t_s - since >= BLIND_S:
        sigma = None if d is None else math.sqrt(d.var)
        judge(w, "blind", link, condition=True, crossed_s=since + BLIND_S, values={"sigma_fr": sigma})
