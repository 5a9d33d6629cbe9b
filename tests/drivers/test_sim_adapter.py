"""What the adapters say: wire.md's rhythm, stamps that can be true, and the same whatever the steps."""

from __future__ import annotations

import itertools
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sim_specs import booth_spec, booth_with, scenario

from drivers.simulator.booth import Booth
from interlock.signals import Contacts, CounterWire, Counts, Positions, Presence, Reading

SPEC = booth_spec(4, motor="induction", speed_tolerance=0.003, start_scatter_s=0.2, ramp_scatter_s=0.1)
MESS: list[dict[str, Any]] = [
    {"kind": "damaged", "adapter": "a1", "share": "5 %"},
    {"kind": "delayed", "adapter": "a2", "share": "5 %", "at": "3 s"},
    {"kind": "doubled", "adapter": "a2", "share": "5 %"},
    {"kind": "jitter", "adapter": "a1", "by": "30 ms"},
    {"kind": "restart", "adapter": "a2", "at": "6 s"},
    {"kind": "chatter", "signal": "1.lamp", "at": "4 s"},
    {"kind": "silence", "adapter": "a1", "at": "12 s", "for": "2 s"},
    {"kind": "trip", "house": "2", "at": "15 s"},
]


def said(seed: int, steps: list[float], end_s: float = 25.0) -> list[Reading]:
    booth = Booth(SPEC, seed, scenario(*MESS), base_s=500.0, begin_s=-10.0)
    readings: list[Reading] = []
    t_s = -10.0
    while t_s < end_s:
        for step in steps:
            t_s = min(t_s + step, end_s)
            readings += booth.advance(t_s)
    return readings


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**9), st.lists(st.floats(0.003, 9.0), min_size=1, max_size=6))
def test_the_same_seed_says_the_same_to_the_last_digit_in_whatever_steps(
    seed: int, steps: list[float]
) -> None:
    assert said(seed, steps) == said(seed, [0.25])


def test_another_seed_says_something_else() -> None:
    assert said(1, [1.0]) != said(2, [1.0])


def test_facts_are_never_later_than_their_receipt_and_receipts_are_in_order() -> None:
    last_s = float("-inf")
    for r in said(3, [0.7]):
        assert r.fact_s <= r.at_s
        assert r.at_s >= last_s
        last_s = r.at_s
        if isinstance(r, Counts):
            assert all(p is None or p <= r.at_s for _, _, p in r.values)


def test_counts_never_fall_within_a_life_and_pulses_keep_their_order() -> None:
    readings = [r for r in said(4, [0.5]) if r.adapter == "a1"]
    for house in ("1.frames", "2.frames"):
        values = [v for r in readings if isinstance(r, Counts) for v in r.values if v[0] == house]
        assert [v[1] for v in values] == sorted(v[1] for v in values)
        pulses = [v[2] for v in values if v[2] is not None]
        assert pulses == sorted(pulses)


