"""From contacts to lines: real shows on ptys, judged against what truly happened.

An adapter emulator that shares no code with the program drives `longlace watch --plain`. Everything is
judged by the lines' own ``show_s``, ``at`` and ``crossed_s``, against the machine room's own truth.
"""

from __future__ import annotations

import re

import pytest
import scenes
from judging import DRIFT_FR, alarms, check_drift, within_s
from page_line import crc_ibm_3740, make_line
from scenes import SCENES, Scene
from watching import wall_to_monotonic

pytestmark = pytest.mark.realtime


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
            0, abs=within_s(scene, scene.zero_s)
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
