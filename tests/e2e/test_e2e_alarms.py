"""Alarms of real shows on ptys: which are raised, which are not, and each within 50 ms of when it became true."""

from __future__ import annotations

import pytest
import scenes
from judging import check_drift, crossed, raised, within_s
from scenes import Scene

pytestmark = pytest.mark.realtime

SLACK_AND_RUN = {"slack-low", "slack-critical", "slack-lost", "slack-forecast", "start-late", "run-lost"}
SLACK_AND_RUN |= {"run-early", "count-lost", "speed-off"}


def test_a_house_that_starts_late_is_named_and_its_link_and_nothing_else(shows: dict[str, Scene]) -> None:
    scene = shows["late"]
    assert set(raised(scene)) == {("start-late", "1"), ("slack-low", "2>1")}
    truth_s = scene.link("2>1").crossing_s(0.5, scene.zero_s, scene.at(3))
    neighbour_s = scene.at(scenes.STARTS_S[2])
    within = within_s(scene, scene.zero_s, neighbour_s)
    assert crossed(scene, "slack-low", "2>1") == pytest.approx(truth_s, abs=within)
    # Half of the link, 24 frames, is spoken for one second after the neighbour's start, and used up in truth when the
    # ramp that is still to come has made up for the neighbour's; the machine must not have turned by then.
    assert neighbour_s + 1.0 - within <= crossed(scene, "start-late", "1") <= truth_s + within
    check_drift(scene)


def test_a_trip_is_the_first_out_and_its_links_are_its_group(shows: dict[str, Scene]) -> None:
    scene = shows["trip"]
    found = raised(scene)
    cause = found["run-lost", "3"]
    assert cause["first_out"]
    assert cause["priority"] == "high"
    assert crossed(scene, "run-lost", "3") == pytest.approx(
        scene.at(scenes.TRIP_S), abs=within_s(scene, scene.zero_s, scene.at(scenes.TRIP_S))
    )
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
    within = within_s(scene, scene.zero_s, scene.at(scenes.TRIP_S))
    for link_id in ("4>3", "3>2"):
        link = scene.link(link_id)
        for code, share in (("slack-low", 0.5), ("slack-critical", 0.75), ("slack-lost", 1.0)):
            truth_s = link.crossing_s(share, scene.at(scenes.TRIP_S - 1), scene.at(scenes.STOP_ALL_S))
            said_s = crossed(scene, code, link_id)
            assert said_s == pytest.approx(truth_s, abs=within), f"{code} of {link_id}"
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
    from_silence = changes[changes.index("stale") :]
    assert from_silence[:3] == ["stale", "lost", "up"]
    # It may be stale while it restarts: it is dead for 0.6 s, and its last word before that is up to 0.1 s older.
    assert [s for s in from_silence if s not in {"stale", "up"}] == ["lost", "restarted"]
    assert from_silence[-1] == "up"
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
