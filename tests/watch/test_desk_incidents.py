"""What goes wrong in mid-run, and what the desk says of it: trips, silences, restarts, tears, run-out."""

from __future__ import annotations

import math

import msgspec
import pytest
from rig import FPS, Rig, make_show

from interlock.signals import Contacts, CounterWire
from interlock.watch.state import AdapterLine, AlarmLine, HouseLine, LinkLine, ShowLine


def _running(n: int = 4, **show: object) -> Rig:
    rig = Rig(make_show(n, **show))  # type: ignore[arg-type]
    rig.start(60.0)
    rig.go(100.0)
    assert rig.alarms() == []
    return rig


def _crossing(rig: Rig, i: int, share: float, since: float) -> float:
    """When |drift| of link ``i`` truly reaches that share of 48 frames."""
    low, high = since, since + 10.0
    for _ in range(60):
        mid = (low + high) / 2
        low, high = (mid, high) if abs(rig.drift(i, mid)) < share * 48 else (low, mid)
    return high - 60.0


def test_a_trip_is_first_out_and_its_links_follow_in_its_group_each_within_a_frame_of_the_truth() -> None:
    rig = _running()
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
    rig = _running()
    for k, stop in enumerate((111.0, 110.0, 111.2, 111.4)):
        rig.truth[k].spans = [(60.0, stop)]
    rig.go(130.0)
    stops = [x for x in rig.of(AlarmLine) if x.code == "run-lost" and x.state == "unacknowledged"]
    assert [x.subject for x in stops] == ["2", "1", "3", "4"]
    assert {x.group for x in stops} == {stops[0].seq}
    assert [x.phase for x in rig.of(ShowLine)][-1] == "stopped"


def test_stop_all_quietens_the_stops_that_follow() -> None:
    rig = _running()
    rig.do("stop-all")
    for truth in rig.truth:
        truth.spans = [(60.0, 100.5)]
        truth.lamp = [truth.lamp[0], 101.4] if truth.lamp[0] < 100.0 else []
        truth.dowser = [truth.dowser[0], 100.45] if truth.dowser[0] < 100.0 else []
    rig.go(120.0)
    assert rig.alarms() == []
    assert [x.phase for x in rig.of(ShowLine)][-1] == "stopped"


def test_after_a_restart_the_plan_goes_on_from_where_it_stood_and_the_show_runs_again() -> None:
    rig = _running(minutes=5.0)
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


def test_a_silent_adapter_is_stale_then_lost_and_its_houses_unknown_and_nothing_false_trips() -> None:
    rig = _running()
    rig.silent = [("a2", 110.0, 113.5)]
    start = len(rig.lines)
    rig.go(120.0)
    states = [(x.state, x.at[-13:]) for x in rig.of(AdapterLine, start)]
    # Its last word was at 109.99 at the latest: stale 0.75 s and lost 2 s after it.
    assert [s for s, _ in states] == ["stale", "lost", "up"]
    quiet = [
        x
        for x in rig.lines
        if isinstance(x, HouseLine) and x.house == "2" and x.show_s and 51 <= x.show_s <= 53
    ]
    assert quiet
    assert all(x.run is None and x.frame is None and x.sigma_fr is None for x in quiet)
    links = [x for x in rig.lines if isinstance(x, LinkLine) and x.show_s and 51 <= x.show_s <= 53]
    assert {x.link for x in links if x.drift_fr is None} == {"1>2", "2>3"}
    assert [a for a in rig.alarms() if not a[0].startswith("adapter")] == []
    assert rig.worst_drift_fr() < 0.5


def test_a_restarted_adapter_carries_the_position_over_and_says_so() -> None:
    rig = _running()
    rig.silent = [("a3", 110.0, 111.0)]
    rig.go(110.95)
    rig.restart(2)
    rig.go(125.0)
    assert ("adapter-restarted", "a3") in rig.alarms()
    assert [a for a in rig.alarms() if not a[0].startswith("adapter")] == []
    assert rig.worst_drift_fr(since=51.0) < 2.5
    sigma = next(x.sigma_fr for x in reversed(rig.lines) if isinstance(x, LinkLine) and x.link == "2>3")
    assert sigma is not None
    assert sigma > 0.3


def test_a_machine_that_stops_while_its_adapter_is_silent_is_found_stopped() -> None:
    rig = _running()
    rig.silent = [("a2", 110.0, 113.0)]
    rig.truth[1].spans = [(60.0, 111.0)]
    rig.go(116.0)
    assert ("run-lost", "2") in rig.alarms()
    assert ("slack-lost", "1>2") in rig.alarms()
    assert rig.worst_drift_fr(since=53.2) < 1.0


def test_a_dead_counter_puts_the_position_in_doubt_and_then_is_an_alarm_and_no_slack_is_judged_from_it() -> (
    None
):
    rig = _running()
    real = rig.truth[1].frames
    rig.truth[1].frames = lambda t: real(min(t, 110.0))  # type: ignore[method-assign]
    rig.go(120.0)
    assert rig.alarms() == [("count-lost", "2"), ("blind", "1>2"), ("blind", "2>3")]
    doubt, *blind = (x for x in rig.of(AlarmLine) if x.state == "unacknowledged")
    assert {x.group for x in blind} == {doubt.seq}
    line = next(x for x in reversed(rig.lines) if isinstance(x, LinkLine) and x.link == "1>2")
    assert line.drift_fr is None


