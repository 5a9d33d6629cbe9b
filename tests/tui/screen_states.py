"""Any layout and any state, for Hypothesis: every value missing, extreme or strange, names hostile."""

from __future__ import annotations

import itertools
from typing import Any

from hypothesis import strategies as st

from interlock.watch.state import (
    AdapterLine,
    AlarmLine,
    CueLine,
    HouseLayout,
    HouseLine,
    Layout,
    LinkLayout,
    LinkLine,
    PartLayout,
    State,
)

NASTY = (
    "[/", "[red]", "[/red]", "[bold", "\x1b[31mred\x1b[0m", "\x1b]0;title\x07", "a\nb\tc", "\u202egnp.exe", "x" * 500,
    "\u200b", "日本語の長い名前", "e\u0301\u0301\u0301", "👩‍🚀", "\x00\x07", "", " ", "𝔉𝔯𝔞𝔨𝔱𝔲𝔯", "$foreground", "@click=app.quit",
)  # fmt: skip
names = st.one_of(st.sampled_from(NASTY), st.text(max_size=40))
ids = st.text("0123456789ABCabc-_", min_size=1, max_size=8)
PHASES = ("waiting", "armed", "starting", "running", "stopped", "running-out", "ended")
maybe_bool = st.sampled_from((True, False, None))
small = st.floats(-1e3, 1e3)
wide = st.one_of(st.none(), small, st.floats(-1e7, 1e7))
ats = st.sampled_from(("2026-12-05T20:25:00.000Z", "", "not a time", "2026-12-05T20:40:10.500Z"))


def _base(draw: Any) -> dict[str, Any]:
    return {
        "seq": draw(st.integers(0, 10**6)),
        "at": draw(ats),
        "show_s": draw(st.one_of(st.none(), st.floats(0, 4e5))),
    }


@st.composite
def layouts(draw: Any, most: int = 16) -> Layout:
    houses = draw(st.lists(ids, min_size=1, max_size=most, unique=True))
    parts = []
    at = 0
    kinds = ("feature", "trailer", "tail", "black", "intermission", "other")
    for _ in range(draw(st.integers(1, 5))):
        frames = draw(st.integers(1, 90_000))
        parts.append(PartLayout(draw(names), draw(st.sampled_from(kinds)), at, frames))
        at += frames
    return Layout(
        title=draw(names), film=draw(st.sampled_from(("35 mm, 4 perforations", "other", "16 mm"))), fps=24.0,
        frames_per_ft=draw(st.sampled_from((16.0, 12.8, 64 / 3))), motor_start_at="", timezone="UTC", parts=tuple(parts),
        houses=tuple(
            HouseLayout(h, draw(names), draw(names), True, 100.0, ((draw(names), draw(names), "level 0"),)) for h in houses
        ),
        links=tuple(
            LinkLayout(f"{a}>{b}", a, b, 1000.0, draw(st.floats(1, 200)), draw(st.floats(1, 200)), False)
            for a, b in itertools.pairwise(houses)
        ),
        feed=draw(st.booleans()), take_up=draw(st.booleans()), rehearsal=draw(st.booleans()), length_fr=at,
    )  # fmt: skip


@st.composite
def states(draw: Any, lay: Layout) -> State:
    subjects = st.one_of(
        st.sampled_from([h.house for h in lay.houses] + [k.link for k in lay.links] + ["feed", "desk"]), names
    )
    houses = tuple(
        HouseLine(
            **_base(draw), house=h.house, phase=draw(st.sampled_from(("threaded", "leader", "picture", "tail", "clear"))),
            run=draw(maybe_bool), lamp=draw(maybe_bool), dowser=draw(maybe_bool), film=draw(maybe_bool), frame=draw(wide),
            expected_frame=draw(wide), sigma_fr=draw(wide), speed_fps=draw(wide), part=draw(st.one_of(st.none(), names)),
            dark=draw(st.booleans()),
        )
        for h in lay.houses
    )  # fmt: skip
    links = tuple(
        LinkLine(
            **_base(draw), link=k.link, state=draw(st.sampled_from(("threaded", "running", "parted", "released"))),
            drift_fr=draw(wide), sigma_fr=draw(wide), toward=draw(st.sampled_from(("tight", "spill", None))), used=draw(wide),
            left_fr=draw(wide), rate_fps=draw(wide),
            to_limit_s=draw(st.one_of(st.none(), st.tuples(st.floats(0, 1e6), st.floats(0, 1e6), st.floats(0, 1e6)))),
        )
        for k in lay.links
    )  # fmt: skip
    phases = ("unacknowledged", "acknowledged", "returned-unacknowledged", "latched-unacknowledged", "latched-acknowledged",
              "shelved", "suppressed", "out-of-service")  # fmt: skip
    codes = ("run-lost", "slack-low", "adapter-lost", "record-failing", "lamp-out", "gate-heat")
    alarms = tuple(
        AlarmLine(
            **_base(draw), code=draw(st.one_of(st.sampled_from(codes), names)), subject=draw(subjects),
            state=draw(st.sampled_from(phases)),
            priority=draw(st.sampled_from(("high", "medium", "low"))), first_out=draw(st.booleans()),
            group=draw(st.one_of(st.none(), st.integers(0, 3))), text=draw(names), values={}, active=draw(st.booleans()),
            since_at=draw(st.one_of(st.none(), ats)), until_at=draw(st.one_of(st.none(), ats)),
        )
        for _ in range(draw(st.integers(0, 6)))
    )  # fmt: skip
    cues = tuple(
        CueLine(
            **_base(draw), house=draw(st.sampled_from([h.house for h in lay.houses])), cue=draw(names),
            due_s=draw(st.one_of(st.none(), st.floats(-1e4, 1e5))),
            state=draw(st.sampled_from(("coming", "due", "done", "missed"))),
        )
        for _ in range(draw(st.integers(0, 5)))
    )  # fmt: skip
    adapters = (
        AdapterLine(**_base(draw), adapter=draw(names), state="up", lines=1, bad_lines=0, lost_lines=0),
    )
    return State(
        **_base(draw), phase=draw(st.sampled_from(PHASES)),
        beat=draw(st.integers(0, 10**6)), plan_s=draw(st.one_of(st.none(), st.floats(-1e5, 1e5))),
        age_s=draw(st.one_of(st.none(), st.floats(0, 1e5))), houses=houses, links=links, alarms=alarms, cues=cues,
        adapters=adapters, leads=draw(st.one_of(st.none(), names)), booth=draw(st.one_of(st.none(), names)),
        silenced=draw(st.booleans()), record_ok=draw(st.booleans()), speed=draw(st.one_of(st.none(), st.floats(0.1, 300))),
    )  # fmt: skip
