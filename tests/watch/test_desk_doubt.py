"""What the desk cannot see or must not believe: silences, restarts, dead counters, and what it then says of a drift."""

from __future__ import annotations

import math

import msgspec
import pytest
from rig import Rig, make_show, running

from interlock.signals import Contacts, CounterWire, Counts
from interlock.watch.state import AdapterLine, AlarmLine, HouseLine, LinkLine


def test_a_silent_adapter_is_stale_then_lost_and_its_houses_unknown_and_nothing_false_trips() -> None:
    rig = running()
    rig.silent = [("a2", 110.0, 113.5)]
    start = len(rig.lines)
    rig.go(120.0)
    states = [x.state for x in rig.of(AdapterLine, start)]
    # Its last word was at 109.99 at the latest: stale 0.75 s and lost 2 s after it.
    assert states == ["stale", "lost", "up"]
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
    rig = running()
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
    rig = running()
    rig.silent = [("a2", 110.0, 113.0)]
    rig.truth[1].spans = [(60.0, 111.0)]
    rig.go(116.0)
    assert ("run-lost", "2") in rig.alarms()
    assert ("slack-lost", "1>2") in rig.alarms()
    assert rig.worst_drift_fr(since=53.2) < 1.0


def test_a_dead_counter_puts_the_position_in_doubt_and_then_is_an_alarm_and_no_slack_is_judged_from_it() -> (
    None
):
    rig = running()
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
    rig = running(2)
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


@pytest.mark.parametrize("counts_first", [True, False])
def test_film_passed_by_hand_while_an_adapter_is_away_counts_once_whatever_it_says_first_when_it_is_back(
    counts_first: bool,
) -> None:
    """The crew says how much; the counter has counted it as well, and only the contact tells that no motor turned it."""
    rig = running()
    for truth in rig.truth:
        truth.spans = [(60.0, 105.0)]
    rig.go(100.0)
    rig.do("stop-all")
    rig.go(120.0)
    rig.silent = [("a2", 120.0, 125.0)]
    rig.go(122.0)
    real = rig.truth[1].frames
    rig.truth[1].frames = lambda t: real(t) + (9.0 if t > 121.0 else 0.0)  # type: ignore[method-assign]
    rig.do("relace", house="2", n_fr=9.0)
    rig.go(124.99)
    if counts_first:
        n = math.floor(rig.truth[1].frames(rig.t) + 1e-9)
        rig.feed(Counts(rig.t, rig.t, "a2", (("2.frames", float(n), 121.001),)))
    rig.go(130.0)
    for i in (0, 1):
        line = next(
            x for x in reversed(rig.lines) if isinstance(x, LinkLine) and x.link == rig.show.links[i].id
        )
        assert line.drift_fr == pytest.approx(rig.drift(i, rig.t), abs=1.0)
