"""From contacts to alarms: real shows on ptys, judged against what truly happened.

An adapter emulator that shares no code with the program drives `longlace watch --plain`. Everything is
judged by the lines' own ``show_s``, ``at`` and ``crossed_s``, against the machine room's own truth.
"""

from __future__ import annotations

import math
import re
import time
from collections.abc import Callable
from typing import Any

import pytest
import scenes
from emulator import crc_ibm_3740, make_line
from scenes import Scene
from watching import wall_to_monotonic

pytestmark = pytest.mark.realtime

LEAD_S = 9.0  # four desks start at once on two cores before the motors do
THRESHOLD_S = 0.050
DRIFT_FR = 0.5
DRIFT_AFTER_RESTART_FR = 2.5
SLACK_AND_RUN = {"slack-low", "slack-critical", "slack-lost", "slack-forecast", "start-late", "run-lost"}
SLACK_AND_RUN |= {"run-early", "count-lost", "speed-off"}
SCENES: dict[str, Callable[[float], Scene]] = {
    "late": scenes.late_start,
    "trip": scenes.trip,
    "rough": scenes.rough_line,
    "run-out": scenes.run_out,
}


@pytest.fixture(scope="module")
def shows(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Scene]:
    """All four shows, run at the same time from start to end."""
    zero_s = time.monotonic() + LEAD_S
    # A tenth apart, so that no two start in one instant.
    made = {name: make(zero_s + 0.1 * n) for n, (name, make) in enumerate(SCENES.items())}
    begun = []
    try:
        for name, scene in made.items():
            begun.append(scene)
            scene.begin(tmp_path_factory.mktemp(name))
    finally:
        for scene in sorted(begun, key=lambda s: s.ends_s):
            scene.finish()
    return made


def alarms(scene: Scene, **wanted: str) -> list[dict[str, Any]]:
    """Alarm lines with these values, in order."""
    return [
        line
        for line in scene.lines
        if line["kind"] == "alarm" and all(line[key] == value for key, value in wanted.items())
    ]


def raised(scene: Scene) -> dict[tuple[str, str], dict[str, Any]]:
    """The first line of each alarm that was raised, by code and subject."""
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for line in alarms(scene, state="unacknowledged"):
        found.setdefault((line["code"], line["subject"]), line)
    return found


def crossed(scene: Scene, code: str, subject: str) -> float:
    """When that alarm says that it became true, on the monotonic clock."""
    line = raised(scene)[code, subject]
    assert line["show_s"] - line["values"]["crossed_s"] < 0.5, "said long after it was true"
    return scene.at(line["values"]["crossed_s"])


def check_drift(scene: Scene, restart_s: float = math.inf, restarted: tuple[str, ...] = ()) -> None:
    """Every drift that was said is the true one of that moment."""
    judged = 0
    for line in scene.lines:
        if line["kind"] != "link" or line["drift_fr"] is None or line["show_s"] is None:
            continue
        truth_fr = scene.link(line["link"]).drift_fr(scene.at(line["show_s"]))
        after_restart = line["show_s"] > restart_s and line["link"] in restarted
        allowed_fr = DRIFT_AFTER_RESTART_FR if after_restart else DRIFT_FR
        assert abs(line["drift_fr"] - truth_fr) <= allowed_fr, f"truth {truth_fr:.2f}: {line}"
        judged += 1
    assert judged > 2 * scene.ends_s, "hardly a drift was said"


def test_the_emulators_own_lines_are_those_of_the_page() -> None:
    # CRC catalogue's check value, and the examples of the page on the adapter line.
    assert crc_ibm_3740(b"123456789") == 0x29B1
    assert make_line("HI", 0, 3, "v1", "north", "levels=12", "counters=4", "analogs=0").endswith(b"*CBB0\n")
    assert make_line("CT", 43, 8320, "5@8309", "1@8290", "0@0", "0@0") == (
        b"CT 43 8320 5@8309 1@8290 0@0 0@0*04C3\n"
    )


@pytest.mark.parametrize("name", SCENES)
def test_a_watch_says_every_line_and_ends_with_its_record_whole(shows: dict[str, Scene], name: str) -> None:
    scene = shows[name]
    assert scene.watch is not None
    assert scene.exit_code == 130
    [farewell] = scene.watch.errors().splitlines()
    assert str(scene.watch.record) in farewell
    assert [line["seq"] for line in scene.lines] == list(range(len(scene.lines)))
    assert not [line for line in scene.lines if line["kind"] == "error"]
    head = re.findall(r"\b[0-9a-f]{64}\b", farewell)[0]
    verified = scene.watch.command("verify", str(scene.watch.record), "--head", head)
    assert verified.returncode == 0, verified.stdout + verified.stderr[-300:]
    for adapter in scene.adapters:
        assert adapter.asked >= 1, "the adapter was never asked who it is"


