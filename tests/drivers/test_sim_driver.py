"""The simulator as a driver: at full speed, paced, and by hand."""

from __future__ import annotations

import asyncio
import math
from typing import Any

import pytest
from sim_specs import booth_spec, scenario

from drivers.driver import find
from drivers.simulator.driver import CHUNK_S, SimulatorDriver, check_options
from drivers.simulator.machines import SimSpec
from interlock.clock import PacedClock, VirtualClock
from interlock.errors import ActionError, OptionError
from interlock.signals import AdapterSpec, Counts, Reading

SHORT = booth_spec(3, minutes=0.5)


async def whole_show(
    spec: SimSpec = SHORT, *, at_s: float = 100.0, **keys: Any
) -> tuple[list[Reading], VirtualClock]:
    clock = VirtualClock(at_s)
    readings: list[Reading] = []
    await SimulatorDriver(spec, clock, **keys).run(readings.append)
    return readings, clock


async def test_at_full_speed_it_moves_the_clock_and_ends_when_the_show_is_over() -> None:
    readings, clock = await whole_show(seed=4)
    assert readings[-1].at_s <= clock.now_s()
    counts = {v[0]: v[1] for r in readings if isinstance(r, Counts) for v in r.values}
    clear_fr = {"1.frames": 240 + SHORT.length_fr, "3.frames": 240 + 960 + SHORT.length_fr}
    for signal, frames in clear_fr.items():
        assert frames < counts[signal] < frames + 24 * 7, "clear, and a few seconds more"
    at = [r.at_s for r in readings]
    assert at == sorted(at)
    assert clock.now_s() - 100 - 45 == pytest.approx(0.6 + (240 + 960 + SHORT.length_fr) / 24 + 14, abs=3)


async def test_a_reading_is_sent_before_the_clock_has_passed_it_and_at_most_a_chunk_ahead() -> None:
    clock = VirtualClock(50.0)
    lead: list[float] = []
    driver = SimulatorDriver(SHORT, clock)
    await driver.run(lambda r: lead.append(r.at_s - clock.now_s()))
    assert min(lead) >= 0
    assert max(lead) <= CHUNK_S + 1e-9


async def test_sleepers_on_its_clock_wake_at_their_own_times_after_the_readings_before_them() -> None:
    clock = VirtualClock(0.0)
    heard: list[float] = []
    woken: list[tuple[float, float]] = []

    async def sleeper() -> None:
        for k in range(1, 40):
            await clock.sleep_until(k * 0.3)
            woken.append((clock.now_s(), max(heard)))

    task = asyncio.create_task(sleeper())
    await asyncio.sleep(0)
    await SimulatorDriver(SHORT, clock).run(lambda r: heard.append(r.at_s))
    await task
    assert [w[0] for w in woken] == pytest.approx([k * 0.3 for k in range(1, 40)])
    for now_s, newest_s in woken:
        assert newest_s >= max(at for at in heard if at <= now_s), (
            "nothing that was received by then is still to come"
        )


async def test_the_pace_changes_nothing_of_what_is_said() -> None:
    fast, _ = await whole_show(seed=9, at_s=0.0)
    base = VirtualClock(0.0)
    clock = PacedClock(base, 8.0, 0.0)
    paced: list[Reading] = []
    task = asyncio.create_task(SimulatorDriver(SHORT, clock, seed=9).run(paced.append))
    await asyncio.sleep(0)  # both begin at 0
    while not task.done():
        await base.advance_to(base.now_s() + 0.013)
        await asyncio.sleep(0)
    await task
    n = min(len(fast), len(paced))
    assert n > 0.99 * max(len(fast), len(paced)), "they end within a chunk of each other"
    assert paced[:n] == fast[:n]


class Sluggish(VirtualClock):
    """A computer that wakes nobody but every 5 ms."""

    async def sleep_until(self, at_s: float) -> None:
        await super().sleep_until(math.ceil(at_s / 0.005) * 0.005)


async def test_a_computer_that_cannot_keep_up_makes_a_rehearsal_slower_and_no_adapter_silent() -> None:
    """wire.md: an adapter speaks at least every 250 ms, and is stale after 750 ms without a line."""
    base = Sluggish(0.0)
    clock = PacedClock(base, 1000.0, 0.0)
    heard = [0.0]
    driver = SimulatorDriver(SHORT, clock, seed=9)
    await base.advance_to(0.02)
    assert clock.now_s() == 0.0, "nothing is said before it runs: no time passes"
    silences: list[float] = []
    task = asyncio.create_task(driver.run(lambda r: heard.append(r.at_s)))
    while clock.now_s() < 60.0:
        await base.advance_to(base.now_s() + 0.001)  # 1 s of the show, as asked for
        await asyncio.sleep(0)
        silences.append(clock.now_s() - max(heard))
    assert 0.25 < max(silences) < 0.75
    assert 0.06 * 2 < base.now_s() < 0.06 * 20, "slower than was asked for, and it goes on"
    task.cancel()


async def test_a_show_that_stands_in_the_middle_is_given_up_at_full_speed() -> None:
    faults = scenario({"kind": "trip", "house": "2", "at": "20 s"}, crew_stops_after_s=1.0)
    readings, clock = await whole_show(scenario=faults)
    assert 100 + 45 + 320 < clock.now_s() < 100 + 45 + 335
    assert readings


async def test_faults_by_hand_are_checked_at_the_door() -> None:
    clock = VirtualClock(0.0, 5000.0)
    driver = SimulatorDriver(SHORT, clock)
    for wrong in (
        {"kind": "zap"},
        {"kind": "trip", "house": "9"},
        {"kind": "trip", "house": "1", "x": 1},
        {},
    ):
        with pytest.raises(ActionError):
            driver.fault(wrong)
    driver.fault({"kind": "no-start", "house": "3"})
    driver.fault({"kind": "clock-step", "by": "+2 s"})
    assert clock.wall_s() == 5002.0
    await driver.run(lambda r: None)
    assert not driver.booth.room.machines[2].switched


async def test_the_wall_clock_steps_when_the_scenario_says_so() -> None:
    clock = VirtualClock(0.0, 5000.0)
    await SimulatorDriver(
        SHORT, clock, scenario=scenario({"kind": "clock-step", "by": "-3 s", "at": "10 s"})
    ).run(lambda r: None)
    assert clock.wall_s() - clock.now_s() == pytest.approx(4997.0)


def test_the_show_files_word_for_it_finds_it_and_it_knows_no_options() -> None:
    assert find("simulator") is SimulatorDriver  # type: ignore[comparison-overlap]
    with pytest.raises(OptionError, match="north"):
        check_options(AdapterSpec("north", "simulator", {"port": "x"}))
    check_options(AdapterSpec("north", "serial", {"port": "x"}))
