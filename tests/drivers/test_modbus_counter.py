"""Modbus without a line: counters that are only polled, and whose turn it is."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.modbus_counter import PolledCounter
from drivers.modbus_poll import Polled, Turns
from drivers.modbus_reads import Module, Read


def fed(modulus: int, *raws: tuple[float, int]) -> tuple[PolledCounter, list[int]]:
    counter, restarts = PolledCounter(modulus), []
    for at_s, raw in raws:
        if counter.restarts(raw, at_s):
            restarts.append(raw)
            counter.begin_anew()
        counter.take(raw, at_s)
    return counter, restarts


def test_a_wrap_goes_on_counting() -> None:
    for modulus in (1 << 16, 1 << 32, 10_000):
        counter, restarts = fed(modulus, (0.0, modulus - 3), (0.1, modulus - 1), (0.2, 1))
        assert (counter.total, restarts) == (modulus + 1, [])


def test_a_fall_that_is_no_wrap_is_a_restart_and_counts_begin_anew() -> None:
    counter, restarts = fed(1 << 16, (0.0, 5000), (0.1, 5002), (0.2, 0), (0.3, 2))
    assert (counter.total, restarts) == (2, [0])


def test_a_rise_that_no_machine_makes_is_a_restart() -> None:
    assert fed(1 << 32, (0.0, 10), (0.05, 50_000))[1] == [50_000]
    assert fed(1 << 32, (0.0, 10), (60.0, 50_000))[1] == [], "in a minute of silence it may be"


def test_a_module_that_brings_its_register_up_to_date_once_a_second_does_not_restart() -> None:
    steps = [(k * 0.05, 96 * (k // 20)) for k in range(100)]
    assert fed(1 << 16, *steps)[1] == []


def test_a_16_bit_counter_after_a_long_silence_goes_the_short_way_round() -> None:
    assert fed(1 << 16, (0.0, 60_000), (1000.0, 4000))[0].total == 65_536 + 4000
    assert fed(1 << 16, (0.0, 30_000), (1000.0, 100))[1] == [100]


@given(
    phase=st.floats(0.0, 1.0),
    rate=st.floats(1.0, 96.0),
    poll_s=st.floats(0.02, 0.2),
)
def test_pulses_are_dated_within_the_gap_in_which_they_came_and_never_go_back(
    phase: float, rate: float, poll_s: float
) -> None:
    counter = PolledCounter(1 << 16)
    last_s: float | None = None
    for k in range(60):
        at_s = k * poll_s
        pulses = int(at_s * rate + phase)
        counter.take(pulses, at_s)
        if counter.pulse_s is not None:
            true_s = (pulses - phase) / rate
            assert abs(counter.pulse_s - true_s) <= poll_s / 2 + 1e-9
            assert last_s is None or counter.pulse_s >= last_s
            last_s = counter.pulse_s


# Turns. ───────────────────────────────────────────────────────────────────────


def module(unit: int) -> Module:
    return Module(unit, f"unit {unit}", (Read("discrete", 0, 1),), (), (), ())


def simulate(
    dead: set[int], units: int, seconds: float, answer_s: float, timeout_s: float
) -> dict[int, list[float]]:
    """When each unit's requests ended, on a line with so many modules."""
    now_s = 0.0
    polled = [Polled(module(u), now_s) for u in range(units)]
    turns = Turns(polled)
    ended: dict[int, list[float]] = {u: [] for u in range(units)}
    while now_s < seconds:
        p = turns.next()
        now_s = max(now_s, p.due_s)
        if p.module.unit in dead:
            now_s += timeout_s
            p.failed(now_s, 0.05, "is dead")
        else:
            now_s += answer_s
            p.answered(now_s, 0.05)
        ended[p.module.unit].append(now_s)
    return ended


@pytest.mark.parametrize("dead", [set(), {1}, {0, 1, 2}, {0, 1, 2, 3, 4, 5, 6}])
def test_a_dead_module_never_silences_its_line_however_many_there_are(dead: set[int]) -> None:
    ended = simulate(dead, units=8, seconds=60.0, answer_s=0.008, timeout_s=0.15)
    for unit in set(range(8)) - dead:
        times = [t for t in ended[unit] if t > 3.0]  # the first two attempts at each are made at once
        assert max(b - a for a, b in pairwise(times)) <= 0.25
    for unit in dead:
        assert 10 <= len(ended[unit]) <= 25, "asked again with pauses that grow to 5 s"


def test_a_slow_line_on_which_everybody_is_always_due_still_asks_the_dead_one_again() -> None:
    ended = simulate({3}, units=8, seconds=60.0, answer_s=0.03, timeout_s=0.15)
    assert len(ended[3]) >= 8


def test_one_answer_that_is_missing_changes_nothing() -> None:
    p = Polled(module(1), 0.0)
    p.answered(0.0, 0.05)
    assert not p.failed(0.2, 0.05, "is dead")
    assert not p.put_off
    assert p.complaint() == ""
    assert not p.answered(0.3, 0.05), "it was never missing"