@pytest.mark.parametrize("name", SCENES)
def test_show_zero_is_when_the_first_motor_turned(shows: dict[str, Scene], name: str) -> None:
    scene = shows[name]
    timed = [line for line in scene.lines if line["show_s"] is not None]
    assert timed
    for line in timed:
        assert wall_to_monotonic(line["at"]) - scene.at(line["show_s"]) == pytest.approx(
            0, abs=THRESHOLD_S
        ), line


@pytest.mark.parametrize("name", SCENES)
def test_damaged_lines_are_counted_and_cost_nothing_else(shows: dict[str, Scene], name: str) -> None:
    scene = shows[name]
    for adapter in scene.adapters:
        last = [
            line for line in scene.lines if line["kind"] == "adapter" and line["adapter"] == adapter.name
        ][-1]
        assert adapter.spoiled >= 3
        # Said every ten seconds, so the last word may be ten seconds old.
        assert 0 < last["bad_lines"] <= adapter.spoiled
        assert last["lines"] <= adapter.sent


def test_a_house_that_starts_late_is_named_and_its_link_and_nothing_else(shows: dict[str, Scene]) -> None:
    scene = shows["late"]
    assert set(raised(scene)) == {("start-late", "1"), ("slack-low", "2>1")}
    truth_s = scene.link("2>1").crossing_s(0.5, scene.zero_s, scene.at(3))
    assert crossed(scene, "slack-low", "2>1") == pytest.approx(truth_s, abs=THRESHOLD_S)
    # Half of the link, 24 frames, is spoken for one second after the neighbour's start, and used up in truth when the
    # ramp that is still to come has made up for the neighbour's; the machine must not have turned by then.
    neighbour_s = scene.at(scenes.STARTS_S[2])
    assert neighbour_s + 1.0 - THRESHOLD_S <= crossed(scene, "start-late", "1") <= truth_s + THRESHOLD_S
    check_drift(scene)


def test_a_trip_is_the_first_out_and_its_links_are_its_group(shows: dict[str, Scene]) -> None:
    scene = shows["trip"]
    found = raised(scene)
    cause = found["run-lost", "3"]
    assert cause["first_out"]
    assert cause["priority"] == "high"
    assert crossed(scene, "run-lost", "3") == pytest.approx(scene.at(scenes.TRIP_S), abs=THRESHOLD_S)
    assert min(line["seq"] for line in found.values()) == cause["seq"]
    slack_and_run = {key: line for key, line in found.items() if key[0] in SLACK_AND_RUN}
    wanted = {(f"slack-{how}", link) for how in ("low", "critical", "lost") for link in ("4>3", "3>2")}
    wanted |= {("run-lost", house) for house in scenes.CHAIN}
    assert set(slack_and_run) == wanted
    for key, line in slack_and_run.items():
        if line is not cause:
            assert not line["first_out"], key
            assert line["group"] == cause["seq"], key


def test_every_threshold_of_a_trip_is_dated_within_50_ms_of_the_true_crossing(
    shows: dict[str, Scene],
) -> None:
    scene = shows["trip"]
    for link_id in ("4>3", "3>2"):
        link = scene.link(link_id)
        for code, share in (("slack-low", 0.5), ("slack-critical", 0.75), ("slack-lost", 1.0)):
            truth_s = link.crossing_s(share, scene.at(scenes.TRIP_S - 1), scene.at(scenes.STOP_ALL_S))
            said_s = crossed(scene, code, link_id)
            assert said_s == pytest.approx(truth_s, abs=THRESHOLD_S), f"{code} of {link_id}"
    check_drift(scene)


def test_a_rough_line_raises_alarms_of_the_adapter_and_no_other(shows: dict[str, Scene]) -> None:
    scene = shows["rough"]
    wanted = {("adapter-stale", "south"), ("adapter-lost", "south"), ("adapter-restarted", "south")}
    assert set(raised(scene)) == wanted
    silent_s = scenes.SILENCE_S[0]
    # The last word before the silence may be a quarter of a second old, and as much may be damaged after it.
    assert crossed(scene, "adapter-stale", "south") - scene.at(silent_s) == pytest.approx(0.7, abs=0.25)
    assert crossed(scene, "adapter-lost", "south") - scene.at(silent_s) == pytest.approx(1.95, abs=0.25)
    states = [
        line["state"] for line in scene.lines if line["kind"] == "adapter" and line["adapter"] == "south"
    ]
    changes = [s for s, before in zip(states, ["", *states], strict=False) if s != before]
    assert changes[-6:-3] == ["up", "stale", "lost"] or "lost" in changes
    assert "restarted" in changes
    assert changes[-1] == "up"
    check_drift(scene, scenes.RESTART_S[0], ("3>2", "2>1"))