def test_a_contact_that_never_closes_while_its_counter_runs_is_count_lost_and_not_a_late_start() -> None:
    rig = Rig(make_show(3))
    rig.start(60.0)
    rig.truth[1].run = lambda t: False  # type: ignore[method-assign]
    rig.go(70.0)
    assert [a for a in rig.alarms() if not a[0].startswith("lamp")] == [("count-lost", "2")]


def test_film_passed_by_hand_on_a_standing_machine_is_not_applied_until_it_is_said() -> None:
    rig = Rig(make_show(2))
    rig.go(40.0)
    real = rig.truth[0].frames
    rig.truth[0].frames = lambda t: real(t) + 3.0 * max(0.0, min(t, 44.0) - 40.0)  # type: ignore[method-assign]
    rig.go(50.0)
    line = next(x for x in reversed(rig.lines) if isinstance(x, LinkLine))
    assert line.drift_fr == pytest.approx(0.0)
    rig.do("relace", house="1", n_fr=12.0)
    rig.go(52.0)
    line = next(x for x in reversed(rig.lines) if isinstance(x, LinkLine))
    assert line.drift_fr == pytest.approx(12.0)


def test_film_absent_where_it_should_be_parts_the_links_beside_it() -> None:
    rig = _running()
    rig.truth[2].film_gone_s = 110.0
    rig.go(113.0)
    assert ("film-out", "3") in rig.alarms()
    parted = {x.link for x in rig.of(LinkLine) if x.state == "parted"}
    assert parted == {"2>3", "3>4"}
    line = next(x for x in reversed(rig.lines) if isinstance(x, LinkLine) and x.link == "2>3")
    assert line.drift_fr is None


def test_a_lamp_that_goes_out_on_picture_and_a_dowser_that_stays_shut_are_high_alarms() -> None:
    rig = _running()
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


def test_with_contacts_only_the_drift_grows_uncertain_and_never_pretends() -> None:
    rig = Rig(make_show(2, counters=False, motor="induction", speed_tolerance=0.005))
    rig.start(60.0)
    rig.go(90.0)
    links = [x for x in rig.lines if isinstance(x, LinkLine) and x.show_s is not None]
    sigma = [x.sigma_fr for x in links if x.sigma_fr is not None]
    assert sigma[-1] == pytest.approx(0.005 * 24 * 30 * math.sqrt(2), rel=0.1)
    # 3 sigma are a quarter of 48 frames when sigma is 4: two ramps of 1.2 frames, and 0.12 frames a second each.
    blind = next(x for x in rig.of(AlarmLine))
    assert rig.alarms() == [("blind", "1>2")]
    assert blind.show_s == pytest.approx(math.sqrt(8.0 - 1.44) / 0.12 + 3.0, abs=1.5)


def test_a_reading_that_is_older_than_the_newest_of_its_signal_is_not_applied() -> None:
    rig = _running(2)
    before = len(rig.lines)
    rig.feed(Contacts(100.01, 99.0, "a1", (("1.run", False),)))
    rig.go(101.0)
    assert [x for x in rig.of(AlarmLine, before) if x.code == "run-lost"] == []


@pytest.mark.parametrize("frames_per_pulse", [1.0, 4.0])
def test_a_counted_machine_that_has_come_to_rest_is_known_to_within_its_pulses_however_it_coasted(
    frames_per_pulse: float,
) -> None:
    show = make_show(2, coast_s=0.5)
    wired = [
        msgspec.structs.replace(
            a,
            wiring=msgspec.structs.replace(
                a.wiring, counters={0: CounterWire(f"{h.id}.frames", frames_per_pulse)}
            ),
        )
        for a, h in zip(show.adapters, show.houses, strict=True)
    ]
    rig = Rig(msgspec.structs.replace(show, adapters=tuple(wired)))
    rig.start(60.0)
    rig.go(100.0)
    rig.truth[1].spans = [(60.0, 100.3)]
    rig.truth[1].coast_s = 0.2  # it was pulled to a stop sooner than it coasts
    rig.go(103.0)
    last = [x for x in rig.lines if isinstance(x, LinkLine)][-1]
    assert last.drift_fr is not None
    assert last.sigma_fr is not None
    # Two phases at the arming, each anywhere within a pulse: [C] its square's twelfth; and at rest the true place and the one
    # that is believed, both within a pulse: a sixth.
    assert last.sigma_fr <= math.sqrt(frames_per_pulse**2 / 3.0) * 1.1
    assert abs(last.drift_fr - rig.drift(0, 103.0)) <= 3.0 * last.sigma_fr


def test_a_limit_that_has_been_reached_is_not_foretold() -> None:
    rig = Rig(make_show(3))
    rig.start(60.0, late={1: 2.5})
    rig.go(63.5)
    rig.truth[0].fps = FPS * 1.002  # the loop that has spilled goes on growing
    rig.go(100.0)
    assert ("slack-lost", "1>2") in rig.alarms()
    assert [x for x in rig.alarms() if x[0] == "slack-forecast"] == []
