"""Every fault of a contact, a counter or an adapter does what it says, and passes when it should."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from sim_heard import between, contact, frames, run
from sim_specs import FPS, booth_with, happened

from interlock.signals import Counts, Presence


def test_a_dead_counter_stands_while_the_machine_runs_and_goes_on_from_there() -> None:
    _, said = run(30, {"kind": "dead-counter", "house": "2", "at": "10 s", "for": "5 s"})
    assert frames(said, "2", 14.9) == frames(said, "2", 10.1) == int(FPS * 9.4 + 1e-6)
    assert frames(said, "2") == pytest.approx(frames(said, "1") - FPS * 5, abs=1)


def test_a_stuck_contact_no_longer_moves() -> None:
    _, said = run(
        30, {"kind": "stuck-contact", "signal": "1.run", "at": "-5 s", "for": "15 s"},
        {"kind": "stuck-contact", "signal": "2.lamp", "value": True, "at": "5 s"},
    )  # fmt: skip
    assert contact(said, "1.run")[1:] == [(pytest.approx(10, abs=0.002), True)]
    assert contact(said, "2.lamp")[1:] == [(pytest.approx(5, abs=0.002), True)]


def test_a_chattering_contact_is_right_again_afterwards() -> None:
    _, said = run(30, {"kind": "chatter", "signal": "1.run", "at": "10 s", "for": "5 s", "every": "100 ms"})
    moves = [c for c in contact(said, "1.run") if 9.9 < c[0] < 15.1]
    assert len(moves) > 15
    assert contact(said, "1.run")[-1][1] is True


def test_silence_is_silence_and_the_counts_go_on() -> None:
    _, said = run(30, {"kind": "silence", "adapter": "a1", "at": "10 s", "for": "4 s"})
    assert not between(said, "a1", 10.1, 14.0)
    assert between(said, "a2", 10.1, 14.0)
    back = between(said, "a1", 14.0, 14.1)
    assert isinstance(back[0], Presence)
    assert back[0].state == "up"
    assert frames(said, "1", 14.03) == pytest.approx(FPS * (14 - 0.6), abs=1)


def test_a_pulled_plug_is_told_at_once() -> None:
    _, said = run(30, {"kind": "unplug", "adapter": "a1", "at": "10 s", "for": "4 s"})
    gone = [r for r in said if isinstance(r, Presence) and r.state == "gone"]
    assert [r.adapter for r in gone] == ["a1"]
    assert gone[0].at_s - 1000 == pytest.approx(10, abs=0.06)
    assert not between(said, "a1", 10.1, 14.0)


@pytest.mark.parametrize(
    "fault",
    [{"kind": "restart", "adapter": "a1", "at": "10 s"}, {"kind": "restart-on-strike", "adapter": "a1"}],
)
def test_after_a_restart_the_counts_begin_at_nought(fault: dict[str, Any]) -> None:
    booth, said = run(30, fault)
    told = [r for r in said if isinstance(r, Presence) and r.state == "restarted"]
    assert [r.adapter for r in told] == ["a1"]
    born_s = told[0].at_s - 1000
    struck_s = happened(booth.room, "lamp-lit")[0][0] - 0.2
    assert born_s == pytest.approx((10 if "at" in fault else struck_s) + 0.4, abs=0.06)
    assert frames(said, "1") == pytest.approx(FPS * (30 - born_s), abs=2)
    first = next(r for r in said if isinstance(r, Counts) and r.adapter == "a1" and r.at_s > told[0].at_s)
    assert first.values[0] == ("1.frames", 0.0, None)


@pytest.mark.parametrize("kind", ["damaged", "dropped"])
def test_lost_lines_are_counted(kind: str) -> None:
    plain, said = (
        run(60)[1],
        run(60, {"kind": kind, "adapter": "a1", "share": "20 %", "at": "0 s", "for": "50 s"})[1],
    )
    told = [r for r in said if isinstance(r, Presence) and r.adapter == "a1"][-1]
    missing = len(between(plain, "a1", 0, 60)) - len(
        [r for r in between(said, "a1", 0, 60) if not isinstance(r, Presence)]
    )
    assert told.lost_lines == pytest.approx(missing, abs=8)
    assert 0.15 < told.lost_lines / len(between(plain, "a1", 0, 50)) < 0.25
    assert told.bad_lines == (told.lost_lines if kind == "damaged" else 0)


def test_doubled_lines_say_the_same_fact_twice() -> None:
    _, said = run(30, {"kind": "doubled", "adapter": "a1", "share": "30 %"})
    facts = [(type(r), r.fact_s) for r in said if r.adapter == "a1" and not isinstance(r, Presence)]
    assert 0.2 < 1 - len(set(facts)) / len(facts) < 0.3


def test_delayed_lines_come_out_of_their_order() -> None:
    _, said = run(30, {"kind": "delayed", "adapter": "a1", "share": "10 %", "by": "2 s"})
    facts = [r.fact_s for r in said if isinstance(r, Counts) and r.adapter == "a1"]
    assert sum(b < a for a, b in pairwise(facts)) > 10
    assert max(r.at_s - r.fact_s for r in said) == pytest.approx(2, abs=0.3)


def test_jitter_makes_lines_late_in_their_order() -> None:
    _, said = run(30, {"kind": "jitter", "adapter": "a1", "by": "300 ms"})
    facts = [r.fact_s for r in said if isinstance(r, Counts) and r.adapter == "a1"]
    assert facts == sorted(facts)
    assert 0.15 < max(r.at_s - r.fact_s for r in said if r.adapter == "a1") < 0.4


def test_a_clock_step_is_data_for_whoever_owns_the_clock() -> None:
    booth = booth_with({"kind": "clock-step", "by": "-2 s", "at": "20 s"})
    assert booth.room.scenario.clock_steps == ((20.0, -2.0),)
