"""Moments of the invented show that every screen is looked at in: all well, one alarm, a flood, an adapter lost, start, end."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from interlock.watch.state import AlarmLine, AlarmPhase, FloodState, Layout, Priority, State
from tui.example.show import link_line, rfc3339, state_at

MIDDLE_S = 1505.0
_STOP = (
    "Stop all, dowsers shut. By hand: first the downstream neighbour and onward, then the upstream ones "
    "(tight wrecks machines, spill only costs film)."
)


def _alarm(
    state: State, code: str, subject: str, priority: Priority, text: str, ago_s: float, *,
    phase: AlarmPhase = "unacknowledged", first: bool = False, group: int | None = None,
) -> AlarmLine:  # fmt: skip
    show_s = state.show_s or 0.0
    return AlarmLine(
        seq=state.seq, at=state.at, show_s=state.show_s, code=code, subject=subject, state=phase, priority=priority,
        first_out=first, group=group, text=text, values={"crossed_s": show_s - ago_s},
        active=phase in ("unacknowledged", "acknowledged", "shelved"), since_at=rfc3339(show_s - ago_s),
        until_at=rfc3339(show_s + 480) if phase == "shelved" else None,
    )  # fmt: skip


def well(lay: Layout) -> State:
    """The middle of the show, nothing wrong."""
    return state_at(lay, MIDDLE_S, seq=40_000)


def before(lay: Layout) -> State:
    """Armed, twelve seconds before the motors start."""
    return state_at(lay, -12.0, seq=100)


def start(lay: Layout) -> State:
    """Shortly after the start: the first lamps are due."""
    return state_at(lay, 8.0, seq=300)


def end(lay: Layout) -> State:
    """Running out: the first houses are clear."""
    through_s = (lay.length_fr + lay.houses[0].first_picture_fr) / lay.fps
    return state_at(lay, through_s + 25.0 * max(1, len(lay.houses)), seq=90_000)


def one_alarm(lay: Layout) -> State:
    """One loop fills slowly."""
    state = well(lay)
    k = len(lay.links) // 2
    link = lay.links[k].link
    links = list(state.links)
    links[k] = link_line(lay, k, 29.4, MIDDLE_S, state.at, state.seq, rate_fps=0.06)
    alarm = _alarm(
        state, "slack-low", link, "medium",
        f"Look at {link}: it fills towards spill. Find the machine that is off; be ready to stop.", 14.0,
        first=True, group=39_700,
    )  # fmt: skip
    return msgspec.structs.replace(state, links=tuple(links), alarms=(alarm,))


def flood(lay: Layout) -> State:
    """A machine has tripped in mid-run: both its loops, a lamp elsewhere, and an alarm put aside."""
    state = well(lay)
    k = max(1, len(lay.houses) // 2 - 1)
    house = lay.houses[k].house
    group = 39_900
    above, below = lay.links[k - 1].link, lay.links[min(k, len(lay.links) - 1)].link
    houses = list(state.houses)
    houses[k] = msgspec.structs.replace(houses[k], run=False, speed_fps=0.0)
    links = list(state.links)
    links[k - 1] = link_line(lay, k - 1, 39.5, MIDDLE_S, state.at, state.seq, rate_fps=24.0)
    if k < len(links):
        links[k] = link_line(lay, k, -48.0, MIDDLE_S, state.at, state.seq, rate_fps=-24.0)
    last = lay.houses[-1].house
    houses[-1] = msgspec.structs.replace(houses[-1], lamp=False)
    alarms = (
        _alarm(state, "run-lost", house, "high", _STOP, 2.0, first=True, group=group),
        _alarm(state, "slack-lost", below, "high", _STOP, 0.0, group=group),
        _alarm(state, "slack-critical", above, "high", f"Hand on the stop: {above} towards spill.", 0.4, group=group),
        _alarm(state, "gate-heat", house, "high", f"Shut the dowser of {house} now.", 1.7, group=group),
        _alarm(
            state, "lamp-out", last, "high", f"Strike {last} again, dowser shut; if it stays out, tell the house.",
            95.0, phase="acknowledged", first=True, group=39_100,
        ),
        _alarm(
            state, "adapter-restarted", lay.houses[0].booth, "low",
            f"Check supply and earth of adapter {lay.houses[0].booth}.", 300.0,
            phase="returned-unacknowledged", first=True, group=31_000,
        ),
        _alarm(
            state, "lamp-against-dowser", lay.houses[0].house, "medium", "Open the dowser, or put the lamp out.", 600.0,
            phase="shelved",
        ),
    )  # fmt: skip
    return msgspec.structs.replace(state, houses=tuple(houses), links=tuple(links), alarms=alarms)


def adapter_lost(lay: Layout) -> State:
    """The last booth's adapter is silent: its houses and their loops are not known."""
    state = well(lay)
    booth = lay.houses[-1].booth
    gone = [k for k, h in enumerate(lay.houses) if h.booth == booth]
    houses = tuple(
        msgspec.structs.replace(
            h,
            run=None,
            lamp=None,
            dowser=None,
            film=None,
            frame=None,
            sigma_fr=None,
            speed_fps=None,
            part=None,
        )
        if k in gone
        else h
        for k, h in enumerate(state.houses)
    )
    links = tuple(
        link_line(lay, k, None, MIDDLE_S, state.at, state.seq) if k in gone or k + 1 in gone else link
        for k, link in enumerate(state.links)
    )
    adapters = tuple(
        msgspec.structs.replace(a, state="lost", age_s=6.3, text="its port is gone: /dev/ttyACM1")
        if a.adapter == booth
        else a
        for a in state.adapters
    )
    alarm = _alarm(
        state, "adapter-lost", booth, "high",
        f"Watch its houses by eye; check cable and supply of adapter {booth}.", 4.3, first=True, group=39_800,
    )  # fmt: skip
    return msgspec.structs.replace(state, houses=houses, links=links, adapters=adapters, alarms=(alarm,))


def power_dip(lay: Layout) -> State:
    """The mains have dipped: lamps out in every house, a motor down, loops off: more alarms than anybody can work through."""
    state = flood(lay)
    trip = state.alarms[:4]
    lamps = tuple(
        _alarm(state, "lamp-out", h.house, "high", f"Strike {h.house} again, dowser shut; if it stays out, tell the house.",
               3.0 + k / 10, first=True, group=39_200 + k)
        for k, h in enumerate(lay.houses)
    )  # fmt: skip
    loops = tuple(
        _alarm(state, "slack-low", link.link, "medium", f"Look at {link.link}: it fills towards spill.", 1.0, first=True,
               group=39_300 + k)
        for k, link in enumerate(lay.links) if not any(a.subject == link.link for a in trip)
    )  # fmt: skip
    alarms = (*trip, *lamps, *loops, state.alarms[-1])
    houses = tuple(msgspec.structs.replace(h, lamp=False) for h in state.houses)
    n = len(alarms) - 1
    flooded = FloodState(
        since_at=rfc3339(MIDDLE_S - 4),
        since_s=MIDDLE_S - 4,
        alarms=n,
        recent=n,
        ends_at=rfc3339(MIDDLE_S + 600),
    )
    return msgspec.structs.replace(state, alarms=alarms, houses=houses, flood=flooded)


MOMENTS: dict[str, Callable[[Layout], State]] = {
    "well": well,
    "one-alarm": one_alarm,
    "flood": flood,
    "power-dip": power_dip,
    "adapter-lost": adapter_lost,
    "before": before,
    "start": start,
    "end": end,
}
