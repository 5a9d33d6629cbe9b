"""Who is off, and when a limit will be reached: creeps named, supplies compared, forecasts held to their intervals."""

from __future__ import annotations

import math

import msgspec
import pytest
from rig import Rig, make_show

from interlock.watch.forecast import time_to_limit_s
from interlock.watch.state import AlarmLine, LinkLine


def _creeping(share: float, *, n: int = 4, at: float = 80.0, **house: object) -> Rig:
    rig = Rig(make_show(n, minutes=30.0, **house))
    rig.start(60.0, light=False)
    for h in rig.show.houses:
        rig.do("dark", house=h.id)
    rig.go(at)
    real, extra = rig.truth[1].frames, 24.0 * share
    rig.truth[1].frames = lambda t: real(t) + extra * max(0.0, t - at)  # type: ignore[method-assign]
    return rig


def _first(rig: Rig, code: str) -> AlarmLine | None:
    return next((x for x in rig.of(AlarmLine) if x.code == code), None)


@pytest.mark.parametrize("share", [0.001, -0.001])
def test_a_synchronous_machine_a_tenth_of_a_percent_off_is_named_within_a_minute(share: float) -> None:
    rig = _creeping(share)
    rig.go(140.0)
    off = _first(rig, "speed-off")
    assert off is not None
    assert off.subject == "2"
    assert [x for x in rig.alarms() if x[0] == "speed-off"] == [("speed-off", "2")]
    assert off.values["share"] == pytest.approx(share, rel=0.6)


@pytest.mark.parametrize("share", [0.01, -0.01])
def test_a_machine_one_percent_off_is_named_within_five_seconds(share: float) -> None:
    rig = _creeping(share, speed_tolerance=0.0025, motor="crystal")
    rig.go(85.0)
    off = _first(rig, "speed-off")
    assert off is not None
    assert off.subject == "2"


def test_a_shift_of_the_supply_that_all_share_alarms_nobody() -> None:
    rig = Rig(make_show(3, minutes=30.0))
    rig.start(60.0, light=False)
    for h in rig.show.houses:
        rig.do("dark", house=h.id)
    for truth in rig.truth:
        real = truth.frames
        truth.frames = lambda t, real=real: real(t) + 0.24 * max(0.0, t - 80.0)  # type: ignore[method-assign,misc]
    rig.go(140.0)
    assert rig.alarms() == []
    assert rig.worst_drift_fr() < 0.5


def test_of_two_machines_with_no_third_to_compare_both_are_named() -> None:
    rig = _creeping(0.002, n=2)
    rig.go(120.0)
    assert {s for c, s in rig.alarms() if c == "speed-off"} == {"1", "2"}
    text = next(x.text for x in rig.of(AlarmLine) if x.code == "speed-off")
    assert "cannot be told" in text


def test_a_creep_is_forecast_with_its_cause_and_the_interval_holds_the_true_time() -> None:
    rig = _creeping(0.004)
    rig.go(130.0)
    alarm = _first(rig, "slack-forecast")
    assert alarm is not None
    assert alarm.show_s is not None
    true_s = 48.0 / (24.0 * 0.004) + 20.0 - alarm.show_s
    low, high = alarm.values["to_limit_05_s"], alarm.values["to_limit_95_s"]
    assert isinstance(low, float)
    assert isinstance(high, float)
    assert low - 0.1 * true_s <= true_s <= high + 0.1 * true_s
    assert alarm.values["cause"] in ("2", None)
    line = next(x for x in reversed(rig.lines) if isinstance(x, LinkLine) and x.link == "1>2")
    assert line.to_limit_s is not None


def test_a_steady_show_forecasts_nothing_and_bounds_nothing() -> None:
    rig = Rig(make_show(3, minutes=30.0))
    rig.start(60.0, light=False)
    for h in rig.show.houses:
        rig.do("dark", house=h.id)
    rig.go(140.0)
    assert rig.alarms() == []