def test_lines_come_by_the_rhythm_of_the_page() -> None:
    """wire.md: CT and AN every 100 ms, LV at least every 250 ms."""
    readings = booth_with(spec=booth_spec(2)).advance(30.0)
    for kind, every_s in ((Counts, 0.1), (Positions, 0.1), (Contacts, 0.25)):
        facts = [r.fact_s for r in readings if isinstance(r, kind)]
        gaps = [b - a for a, b in itertools.pairwise(facts)]
        assert max(gaps) <= every_s + 0.012
        late = sorted(r.at_s - r.fact_s for r in readings if isinstance(r, kind))
        assert late[len(late) // 2] < 0.006
        assert 0.02 < late[-1] < 0.06, "now and then the computer is slow"
    assert isinstance(readings[0], Presence)


def test_an_edge_is_dated_by_the_true_moment_and_told_once_it_is_believed() -> None:
    booth = booth_with(spec=booth_spec(2), seed=5)
    readings = booth.advance(100.0)
    truth = {
        (e.subject, e.what): e.at_s for e in booth.room.log if e.what in ("start", "lamp-lit", "dowser-open")
    }
    names = {"start": "run", "lamp-lit": "lamp", "dowser-open": "dowser"}
    assert len(truth) == 6
    for (house, what), at_s in truth.items():
        signal = f"{house}.{names[what]}"
        first = next(r for r in readings if isinstance(r, Contacts) and dict(r.values).get(signal))
        assert -0.0011 <= first.fact_s - 1000 - at_s <= 0
        assert 0.005 <= first.at_s - 1000 - at_s <= 0.06


def test_facts_of_one_adapters_contacts_are_in_order_so_that_no_edge_is_denied_by_an_older_line() -> None:
    for seed in range(5):
        booth = booth_with(
            {"kind": "chatter", "signal": "1.film", "at": "2 s", "for": "60 s", "every": "40 ms"}, seed=seed
        )
        facts: dict[str, float] = {}
        for r in booth.advance(70.0):
            if isinstance(r, Contacts):
                assert r.fact_s >= facts.get(r.adapter, 0)
                facts[r.adapter] = r.fact_s


@pytest.mark.parametrize("per_pulse", [0.5, 1.0, 4.0])
def test_a_pulse_is_dated_when_the_machine_had_run_that_far(per_pulse: float) -> None:
    spec = booth_spec(1)
    wiring = msgspec.structs.replace(
        spec.adapters[0].wiring, counters={0: CounterWire("1.frames", per_pulse)}
    )
    spec = msgspec.structs.replace(spec, adapters=(msgspec.structs.replace(spec.adapters[0], wiring=wiring),))
    booth = booth_with({"kind": "creep", "house": "1", "by": "1 %", "at": "7 s"}, spec=spec)
    checked = 0
    for r in booth.advance(30.0):
        if isinstance(r, Counts) and r.values[0][2] is not None:
            _, frames, pulse_s = r.values[0]
            true_fr = booth.room.machines[0].motion.frames(pulse_s - 1000)
            assert -0.03 <= true_fr - frames <= 1e-6, "within the millisecond that a tick is"
            assert booth.room.machines[0].motion.frames(r.fact_s - 1000) - frames < per_pulse + 1e-6
            checked += 1
    assert checked > 250


def test_an_arm_follows_its_loop_from_limit_to_limit() -> None:
    booth = booth_with({"kind": "speed", "house": "2", "fps": "22 fps", "at": "10 s"}, spec=booth_spec(2))
    off = [
        r.values[0][1] - booth.room.loops[0].drift_fr(r.fact_s - 1000) / 48
        for r in booth.advance(30.0) if isinstance(r, Positions) and r.fact_s < 1030
    ]  # fmt: skip
    assert max(map(abs, off)) < 0.012
    assert sum(off) / len(off) == pytest.approx(0, abs=0.0005)


def test_no_edge_is_denied_by_a_line_that_was_said_before_it_was_believed() -> None:
    """An LV of now, said while an edge is still bouncing, would be newer than the edge and contradict it."""
    jogs = [
        {"kind": "jog", "house": h, "at": f"{at / 1000} s", "for": "713 ms"}
        for h in ("1", "2") for at in range(-58000, -3000, 1617)
    ]  # fmt: skip
    booth = booth_with(*jogs, spec=booth_spec(2))
    told: dict[str, list[float]] = {"1": [], "2": []}
    state = {"1": False, "2": False}
    newest_s = 0.0
    for r in booth.advance(-2.0):
        if isinstance(r, Contacts):
            assert r.fact_s >= newest_s
            newest_s = r.fact_s
            for house, before in list(state.items()):
                if (now := dict(r.values)[f"{house}.run"]) != before:
                    state[house] = now
                    told[house].append(r.fact_s - 1000)
    for house, edges in told.items():
        true = [e.at_s for e in booth.room.log if e.what in ("start", "stop") and e.subject == house]
        assert len(true) > 60
        assert edges == pytest.approx(true, abs=0.0011)
