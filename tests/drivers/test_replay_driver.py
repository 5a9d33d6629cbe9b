"""A record's readings in an adapter's place."""

from __future__ import annotations

import asyncio

import pytest

from drivers.driver import find
from drivers.replay import ReplayDriver
from interlock.clock import VirtualClock
from interlock.errors import OptionError
from interlock.signals import AdapterSpec, Contacts, Counts, Positions, Presence, Reading

READINGS: list[Reading] = [
    Presence(100.0, 100.0, "north", "up"),
    Contacts(100.0, 99.998, "south", (("1.run", False),)),
    Contacts(100.5, 100.49, "north", (("4.run", True),)),
    Counts(101.0, 100.99, "north", (("4.frames", 12.0, 100.97), ("3.frames", 0.0, None))),
    Positions(101.25, 101.25, "north", (("4>3.arm", 0.5),)),
]


def spec(**options: object) -> AdapterSpec:
    return AdapterSpec("north", "replay", {"record": "last-year.record", **options})


async def heard(driver: ReplayDriver, clock: VirtualClock, until_s: float) -> list[Reading]:
    got: list[Reading] = []
    task = asyncio.create_task(driver.run(got.append))
    await asyncio.sleep(0)
    await clock.advance_to(until_s)
    for _ in range(5):
        await asyncio.sleep(0)
    assert not task.done()
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    return got


async def test_readings_of_its_adapter_come_at_their_own_pace_moved_as_one() -> None:
    clock = VirtualClock(7.0)
    driver = ReplayDriver(spec(), clock)
    driver.load(READINGS)
    assert await heard(driver, clock, 8.1) == [
        Presence(7.0, 7.0, "north", "up"),
        Contacts(7.5, pytest.approx(7.49), "north", (("4.run", True),)),
        Counts(
            8.0,
            pytest.approx(7.99),
            "north",
            (("4.frames", 12.0, pytest.approx(7.97)), ("3.frames", 0.0, None)),
        ),
    ]


async def test_at_its_end_it_says_that_the_device_is_gone_and_goes_on_serving() -> None:
    clock = VirtualClock(0.0)
    driver = ReplayDriver(spec(adapter="south"), clock)
    driver.load(READINGS)
    got = await heard(driver, clock, 10.0)
    assert isinstance(got[0], Contacts)
    assert got[0].adapter == "north"
    assert isinstance(got[-1], Presence)
    assert (got[-1].state, got[-1].text) == ("gone", "the record ends here")


async def test_two_adapters_of_one_record_keep_step() -> None:
    clock = VirtualClock(50.0)
    north, south = (
        ReplayDriver(spec(), clock),
        ReplayDriver(AdapterSpec("south", "replay", {"record": "x"}), clock),
    )
    got: list[Reading] = []
    for driver in (north, south):
        driver.load(READINGS, begin_s=99.0)
    tasks = [asyncio.create_task(d.run(got.append)) for d in (north, south)]
    await asyncio.sleep(0)
    await clock.advance_to(60.0)
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    said = [(x.adapter, x.at_s) for x in got if not (isinstance(x, Presence) and x.state == "gone")]
    assert said == [("north", 51.0), ("south", 51.0), ("north", 51.5), ("north", 52.0), ("north", 52.25)]


async def test_without_a_record_it_says_so() -> None:
    with pytest.raises(OptionError, match="nobody has loaded"):
        await ReplayDriver(spec(), VirtualClock()).run(lambda _: None)


def test_it_is_found_by_its_name_and_checks_its_options() -> None:
    assert find("replay") is ReplayDriver
    with pytest.raises(OptionError, match="record"):
        ReplayDriver(AdapterSpec("north", "replay", {}), VirtualClock())
    with pytest.raises(OptionError, match="port: is not known here"):
        ReplayDriver(spec(port="x"), VirtualClock())
