"""What goes wrong in mid-run, and what the desk says of it: trips, stops, tears, lamps, run-out."""

from __future__ import annotations

import pytest
from rig import FPS, Rig, make_show, running

from interlock.watch.state import AlarmLine, HouseLine, LinkLine, ShowLine


def _crossing(rig: Rig, i: int, share: float, since: float) -> float:
    """When |drift| of link ``i`` truly reaches that share of 48 frames."""
    low, high = since, since + 10.0
    for _ in range(60):
        mid = (low + high) / 2
        low, high = (mid, high) if abs(rig.drift(i, mid)) < share * 48 else (low, mid)
    return high - 60.0


def test_a_trip_is_first_out_and_its_links_follow_in_its_group_each_within_a_frame_of_the_truth() -> None:
    rig = running()
    rig.truth[1].spans = [(60.0, 110.0)]
    rig.go(114.0)
    trips = [x for x in rig.of(AlarmLine) if x.state == "unacknowledged"]
    assert (trips[0].code, trips[0].subject, trips[0].first_out) == ("run-lost", "2", True)
    assert {x.group for x in trips} == {trips[0].seq}
    assert not any(x.first_out for x in trips[1:])
    for i, link in ((0, "1>2"), (1, "2>3")):
        for code, share in (("slack-low", 0.5), ("slack-critical", 0.75), ("slack-lost", 1.0)):
            alarm = next(x for x in trips if (x.code, x.subject) == (code, link))
            truth = _crossing(rig, i, share, 110.0)
            assert alarm.values["crossed_s"] == pytest.approx(truth, abs=0.02)
            assert alarm.show_s == pytest.approx(truth, abs=0.02)
    assert [x for x in trips if x.subject == "3>4"] == []
    assert rig.worst_drift_fr() < 0.5


def test_other_stops_within_five_seconds_join_the_first_and_a_stopped_show_stays_silent_about_slack() -> None:
    rig = running()
    for k, stop in enumerate((111.0, 110.0, 111.2, 111.4)):
        rig.truth[k].spans = [(60.0, stop)]
    rig.go(130.0)
    stops = [x for x in rig.of(AlarmLine) if x.code == "run-lost" and x.state == "unacknowledged"]
    assert [x.subject for x in stops] == ["2", "1", "3", "4"]
    assert {x.group for x in stops} == {stops[0].seq}
    assert [x.phase for x in rig.of(ShowLine)][-1] == "stopped"


def test_stop_all_quietens_the_stops_that_follow() -> None:
    rig = running()
    rig.do("stop-all")
    for truth in rig.truth:
        truth.spans = [(60.0, 100.5)]
        truth.lamp = [truth.lamp[0], 101.4] if truth.lamp[0] < 100.0 else []
        truth.dowser = [truth.dowser[0], 100.45] if truth.dowser[0] < 100.0 else []
    rig.go(120.0)
    assert rig.alarms() == []
    assert [x.phase for x in rig.of(ShowLine)][-1] == "stopped"


def test_after_a_restart_the_plan_goes_on_from_where_it_stood_and_the_show_runs_again() -> None:
    rig = running(minutes=5.0)
    rig.do("stop-all")
    for truth in rig.truth:
        truth.spans = [(60.0, 101.0), (161.0, 1e9)]
        truth.lamp = truth.dowser = []
    rig.go(150.0)
    before = next(x for x in reversed(rig.lines) if isinstance(x, HouseLine) and x.house == "1")
    rig.do("restart")
    rig.go(180.0)
    assert [x.phase for x in rig.of(ShowLine)][-3:] == ["stopped", "starting", "running"]
    after = next(x for x in reversed(rig.lines) if isinstance(x, HouseLine) and x.house == "1")
    assert before.expected_frame is not None
    assert after.expected_frame == pytest.approx(before.expected_frame + 19.0 * 24.0, abs=1.0)
    slack = [a for a in rig.alarms() if a[0].startswith("slack") or a[0] in ("run-lost", "start-late")]
    assert slack == []


def test_film_absent_where_it_should_be_parts_the_links_beside_it() -> None:
    rig = running()
    rig.truth[2].film_gone_s = 110.0
    rig.go(113.0)
    assert ("film-out", "3") in rig.alarms()
    parted = {x.link for x in rig.of(LinkLine) if x.state == "parted"}
    assert parted == {"2>3", "3>4"}
    line = next(x for x in reversed(rig.lines) if isinstance(x, LinkLine) and x.link == "2>3")
    assert line.drift_fr is None


def test_a_lamp_that_goes_out_on_picture_and_a_dowser_that_stays_shut_are_high_alarms() -> None:
    rig = running()
    rig.truth[0].lamp = [rig.truth[0].lamp[0], 110.0]
    rig.truth[1].dowser = [rig.truth[1].dowser[0], 110.0]
    rig.go(112.0)
    assert ("lamp-out", "1") in rig.alarms()
    shut = next(x for x in rig.of(AlarmLine) if x.code == "dowser-shut")
    assert shut.subject == "2"
    assert shut.show_s == pytest.approx(51.0, abs=0.01)


def test_a_lit_open_gate_with_standing_film_is_gate_heat_in_every_phase() -> None:
    rig = Rig(make_show(2))
    rig.truth[0].lamp, rig.truth[0].dowser = [5.0], [6.0]
    rig.go(7.0)
    assert rig.alarms() == [("gate-heat", "1")]


def test_a_run_out_clears_releases_and_stops_each_house_in_turn_without_one_alarm() -> None:
    rig = Rig(make_show(4, minutes=0.5))
    rig.start(60.0)
    clear = [60.6 + (f + 720 + 600) / 24.0 for f in rig.show.first_picture_at_fr]
    for truth, at in zip(rig.truth, clear, strict=True):
        truth.spans = [(60.0, at + 1.0)]
        truth.film_gone_s = at
    rig.go(clear[-1] + 5.0)
    assert rig.alarms() == []
    assert [x.phase for x in rig.of(ShowLine)] == [
        "waiting", "armed", "starting", "running", "running-out", "ended",
    ]  # fmt: skip
    released = [x.link for x in rig.of(LinkLine) if x.state == "released"]
    assert released == ["1>2", "2>3", "3>4"]
    clears = [x.house for x in rig.of(HouseLine) if x.phase == "clear" and x.run is True]
    assert list(dict.fromkeys(clears)) == ["1", "2", "3", "4"]


def test_a_limit_that_has_been_reached_is_not_foretold() -> None:
    rig = Rig(make_show(3))
    rig.start(60.0, late={1: 2.5})
    rig.go(63.5)
    rig.truth[0].fps = FPS * 1.002  # the loop that has spilled goes on growing
    rig.go(100.0)
    assert ("slack-lost", "1>2") in rig.alarms()
    assert [x for x in rig.alarms() if x[0] == "slack-forecast"] == []
