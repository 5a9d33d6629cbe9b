"""Several modules on one line, and what the operator sees when one of them, or the line, is not well. Real time."""

from __future__ import annotations

import asyncio
import random
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from itertools import pairwise
from pathlib import Path
from typing import Any

import msgspec
import pytest
from modbus_double import SerialModules, TcpModules, Unit
from pymodbus.constants import ExcCodes

from drivers.modbus import ModbusDriver
from interlock.clock import SystemClock
from interlock.showfile.load import load_show
from interlock.signals import AdapterSpec, Contacts, CounterWire, Counts, Presence, Reading, Wiring
from interlock.watch.desk import Desk
from interlock.watch.inputs import Anchor

pytestmark = [pytest.mark.realtime, pytest.mark.long]  # a line with dead modules on it takes its time
WIRING = Wiring(
    levels={0: "4.run", 8: "3.run"},
    counters={0: CounterWire("4.frames"), 1: CounterWire("3.frames")},
)
DEVICES: list[dict[str, Any]] = [
    {
        "unit": u,
        "name": f"the {where} box",
        "levels": [{"table": "discrete", "first": 8 * (u - 1)}],
        "counters": [{"number": u - 1, "table": "holding", "at": 0}],
    }
    for u, where in ((1, "north"), (2, "south"))
]


class Watched:
    def __init__(self) -> None:
        self.clock = SystemClock()
        self.said: list[Reading] = []

    async def until(self, what: Callable[[], bool], within_s: float = 3.0) -> None:
        end_s = self.clock.now_s() + within_s
        while not what():
            assert self.clock.now_s() < end_s, self.said[-6:]
            await self.clock.sleep_until(self.clock.now_s() + 0.01)

    def texts(self) -> list[tuple[str, str]]:
        return [(p.state, p.text) for p in self.said if isinstance(p, Presence)]

    def of(self, signal: str, since: int = 0) -> list[tuple[float, Any]]:
        return [
            (r.at_s, v[1])
            for r in self.said[since:]
            if isinstance(r, Contacts | Counts)
            for v in r.values
            if v[0] == signal
        ]


@asynccontextmanager
async def watched(where: dict[str, Any], devices: list[dict[str, Any]] = DEVICES) -> AsyncIterator[Watched]:
    w = Watched()
    spec = AdapterSpec(
        "south", "modbus", {"poll_ms": 20, "timeout_ms": 100, "devices": devices} | where, WIRING
    )
    task = asyncio.create_task(ModbusDriver(spec, w.clock).run(w.said.append))
    try:
        yield w
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


@asynccontextmanager
async def tcp(*units: Unit) -> AsyncIterator[dict[str, Any]]:
    line = TcpModules(*units)
    await line.plug()
    try:
        yield {"host": "127.0.0.1", "tcp_port": line.port}
    finally:
        await line.unplug()


async def test_a_dead_module_is_named_and_the_other_goes_on_and_it_is_taken_up_when_it_returns() -> None:
    one, two = Unit(1), Unit(2)
    async with tcp(one, two) as where, watched(where) as w:
        await w.until(lambda: bool(w.of("4.run") and w.of("3.frames")))
        two.dead = True
        await w.until(lambda: "gone" in [s for s, _ in w.texts()])
        gone = next(k for k, r in enumerate(w.said) if isinstance(r, Presence) and r.state == "gone")
        assert "the south box" in w.said[gone].text  # type: ignore[union-attr]
        assert "does not answer" in w.said[gone].text  # type: ignore[union-attr]
        await w.until(lambda: len(w.of("4.run", gone)) > 10)
        assert not w.of("3.run", gone), "nothing is said of what is not known"
        assert w.texts()[-1][0] == "up"
        assert "the south box" in w.texts()[-1][1], "while the adapter is up, what is wrong is said with it"
        gaps = [b - a for (a, _), (b, _) in pairwise(w.of("4.run"))]
        assert max(gaps) <= 0.25 + 0.15, "one timeout at most, and a busy computer"
        two.bits[2] = 1
        two.dead = False
        await w.until(lambda: bool(w.of("3.run", gone)))
        assert w.of("3.run", gone)[0][1] is True
        await w.until(lambda: w.texts()[-1] == ("up", ""))


async def test_an_address_that_the_module_has_not_is_named_and_the_rest_is_read() -> None:
    beyond = DEVICES[1] | {"counters": [{"number": 1, "at": 100}]}
    async with tcp(Unit(1), Unit(2)) as where, watched(where, [DEVICES[0], beyond]) as w:
        await w.until(lambda: len(w.of("3.run")) > 5 and len(w.of("4.run")) > 5)
        assert not w.of("3.frames")
        assert w.texts()[-1] == ("up", "the south box refuses input register 100 (illegal data address)")
        assert "gone" not in [s for s, _ in w.texts()]
        assert [p for p in w.said if isinstance(p, Presence)][-1].bad_lines == 1, (
            "and not asked at every turn"
        )


async def test_a_gateway_without_its_module_is_told_in_its_words() -> None:
    one, two = Unit(1), Unit(2)
    two.answers_with = ExcCodes.GATEWAY_NO_RESPONSE
    async with tcp(one, two) as where, watched(where) as w:
        await w.until(lambda: any("its gateway gets no answer from it" in t for _, t in w.texts()))
        assert w.of("4.run")
        assert not w.of("3.run")


