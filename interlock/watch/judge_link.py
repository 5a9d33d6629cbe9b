"""The alarms of one link, each at the moment at which its limit is crossed.

Between two readings the drift goes on; a link is looked at again no later than it could reach its next
threshold with one machine at full speed and the other standing, and when it moves, at the moment at which it will.
"""

from __future__ import annotations

import math

from interlock.watch.loop import Drift, Loop
from interlock.watch.raising import judge
from interlock.watch.say import link_line
from interlock.watch.world import RANK_LINK, Values, World

SLACK_CODES = ("slack-lost", "slack-critical", "slack-low")
"""Gravest first, so that the graver one is there when the milder is judged."""
NEAR_S = 0.2
"""A link that is to be looked at again so soon is looked at with every count as well."""
STEP_S = 0.02
"""Two looks at a moving link are at least so far apart."""


def judge_link(w: World, i: int) -> None:
    """Judge link ``i`` at the desk's time, and set when to look again."""
    loop = w.loops[i]
    _follow_phase(w, loop, i)
    if not loop.judged:
        if loop.id in w.alarmed:
            for code in SLACK_CODES:
                judge(w, code, loop.id, condition=False)
        again_s = None
    else:
        d = loop.drift(w.t_s)
        _judge_slack(w, loop, d)
        again_s = None if d is None or w.zero_s is None else _look_again_s(w, loop, d)
    w.due(RANK_LINK, i, again_s)
    if again_s is not None and again_s < w.t_s + NEAR_S:
        w.near.add(i)
    else:
        w.near.discard(i)
    if w.links_said[i] != loop.phase:
        w.links_said[i] = loop.phase
        w.lines.append(link_line(w, i, loop.drift(w.t_s)))


def _follow_phase(w: World, loop: Loop, i: int) -> None:
    if loop.phase == "released":
        return
    if w.houses[i].phase == "clear":
        loop.phase = "released"
    elif loop.phase == "threaded" and (loop.up.ran or loop.down.ran) and loop.up.tracking:
        loop.phase = "running"


def _judge_slack(w: World, loop: Loop, d: Drift | None) -> None:
    link = loop.id
    lost_by_switch = loop.lost
    alarmed = link in w.alarmed
    if (d is None or 3.0 * math.sqrt(d.var) > loop.limit_fr(d.fr)) and not lost_by_switch:
        return  # unknown neither trips nor clears; nor does what may be anywhere
    limit_fr = loop.limit_fr(d.fr) if d is not None else math.inf
    used = abs(d.fr) / limit_fr if d is not None else 1.0
    if not (alarmed or lost_by_switch) and used < w.slack_shares[-1][1] - 1e-9:
        return  # well within, and nothing to clear
    # A share below the threshold by 3 σ, a quarter of the limit at the most, clears.
    deadband = max(min(3.0 * math.sqrt(d.var) / limit_fr, 0.25), 1e-6) if d is not None else 0.25
    for code, share in w.slack_shares:
        over = used >= share - 1e-9 or (code == "slack-lost" and lost_by_switch)
        if over:
            if not w.active(code, link):
                judge(
                    w, code, link, condition=True, crossed_s=_crossed_s(w, loop, d, share),
                    values=_values(loop, d), words={"toward": _words(loop, d)},
                )  # fmt: skip
            else:
                judge(w, code, link, condition=True)
        elif alarmed and used < share - deadband:
            judge(w, code, link, condition=False)


def _crossed_s(w: World, loop: Loop, d: Drift | None, share: float) -> float:
    """When the drift passed that share of the limit: by its present rate, back from now."""
    if d is None or abs(d.rate_fps) < 1e-6 or d.rate_fps * d.fr < 0.0:
        return w.t_s
    over_fr = abs(d.fr) - share * loop.limit_fr(d.fr)
    return w.t_s - min(over_fr / abs(d.rate_fps), 1.0)


def _values(loop: Loop, d: Drift | None) -> Values:
    switch: Values = {"switch": "tight" if loop.tight_switch.now else "spill"} if loop.lost else {}
    if d is None:
        return switch
    return switch | {
        "drift_fr": d.fr,
        "sigma_fr": math.sqrt(d.var),
        "used": loop.used(d.fr),
        "left_fr": loop.left_fr(d.fr),
        "toward": loop.toward(d.fr),
        "rate_fps": d.rate_fps,
    }


def _words(loop: Loop, d: Drift | None) -> str:
    spills = d.fr >= 0.0 if d is not None and not loop.lost else loop.spill_switch.now is True
    return "its loop grows towards spill" if spills else "it is going tight"


def _look_again_s(w: World, loop: Loop, d: Drift) -> float:
    """No later than it could be at its next threshold; when it is on its way there, at that moment."""
    soonest = math.inf
    reach_fps = 1.1 * w.show.fps
    fr, rate_fps = d.fr, d.rate_fps
    for steps_fr, way_fr, closing_fps in (
        (loop.spill_steps_fr, fr, rate_fps),
        (loop.tight_steps_fr, -fr, -rate_fps),
    ):
        for step_fr in steps_fr:
            gap_fr = step_fr - way_fr
            if gap_fr <= 1e-9 * steps_fr[-1]:
                continue
            if closing_fps > 0.0 and gap_fr < 0.15 * closing_fps:
                # It may go faster than now: look at half of the way, and at the moment itself when it is near.
                look_s = gap_fr / closing_fps
            else:
                look_s = gap_fr / reach_fps
                look_s = look_s if look_s > STEP_S else STEP_S
            soonest = look_s if look_s < soonest else soonest
            break
    if rate_fps * fr < 0.0:
        limit_fr = loop.limit_fr(fr)
        deadband = min(3.0 * math.sqrt(d.var) / limit_fr, 0.25)
        if abs(fr) / limit_fr > w.slack_shares[-1][1] - deadband:
            soonest = min(soonest, 0.1)  # on its way back: clear when it is so
    return w.t_s + max(soonest, 1e-6)
