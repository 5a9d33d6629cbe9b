"""The GPIO driver keeps the contract of all drivers, and what is its own: kernel stamps, numbered edges, settings.

There are no GPIO lines on most computers, so the fd is a pipe's; the event objects are gpiod's own.
"""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest
from contract import WIRING, DriverContract, Rig
from gpio_double import Pins

from drivers.driver import Driver, find
from drivers.gpio import GpioDriver
from interlock.clock import VirtualClock
from interlock.errors import OptionError
from interlock.signals import AdapterSpec, AnalogWire, Contacts, Counts, Presence, Reading, Wiring

LINES = {"level_lines": {"0": 17, "1": 27, "2": 22}, "counter_lines": {"0": 5}}
OUR_WIRING = Wiring(levels=WIRING.levels, counters=WIRING.counters)
KERNEL_OFFSET_S = 4321.0
"""Desk seconds less the kernel's monotonic ones."""


class GpioRig(Rig):
    """A chip on a pipe, on a virtual clock."""

    can = frozenset({"contact", "count", "unplug"})
    bad_options = (
        {"no_such_key": 1},
        {"level_lines": {"0": 17}},
        {"counter_lines": {}},
        {"counter_lines": {"0": 17}},
        {"pull": "sideways"},
        {"debounce_us": "5 ms"},
        {"level_lines": {"zero": 17}},
        {"chip": ""},
    )

    def __init__(self) -> None:
        self.clock = VirtualClock(5000.0)
        self.kernel = VirtualClock(5000.0 - KERNEL_OFFSET_S)
        self.pins = Pins(lambda: self.clock.now_s() - KERNEL_OFFSET_S)

    @property
    def driver(self) -> type[Driver]:
        rig = self

        class Kernel(VirtualClock):
            def now_s(self) -> float:
                return rig.clock.now_s() - KERNEL_OFFSET_S

        return type("OnAPipe", (GpioDriver,), {"request": staticmethod(self.pins.open), "kernel": Kernel()})

    def spec(self, **options: Any) -> AdapterSpec:
        return AdapterSpec("north", "gpio", LINES | options, OUR_WIRING)

    async def start(self) -> None: ...

    async def stop(self) -> None: ...

    async def pass_s(self, seconds: float) -> None:
        end_s = self.clock.now_s() + seconds
        while self.clock.now_s() < end_s:
            await asyncio.sleep(0)
            await self.clock.advance_to(min(end_s, self.clock.now_s() + 0.01))
            await asyncio.sleep(0)

    def held(self) -> bool:
        return self.pins.request is not None

    def contact(self, level: int, closed: bool) -> None:
        self.pins.set((17, 27, 22)[level], closed)

    def pulses(self, counter: int, n: int) -> None:
        for _ in range(n):
            self.pins.pulse(5)

    def unplug(self) -> None:
        self.pins.unplug()

    def plug(self) -> None:
        self.pins.plugged = True


class TestGpioContract(DriverContract):
    def make_rig(self, tmp_path: Path) -> Rig:
        return GpioRig()


def test_the_show_files_word_for_it_finds_it() -> None:
    assert find("gpio") is GpioDriver


@pytest.fixture
async def rig() -> GpioRig:
    return GpioRig()


@pytest.fixture
async def said(rig: GpioRig) -> Any:
    said: list[Reading] = []
    task = asyncio.ensure_future(rig.driver(rig.spec(), rig.clock).run(said.append))
    await rig.pass_s(0.05)
    yield said
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    assert rig.pins.request is None


def frames(said: list[Reading]) -> list[tuple[float, float | None]]:
    return [(v[1], v[2]) for r in said if isinstance(r, Counts) for v in r.values]


async def test_an_edge_is_dated_by_the_kernel_however_late_it_is_read(
    rig: GpioRig, said: list[Reading]
) -> None:
    edge_s = rig.clock.now_s()
    rig.pins.set(17, True)
    rig.clock._now_s += 0.08  # the program was held up; nobody read
    await rig.pass_s(0.02)
    edge = next(r for r in said if isinstance(r, Contacts) and r.values == (("4.run", True),))
    assert edge.fact_s == pytest.approx(edge_s, abs=1e-6)
    assert edge.at_s >= edge_s + 0.08


