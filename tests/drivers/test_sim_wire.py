"""The simulated booth on the wire says the same as its readings, and the real serial driver understands it."""

from __future__ import annotations

import asyncio
from binascii import crc_hqx

import pytest
from sim_specs import booth_spec, booth_with, scenario

from drivers.driver import find
from drivers.simulator.booth import Booth
from drivers.simulator.wire_line import Ptys, WireBooth
from drivers.wire import Hello, Levels, Pulses, Raws
from drivers.wire_parser import Parser
from interlock.clock import SystemClock
from interlock.signals import AdapterSpec, Contacts, Counts, Presence, Reading

SPEC = booth_spec(2)


def wire_lines(booth: Booth, to_s: float, adapter: str = "a1") -> list[bytes]:
    return [s.data for s in booth.advance(to_s) if s.adapter == adapter]  # type: ignore[attr-defined]


def test_every_line_is_whole_numbered_and_dated() -> None:
    """CRC-16/IBM-3740: wire.md."""
    lines = wire_lines(WireBooth(SPEC, 1, begin_s=-2.0), 30.0)
    assert lines[0].startswith(b"HI 0 0 v1 a1 levels=12 counters=2 analogs=1*")
    for n, line in enumerate(lines):
        body, _, crc = line.removesuffix(b"\n").rpartition(b"*")
        assert crc == b"%04X" % crc_hqx(body, 0xFFFF)
        assert int(body.split(b" ")[1]) == n % 65536
    parser = Parser()
    kinds = {type(x) for line in lines for x in parser.feed(line)}
    assert kinds == {Hello, Levels, Pulses, Raws}
    assert parser.tally.bad == 0


def test_it_counts_and_closes_what_the_readings_say() -> None:
    said = booth_with(spec=SPEC, seed=3).advance(40.0)
    counts = [r for r in said if isinstance(r, Counts)][-1]
    contacts = [r for r in said if isinstance(r, Contacts)][-1]
    parser = Parser()
    lines = [x for line in wire_lines(WireBooth(SPEC, 3, base_s=1000.0), 40.0) for x in parser.feed(line)]
    pulses = [x for x in lines if isinstance(x, Pulses)][-1]
    levels = [x for x in lines if isinstance(x, Levels)][-1]
    assert [float(c) for c, _ in pulses.counters] == [v[1] for v in counts.values]
    for (_, tick), (_, _, pulse_s) in zip(pulses.counters, counts.values, strict=True):
        assert pulse_s is not None
        assert tick / 1000 - 60 == pytest.approx(pulse_s - 1000, abs=0.0011)
    assert SPEC.adapters[0].wiring.contacts(levels.mask) == contacts.values


def test_an_id_is_answered_by_a_hi_that_names_it_and_the_present_state() -> None:
    booth = WireBooth(SPEC, 1, begin_s=-2.0)
    wire_lines(booth, 5.0)
    booth.voices["a1"].asked(5.0, 4711)
    parser = Parser()
    answer = [x for line in wire_lines(booth, 5.2) for x in parser.feed(line)]
    k = next(n for n, x in enumerate(answer) if isinstance(x, Hello))
    hello = answer[k]
    assert isinstance(hello, Hello)
    assert hello.re == 4711
    assert [type(x) for x in answer[k + 1 : k + 4]] == [Levels, Pulses, Raws]


def test_damage_restart_and_a_wrapping_tick_are_seen_by_whoever_reads() -> None:
    faults = scenario(
        {"kind": "damaged", "adapter": "a1", "share": "10 %", "at": "5 s", "for": "20 s"},
        {"kind": "restart", "adapter": "a1", "at": "30 s"},
    )
    booth = WireBooth(SPEC, 1, faults, begin_s=-2.0, first_tick=2**32 - 4000)
    parser = Parser()
    lines = [x for line in wire_lines(booth, 40.0) for x in parser.feed(line)]
    assert 20 < parser.tally.bad < 80
    ticks = [x.tick for x in lines]
    assert max(ticks) > 2**32 - 1000
    hellos = [n for n, x in enumerate(lines) if isinstance(x, Hello)]
    assert len(hellos) == 2
    assert lines[hellos[1]].seq == 0
    born = [x for x in lines[hellos[1] :] if isinstance(x, Pulses)]
    assert born[0].counters[0][0] == 0
    assert born[-1].counters[0][0] == pytest.approx(24 * 9.5, abs=3)


@pytest.mark.realtime
async def test_the_serial_driver_reads_the_booth_off_a_pty() -> None:
    clock = SystemClock()
    begin_s = clock.now_s()
    booth = WireBooth(SPEC, 2, begin_s=-1.0)
    ptys = Ptys(booth, clock)
    spec = AdapterSpec("a1", "serial", {"port": ptys.ports["a1"]}, SPEC.adapters[0].wiring)
    said: list[Reading] = []
    tasks = [
        asyncio.create_task(ptys.run()),
        asyncio.create_task(find("serial")(spec, clock).run(said.append)),
    ]
    await asyncio.sleep(3.5)
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    assert "up" in [r.state for r in said if isinstance(r, Presence)]
    start = next(r for r in said if isinstance(r, Contacts) and dict(r.values)["1.run"])
    assert start.fact_s - begin_s == pytest.approx(1.0, abs=0.1)
    last = [r for r in said if isinstance(r, Counts)][-1]
    for house, frames, pulse_s in last.values:
        assert pulse_s is not None
        true_s = begin_s + 1.0 + 0.6 + frames / 24
        assert pulse_s == pytest.approx(true_s, abs=0.1), house
        assert frames > 24