async def test_a_module_that_begins_anew_is_told_before_its_new_counts() -> None:
    one, two = Unit(1), Unit(2)
    one.registers[3][0], two.registers[3][0] = 500, 700
    async with tcp(one, two) as where, watched(where) as w:
        await w.until(lambda: bool(w.of("4.frames") and w.of("3.frames")))
        two.registers[3][0] = 3
        await w.until(lambda: w.of("3.frames")[-1][1] == 3)
        states = [
            r.state if isinstance(r, Presence) else {v[0]: v[1] for v in r.values}.get("3.frames")
            for r in w.said
        ]
        assert states.index("restarted") < states.index(3)
        assert w.of("4.frames")[-1][1] == 500


async def test_with_the_wrong_baud_rate_the_operator_is_told_to_look_at_the_lines_settings(
    tmp_path: Path,
) -> None:
    line = SerialModules(tmp_path / "ttyS", Unit(1), Unit(2))
    await line.plug()
    line.pair.damage = lambda data: bytes(
        (b << 1 ^ 0x55) & 0xFF for b in data
    )  # bits fall between two stools
    try:
        async with watched({"port": str(line.pair.path), "baud": 9600}) as w:
            await w.until(lambda: "gone" in [s for s, _ in w.texts()])
            assert "are its unit number and the line's settings right?" in w.texts()[-1][1]
            assert not [r for r in w.said if not isinstance(r, Presence)], "garbage is no reading"
            line.pair.damage = lambda data: data
            await w.until(lambda: bool(w.of("4.run") and w.of("3.run")), 6.0)
    finally:
        await line.unplug()


async def test_a_damaged_frame_now_and_then_is_counted_and_nothing_else(tmp_path: Path) -> None:
    line = SerialModules(tmp_path / "ttyS", Unit(1), Unit(2))
    await line.plug()
    frames = 0

    def damage(data: bytes) -> bytes:
        nonlocal frames
        frames += 1
        return data[:-1] + bytes([data[-1] ^ 1]) if frames % 30 == 0 else data

    line.pair.damage = damage
    try:
        async with watched({"port": str(line.pair.path), "baud": 9600}) as w:
            await w.until(lambda: [p.lost_lines for p in w.said if isinstance(p, Presence)][-1:] >= [2], 6.0)
            assert {s for s, _ in w.texts()} == {"up"}
            assert {v for s in ("4.run", "3.run") for _, v in w.of(s)} == {False}
    finally:
        await line.unplug()


async def test_an_answer_that_comes_too_late_is_not_taken_for_the_next_ones(tmp_path: Path) -> None:
    unit = Unit(1)
    unit.registers[4][4], unit.registers[4][40] = 1000, 2000
    line = SerialModules(tmp_path / "ttyS", unit)
    await line.plug()
    answers, chance = 0, random.Random(3)

    def late_s(data: bytes) -> float:
        nonlocal answers
        answers += 1
        return chance.uniform(0.11, 0.17) if answers % 10 == 0 else 0.0  # the driver waits for 0.1 s

    line.pair.late_s = late_s
    device = {"unit": 1, "levels": [{"table": "input", "at": 20, "count": 9}]}  # three answers of one form
    counters = [{"number": 0, "at": 4}, {"number": 1, "at": 40}]
    try:
        async with watched(
            {"port": str(line.pair.path), "baud": 19200}, [device | {"counters": counters}]
        ) as w:
            await w.until(lambda: [p.lost_lines for p in w.said if isinstance(p, Presence)][-1:] >= [6], 8.0)
            assert {v for _, v in w.of("4.frames")} == {1000.0}
            assert {v for _, v in w.of("3.frames")} == {2000.0}
            assert {v for _, v in w.of("4.run")} == {False}
            assert {s for s, _ in w.texts()} == {"up"}
    finally:
        await line.unplug()


async def test_on_the_desk_a_dead_modules_house_is_unknown_and_its_neighbours_is_not() -> None:
    show = load_show(Path(__file__).parents[2] / "configs" / "two-house.toml")
    wiring = Wiring(levels={0: "1.run", 8: "2.run"})
    spec = AdapterSpec("booth", "modbus", {}, wiring)
    one, two = Unit(1), Unit(2)
    w = Watched()
    async with tcp(one, two) as where:
        options = {"poll_ms": 20, "timeout_ms": 100, "devices": DEVICES} | where
        task = asyncio.create_task(
            ModbusDriver(msgspec.structs.replace(spec, options=options), w.clock).run(w.said.append)
        )
        try:
            await w.until(lambda: bool(w.of("1.run") and w.of("2.run")))
            two.dead = True
            await w.until(lambda: w.texts()[-1][1] != "" and w.texts()[-1][0] == "up")
            at = len(w.said)
            await w.until(lambda: len(w.of("1.run", at)) > 3)
        finally:
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)
    show = msgspec.structs.replace(show, adapters=(spec,))
    desk = Desk(show, Anchor(w.said[0].at_s, show.motor_start_wall_s - 600.0))
    for reading in w.said:
        desk.step(reading)
    first, second = desk.state().houses
    assert (first.run, second.run) == (False, None)
