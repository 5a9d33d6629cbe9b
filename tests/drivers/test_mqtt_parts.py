"""The talk's parts by themselves: which numbers have come, how far the other clock is, how long a gap is waited for."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.mqtt_clock import Relation
from drivers.mqtt_numbers import Numbers
from drivers.mqtt_order import Order
from interlock.signals import Counts


@given(st.lists(st.integers(1, 60), max_size=120), st.integers(1, 61))
def test_numbers_are_a_set_with_a_floor(arrivals: list[int], first: int) -> None:
    numbers, have = Numbers(0), set[int]()
    for n in arrivals:
        assert numbers.add(n) is (n not in have)
        have.add(n)
    missing = [n for n in range(1, 61) if n not in have]
    gap = numbers.gap(60)
    assert (gap is None) is (not missing)
    if gap is not None:
        assert gap[0] == missing[0] == numbers.floor + 1
        assert all(n in missing for n in range(gap[0], gap[1] + 1))
        assert gap[1] == 60 or gap[1] + 1 in have
    assert numbers.gone_below(first) == len([n for n in missing if n < first])
    assert all(not numbers.add(n) for n in have | set(range(1, first)))


@given(
    st.floats(-1e6, 1e6),
    st.lists(st.tuples(st.floats(0, 0.4), st.floats(0, 0.4), st.floats(0, 0.1)), min_size=1, max_size=60),
)
def test_the_other_clock_is_known_to_half_of_the_shortest_round_trip(
    ahead_s: float, trips: list[tuple[float, float, float]]
) -> None:
    relation, at_s = Relation(), 100.0
    for there_s, back_s, took_s in trips:
        t2 = at_s + there_s + ahead_s
        relation.exchange(at_s, t2, t2 + took_s, at_s + there_s + took_s + back_s)
        at_s += 1.0
    assert abs(relation.ahead_s - ahead_s) <= relation.bound_s + 1e-6
    assert relation.bound_s <= min(a + b for a, b, _ in trips) / 2 + 100e-6 * len(trips) + 1e-6
    assert relation.ours_s(200.0 + ahead_s) == pytest.approx(200.0, abs=relation.bound_s + 0.001)


def test_a_gap_is_waited_for_as_long_as_an_answer_takes() -> None:
    one, two = (Counts(1.0, 1.0, "n", (("4.frames", float(n), 1.0),)) for n in (1, 2))
    order = Order(1)
    assert order.put(2, two, 10.0) == (False, [])
    assert order.due(10.25, trip_s=0.4) == [], (
        "what is missing cannot be here before a question and its answer"
    )
    assert order.put(1, one, 10.5) == (False, [one, two])
    assert order.put(4, two, 20.0) == (False, [])
    assert order.due(20.25) == [two], "on a quick network it would have come"