def test_the_time_to_a_limit_is_that_of_the_reference() -> None:
    # [C] reference.md: P(over by t) = Φ((x+rt−c)/√(Pxx+2tPxv+t²Pvv)); x 12, r 0.6, Pxx 0.25, Pxv 0, Pvv 0.0025, c 48.
    assert time_to_limit_s(12.0, 0.6, 48.0, 0.25, 0.0, 0.0025) == pytest.approx(
        (52.654, 60.0, 69.644), abs=0.001
    )


def test_a_time_that_the_rate_does_not_bound_is_said_to_be_none() -> None:
    # [D] reference.md: if Φ(r/√Pvv) < 0.95 the 95 % time is not bounded.
    edge = 1.6448536 * 0.05
    assert time_to_limit_s(0.0, edge * 0.999, 48.0, 0.25, 0.0, 0.0025) is None
    assert time_to_limit_s(0.0, edge * 1.01, 48.0, 0.25, 0.0, 0.0025) is not None
    assert time_to_limit_s(0.0, -1.0, 48.0, 0.25, 0.0, 0.0025) is None


def test_a_crystal_machine_beside_the_mains_grows_uncertain_without_counters() -> None:
    show = make_show(2, counters=False)
    houses = (show.houses[0], msgspec.structs.replace(show.houses[1], motor="crystal", supply="own"))
    rig = Rig(msgspec.structs.replace(show, houses=houses))
    rig.start(60.0)
    rig.go(100.0)
    line = next(x for x in reversed(rig.lines) if isinstance(x, LinkLine))
    assert line.sigma_fr is not None
    # [D] 0.05 % of 24 fps for 40 s, beside the scatter of two ramps of 0.1 s (1.2 frames each).
    assert line.sigma_fr == pytest.approx(math.hypot(0.0005 * 24 * 40, 1.2 * math.sqrt(2)), rel=0.05)


def test_what_two_supplies_have_been_apart_neither_grows_while_both_stand_nor_is_forgotten_when_they_go_on() -> (
    None
):
    show = make_show(2, counters=False, minutes=30.0)
    houses = (show.houses[0], msgspec.structs.replace(show.houses[1], motor="crystal", supply="own"))
    rig = Rig(msgspec.structs.replace(show, houses=houses))
    rig.start(60.0)
    for truth in rig.truth:
        truth.spans = [(60.0, 360.0), (1200.0, 1e9)]
    sigmas = {}
    for t in (358.0, 370.0, 1190.0, 1210.0):
        rig.go(t)
        sigmas[t] = next(x for x in reversed(rig.lines) if isinstance(x, LinkLine)).sigma_fr or 0.0
        if t == 370.0:
            rig.do("stop-all")
        if t == 1190.0:
            rig.do("restart")
    # [D] 0.05 % of 24 fps for 300 s, beside ramps and coasts of some frames.
    assert sigmas[358.0] == pytest.approx(0.0005 * 24 * 300, rel=0.2)
    assert sigmas[370.0] == pytest.approx(sigmas[1190.0])
    assert sigmas[1190.0] <= sigmas[1210.0] < 1.2 * sigmas[1190.0]


def test_dates_that_settle_after_an_adapter_has_come_back_are_no_speed() -> None:
    """Its first lines tell late by how long they are on their way: some milliseconds, less with every line."""
    rig = Rig(make_show(4, minutes=30.0))
    rig.start(60.0, light=False)
    for h in rig.show.houses:
        rig.do("dark", house=h.id)
    rig.silent = [("a2", 120.0, 121.5)]
    rig.go(121.4)
    rig.restart(1)
    real = rig.truth[1].pulse_s
    rig.truth[1].pulse_s = lambda n, before: (  # type: ignore[method-assign]
        real(n, before) + 0.02 * math.exp(121.5 - before)
    )
    rig.go(180.0)
    assert [x for x in rig.alarms() if x[0] in ("speed-off", "slack-forecast")] == []
