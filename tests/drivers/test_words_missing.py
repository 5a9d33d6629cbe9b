"""Contacts told after words that are missing say so, on every way on which words can be lost."""

from __future__ import annotations

import pytest
from serial_bench import Bench

from drivers.mqtt_order import Order
from drivers.mqtt_words import moved
from drivers.replay import _moved
from interlock.signals import Contacts, Counts


def _flags(bench: Bench, since: int) -> list[bool]:
    return [c.missing for c in bench.of(Contacts, since)]


@pytest.mark.parametrize("kind", [b"LV", b"CT", b"AN"])
def test_contacts_after_a_lost_line_say_once_that_something_is_missing(kind: bytes) -> None:
    bench = Bench()
    bench.run(2.0)
    assert not any(_flags(bench, 0)), "nothing was lost so far"
    said = len(bench.said)
    lost: list[bytes] = []

    def lose_one(data: bytes) -> bytes:
        if not lost and data.startswith(kind):
            lost.append(data)
            return b""
        return data

    bench.damage = lose_one
    bench.run(1.0)
    assert lost
    flags = _flags(bench, said)
    # What was under way already may come before the loss is known.
    assert flags.count(True) == 1
    assert True in flags[:2]


def test_contacts_after_a_restart_say_that_something_is_missing() -> None:
    bench = Bench()
    bench.run(2.0)
    said = len(bench.said)
    bench.adapter.power_up(tick=0)
    bench.adapter.hi()
    bench.run(1.0)
    flags = _flags(bench, said)
    assert flags[0] is True
    assert not any(flags[1:])


def test_a_gap_in_a_stations_numbers_marks_the_next_contacts_and_no_others() -> None:
    order = Order(1)
    first = Contacts(0.0, 0.0, "north", (("4.run", False),))
    count = Counts(0.3, 0.3, "north", (("4.frames", 1.0, 0.2),))
    then = Contacts(0.4, 0.4, "north", (("4.run", True),))
    again = Contacts(0.5, 0.5, "north", (("4.run", True),))
    assert order.put(1, first, 0.0) == (False, [first])
    assert order.put(3, count, 0.3) == (False, [])
    assert order.put(4, then, 0.4) == (False, [])
    told = order.due(1.0)
    assert told == [count, Contacts(0.4, 0.4, "north", (("4.run", True),), missing=True)]
    assert order.put(5, again, 1.1) == (False, [again])


def test_a_gap_that_is_too_long_to_wait_for_marks_them_too() -> None:
    order = Order(1)
    now = Contacts(0.4, 0.4, "north", (("4.run", True),))
    assert order.put(5000, now, 0.4) == (
        False,
        [Contacts(0.4, 0.4, "north", (("4.run", True),), missing=True)],
    )


def test_what_is_missing_is_still_missing_when_told_on_or_replayed() -> None:
    told = Contacts(1.0, 0.9, "north", (("4.run", True),), missing=True)
    assert moved(told, "south", 2.0, lambda s: s + 1.0) == Contacts(
        2.0, 1.9, "south", told.values, missing=True
    )
    assert _moved(told, 1.0, "south") == Contacts(2.0, 1.9, "south", told.values, missing=True)