def test_what_a_silent_adapter_would_say_is_unknown_and_comes_back(shows: dict[str, Scene]) -> None:
    scene = shows["rough"]
    # From stale (750 ms after the last word, itself up to 100 ms before the silence) until the first word after it.
    dark = [
        line
        for line in scene.lines
        if line["show_s"] is not None and scenes.SILENCE_S[0] + 0.8 < line["show_s"] < scenes.SILENCE_S[1]
    ]
    for house in ("2", "1"):
        said = [line for line in dark if line["kind"] == "house" and line["house"] == house]
        assert len(said) >= 2
        for line in said:
            assert [line[key] for key in ("run", "lamp", "dowser", "film")] == [None] * 4, line
    for link in ("3>2", "2>1"):
        said = [line for line in dark if line["kind"] == "link" and line["link"] == link]
        assert len(said) >= 2
        for line in said:
            assert line["drift_fr"] is None, line
    for link in ("4>3", "3>2", "2>1"):
        back = [
            line
            for line in scene.lines
            if line["kind"] == "link"
            and line["link"] == link
            and (line["show_s"] or 0) > scenes.SILENCE_S[1] + 1
        ]
        assert [
            line for line in back if line["drift_fr"] is not None and line["show_s"] < scenes.RESTART_S[0]
        ]
        assert back[-1]["drift_fr"] is not None


def test_a_run_out_clears_releases_and_stops_each_house_without_one_alarm(shows: dict[str, Scene]) -> None:
    scene = shows["run-out"]
    assert alarms(scene) == []
    check_drift(scene)
    for house in scene.houses:
        said = [line for line in scene.lines if line["kind"] == "house" and line["house"] == house.id]
        phases = [line["phase"] for line in said]
        in_order = [p for p, before in zip(phases, ["", *phases], strict=False) if p != before]
        assert in_order == ["threaded", "leader", "picture", "tail", "clear"]
        cleared = next(line for line in said if line["phase"] == "clear")
        truth_s = next(at_s for at_s, film in house.film.changes if not film)
        assert scene.at(cleared["show_s"]) == pytest.approx(truth_s, abs=0.5)
        assert said[-1]["run"] is False
    for link in scene.links:
        states = [line["state"] for line in scene.lines if line["kind"] == "link" and line["link"] == link.id]
        in_order = [s for s, before in zip(states, ["", *states], strict=False) if s != before]
        assert in_order == ["threaded", "running", "released"]
    shown = [line["phase"] for line in scene.lines if line["kind"] == "show"]
    assert shown[-4:] == ["starting", "running", "running-out", "ended"]


def test_every_cue_of_a_show_comes_due_in_its_time_and_is_seen_done(shows: dict[str, Scene]) -> None:
    scene = shows["run-out"]
    for house in scene.houses:
        picture_s = house.motion.when(house.first_picture_fr)
        last_s = house.motion.when(house.first_picture_fr + scene.picture_fr)
        truth = {
            "strike-lamp": picture_s - scenes.LAMP_LEAD_S,
            "open-dowser": picture_s - 1.0,
            "close-dowser": last_s,
        }
        for cue, due_s in truth.items():
            said = [
                c for c in scene.lines if c["kind"] == "cue" and (c["house"], c["cue"]) == (house.id, cue)
            ]
            assert [c["state"] for c in said if c["state"] != "due"] == ["coming", "done"], (house.id, cue)
            # The crew does it at its own true moment; the desk's due time may be off by what the survey allows.
            assert scene.at(said[-1]["due_s"]) == pytest.approx(due_s, abs=0.2), said[-1]
            assert scene.at(said[-1]["show_s"]) == pytest.approx(due_s, abs=0.5), said[-1]


def test_the_print_is_where_the_desk_says_within_what_the_survey_allows(shows: dict[str, Scene]) -> None:
    scene = shows["run-out"]
    judged = 0
    for line in scene.lines:
        if line["kind"] != "house" or line["frame"] is None or line["show_s"] is None:
            continue
        house = scene.house(line["house"])
        truth_fr = house.motion.frames(scene.at(line["show_s"])) - house.first_picture_fr
        assert abs(line["frame"] - truth_fr) <= 3 * line["sigma_fr"] + DRIFT_FR, (
            f"truth {truth_fr:.2f}: {line}"
        )
        judged += 1
    assert judged > 60