async def test_two_edges_between_two_looks_are_both_told_in_order(rig: GpioRig, said: list[Reading]) -> None:
    rig.pins.set(17, True)
    rig.clock._now_s += 0.01
    rig.pins.set(17, False)
    await rig.pass_s(0.02)
    values = [r.values[0][1] for r in said if isinstance(r, Contacts) and len(r.values) == 1]
    assert values == [True, False]


async def test_pulses_bear_the_kernels_time_of_the_latest(rig: GpioRig, said: list[Reading]) -> None:
    for _ in range(24):
        await rig.pass_s(0.04)
        rig.pins.pulse(5)
        pulse_s = rig.clock.now_s()
    await rig.pass_s(0.15)
    assert frames(said)[-1] == (12.0, pytest.approx(pulse_s, abs=1e-6)), "24 pulses of half a frame"


async def test_a_gap_in_the_numbers_is_counted_the_counter_is_given_its_pulses_and_contacts_are_read_anew(
    rig: GpioRig, said: list[Reading]
) -> None:
    rig.pins.pulse(5)
    await rig.pass_s(0.01)
    since = len(said)
    for _ in range(10):
        rig.pins.pulse(5, lose=True)
    rig.pins.set(27, True, lose=True)
    rig.pins.pulse(5)
    await rig.pass_s(0.01)
    news = [r for r in said[since:] if not isinstance(r, Counts)]
    assert [p.lost_lines for p in news if isinstance(p, Presence)] == [11]
    assert ("4.lamp", True) in [v for r in news if isinstance(r, Contacts) for v in r.values]
    await rig.pass_s(0.15)
    assert frames(said)[-1][0] == 6.0, "12 pulses of half a frame, 10 of which nobody saw"


async def test_an_edge_that_was_lost_and_leaves_no_gap_yet_is_seen_by_the_next_look(
    rig: GpioRig, said: list[Reading]
) -> None:
    rig.pins.set(22, True, lose=True)
    await rig.pass_s(0.25)
    last = [r for r in said if isinstance(r, Contacts)][-1]
    assert ("4.dowser", False) in last.values


async def test_a_chip_that_comes_back_goes_on_counting_from_where_it_stood(
    rig: GpioRig, said: list[Reading]
) -> None:
    rig.pulses(0, 4)
    await rig.pass_s(0.15)
    rig.unplug()
    await rig.pass_s(0.3)
    gone = [r for r in said if isinstance(r, Presence)][-1]
    assert (gone.state, "trying again" in gone.text) == ("gone", True)
    rig.plug()
    await rig.pass_s(1.5)
    rig.pulses(0, 2)
    await rig.pass_s(0.15)
    assert frames(said)[-1][0] == 3.0
    assert "restarted" not in [r.state for r in said if isinstance(r, Presence)]


def test_arms_are_refused_in_words() -> None:
    wiring = Wiring(levels={0: "4.run"}, analogs={0: AnalogWire("4>3.arm", 310, 3800)})
    with pytest.raises(OptionError, match=r"booth .*analogs"):
        GpioDriver(AdapterSpec("booth", "gpio", {"level_lines": {"0": 1}}, wiring), VirtualClock())


async def test_a_computer_without_the_chip_is_told_so_and_is_asked_again() -> None:
    said: list[Reading] = []
    clock = VirtualClock()
    spec = AdapterSpec("booth", "gpio", LINES | {"chip": "no-such-chip"}, OUR_WIRING)
    task = asyncio.ensure_future(GpioDriver(spec, clock).run(said.append))
    for _ in range(40):
        await asyncio.sleep(0)
        await clock.advance_to(clock.now_s() + 0.5)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    (gone,) = said
    assert isinstance(gone, Presence)
    assert gone.state == "gone"
    assert "no GPIO chip 'no-such-chip'" in gone.text
