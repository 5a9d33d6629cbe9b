"""What contract.md says of every line of ``--plain``, read off whole shows by nothing of the program but its JSON."""

from __future__ import annotations

import json
import subprocess
import sys
from collections import defaultdict
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any, TypeAlias

import pytest

CONFIGS = Path(__file__).parents[2] / "configs"
Line: TypeAlias = dict[str, Any]

KEYS = {
    "show": {"phase", "title"},
    "house": {
        *("house", "phase", "run", "lamp", "dowser", "film", "frame", "expected_frame", "sigma_fr", "speed_fps"),
        *("part", "dark"),
    },
    "link": {
        *("link", "state", "drift_fr", "sigma_fr", "toward", "used", "left_fr", "rate_fps", "to_limit_s"),
    },
    "alarm": {"code", "subject", "state", "priority", "first_out", "group", "text", "values"},
    "cue": {"house", "cue", "due_s", "state"},
    "adapter": {"adapter", "state", "lines", "bad_lines", "lost_lines"},
    "operator": {"action"},
}  # fmt: skip
PRIORITY = {
    **dict.fromkeys(
        ["slack-critical", "slack-lost", "start-late", "run-lost", "run-early", "count-lost"], "high"
    ),
    **dict.fromkeys(
        ["film-out", "deck-stopped", "lamp-out", "gate-heat", "dowser-shut", "record-failing"], "high"
    ),
    **dict.fromkeys(["slack-low", "slack-forecast", "speed-off", "lamp-against-dowser", "blind"], "medium"),
    **dict.fromkeys(["lamp-left-on", "dowser-open-early", "adapter-stale", "adapter-restarted"], "low"),
    "adapter-lost": "high",
}
WAITING = {
    *("gate-heat", "lamp-against-dowser", "adapter-stale", "adapter-lost", "adapter-restarted", "record-failing"),
}  # fmt: skip
STARTING = WAITING | {
    *("run-early", "start-late", "run-lost", "slack-low", "slack-critical", "slack-lost", "count-lost"),
    *("lamp-dark", "lamp-out", "lamp-left-on", "dowser-shut", "dowser-open-early", "film-out"),
}  # fmt: skip
MAY_TRIP = {
    "waiting": WAITING,
    "armed": WAITING | {"run-early"},
    "starting": STARTING,
    "stopped": WAITING | {"lamp-dark", "lamp-out", "lamp-left-on", "film-out"},
}
"""In the other phases all may."""


def printed(*args: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "interlock.cli", *args],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    return done.stdout


@pytest.fixture(scope="module")
def plan() -> dict[str, Any]:
    return dict(json.loads(printed("check", str(CONFIGS / "demo.toml"), "--json")))


@pytest.fixture(scope="module", params=["demo", "tear", "trip-in-mid-run", "platter"])
def lines(request: pytest.FixtureRequest) -> list[Line]:
    scenario = CONFIGS / "scenarios" / f"{request.param}.toml"
    args = ("rehearse", str(CONFIGS / "demo.toml"), "--scenario", str(scenario))
    said = [json.loads(x) for x in printed(*args, "--plain", "--speed", "max", "--seed", "3").splitlines()]
    assert len(said) > 2000
    return said


def of(lines: list[Line], kind: str) -> list[Line]:
    found = [x for x in lines if x["kind"] == kind]
    assert found
    return found


def test_every_line_is_counted_from_0_and_has_the_keys_of_its_kind(lines: list[Line]) -> None:
    assert [x["seq"] for x in lines] == list(range(len(lines)))
    for x in lines:
        assert KEYS[x["kind"]] <= x.keys()
        assert datetime.fromisoformat(x["at"]).utcoffset() is not None
        assert x["at"].endswith("Z")
        assert x["show_s"] is None or isinstance(x["show_s"], float)


def test_a_links_shares_follow_from_its_drift_and_unknown_is_null(
    lines: list[Line], plan: dict[str, Any]
) -> None:
    limits = {k["link"]: (k["tight_fr"], k["spill_fr"]) for k in plan["links"]}
    known = 0
    for x in of(lines, "link"):
        drift = x["drift_fr"]
        if drift is None:
            assert {x[k] for k in ("used", "left_fr", "toward", "rate_fps")} == {None}
            assert x["to_limit_s"] is None
            continue
        known += 1
        tight_fr, spill_fr = limits[x["link"]]
        assert x["state"] in ("threaded", "running")
        assert x["toward"] == ("tight" if drift < 0 else "spill")
        assert x["used"] == pytest.approx(-drift / tight_fr if drift < 0 else drift / spill_fr, abs=1e-12)
        assert x["left_fr"] == pytest.approx(min(spill_fr - drift, drift + tight_fr), abs=1e-9)
        assert x["sigma_fr"] is not None
        if x["to_limit_s"] is not None:
            assert len(x["to_limit_s"]) == 3
            assert x["to_limit_s"] == sorted(x["to_limit_s"])
    assert known > 100


def test_a_houses_part_is_that_of_its_frame(lines: list[Line], plan: dict[str, Any]) -> None:
    for x in of(lines, "house"):
        frame = x["frame"]
        here = [
            p["name"]
            for p in plan["parts"]
            if frame is not None and p["start_fr"] <= frame < p["start_fr"] + p["frames"]
        ]
        assert [x["part"]] == (here or [None])
        assert (x["sigma_fr"] is None) == (frame is None)


def test_houses_and_links_are_said_once_a_second_and_adapters_every_ten(lines: list[Line]) -> None:
    at: dict[tuple[str, str], list[float]] = defaultdict(list)
    for x in lines:
        if x.get("periodic"):
            at[x["kind"], x[x["kind"]]].append(datetime.fromisoformat(x["at"]).timestamp())
    assert len(at) == 4 + 3 + 2
    for (kind, _), times in at.items():
        every_s = 10.0 if kind == "adapter" else 1.0
        assert [b - a for a, b in pairwise(times)] == pytest.approx([every_s] * (len(times) - 1), abs=0.0015)


def test_an_alarm_has_its_priority_its_group_and_its_moment_and_trips_only_in_its_phases(
    lines: list[Line],
) -> None:
    phase, firsts = "", set()
    for x in lines:
        if x["kind"] == "show":
            phase = x["phase"]
        if x["kind"] != "alarm":
            continue
        code = x["code"]
        assert "crossed_s" in x["values"]
        assert x["text"]
        if code != "lamp-dark":
            assert x["priority"] == PRIORITY[code]
        if x["first_out"] and (code, x["subject"], x["group"]) not in firsts:
            firsts.add((code, x["subject"], x["group"]))
            assert x["group"] == x["seq"]
        if x["group"] is not None:
            assert x["group"] in {group for _, _, group in firsts}
        if x["state"] == "unacknowledged" and phase in MAY_TRIP:
            assert code in MAY_TRIP[phase], (phase, x)
    assert firsts


def test_cues_go_forward_and_are_over_once(lines: list[Line]) -> None:
    order = {"coming": 0, "due": 1, "done": 2, "missed": 2}
    open_: dict[tuple[str, str], int] = {}
    for x in of(lines, "cue"):
        key = (x["house"], x["cue"])
        rank = order[x["state"]]
        assert rank > open_.get(key, -1), x
        open_[key] = -1 if rank == 2 else rank  # the same words may come again, later in the print
        assert isinstance(x["due_s"], float)
