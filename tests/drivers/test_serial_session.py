"""What an adapter says becomes readings: names, dates, damage, and what does not fit the show file."""

from __future__ import annotations

import itertools
import random

import pytest
from serial_bench import Bench, film_runs
from serial_double import line

from interlock.signals import Contacts, Counts, Positions, Presence


def test_all_wired_contacts_counts_and_arms_of_a_line_are_told_under_their_names() -> None:
    bench = Bench()
    bench.adapter.raw = [3800]
    bench.adapter.pulses(1, 8)
    bench.run(0.5)
    assert bench.of(Contacts)[0].values == (("4.run", False), ("4.dowser", True), ("4>3.tight", False))
    assert bench.of(Positions)[0].values == (("4>3.arm", 1.0),)
    assert [v[:2] for v in bench.of(Counts)[0].values] == [("4.frames", 0), ("3.frames", 2.0)]
    assert bench.of(Counts)[0].values[0][2] is None, "there was no pulse yet"


def test_an_edge_is_dated_by_its_tick_however_late_its_line_comes() -> None:
    chance = random.Random(4)
    bench = Bench(way_s=lambda: 0.004)
    bench.run(5.0)
    bench.way_s = lambda: 0.004 + chance.random() * 0.06
    bench.adapter.contact(0, True)
    edge_s = bench.now_s
    bench.run(0.3)
    fact_s = next(at for at, closed in bench.contact("4.run") if closed)
    assert fact_s == pytest.approx(edge_s + 0.004, abs=0.0015)


def test_pulses_are_dated_by_their_own_ticks_and_keep_their_dates() -> None:
    chance = random.Random(5)
    bench = Bench(way_s=lambda: 0.002 + chance.expovariate(1 / 0.007))
    bench.adapter.ppm = 100.0  # so that the map has something to learn
    pulses: list[float] = []

    def each_ms(ms: int) -> None:
        if ms % 2100 == 0:
            bench.adapter.pulses(0, 1)
            pulses.append(bench.now_s)

    bench.run(120.0, each_ms)
    dated: dict[float, set[float | None]] = {}
    for frames, pulse_s in bench.frames():
        dated.setdefault(frames, set()).add(pulse_s)
    assert len(dated) > 50
    assert all(len(dates) == 1 for dates in dated.values()), "told again, a pulse has the same date"
    late = [d.copy().pop() - pulses[int(f) - 1] for f, d in dated.items() if f > 10]  # type: ignore[operator]
    assert max(late) - min(late) < 0.003, "milliseconds of ticks, not tens of jitter"


def test_five_in_a_hundred_lines_damaged_lose_nothing_else() -> None:
    chance = random.Random(11)
    bench = Bench()
    hit = 0

    def damage(data: bytes) -> bytes:
        nonlocal hit
        if chance.random() > 0.05:
            return data
        hit += 1
        spoiled = bytearray(data)
        spoiled[chance.randrange(len(data) - 1)] ^= 1 << chance.randrange(7)
        return bytes(spoiled)

    bench.run(1.0)
    bench.damage = damage
    bench.run(60.0, film_runs(bench))
    bench.damage = lambda data: data
    bench.run(1.1, film_runs(bench))
    last = bench.of(Presence)[-1]
    assert hit > 40
    assert hit <= last.bad_lines <= hit + 5, "a byte that became a line feed makes two of one"
    assert last.lost_lines == hit
    assert set(bench.states()) == {"up"}
    frames = [f for f, _ in bench.frames()]
    assert frames == sorted(frames)
    assert max(b - a for a, b in itertools.pairwise(frames)) <= 12
    gaps = [b.at_s - a.at_s for a, b in zip(bench.said, bench.said[1:], strict=False)]
    assert max(gaps) <= 0.4


def test_statistics_are_told_every_second() -> None:
    bench = Bench()
    bench.run(10.0)
    told = bench.of(Presence)
    assert 9 <= len(told) <= 13
    assert told[-1].lines > told[0].lines
    last = bench.said.index(told[-1])
    readings = sum(not isinstance(r, Presence) for r in bench.said[: last + 2])
    assert told[-1].lines == readings + 1, (
        "each line a reading, but the HI; the arm came in one read with the count"
    )


def test_an_adapter_that_says_only_what_is_not_known_is_alive() -> None:
    bench = Bench()
    adapter = bench.adapter
    adapter.ct = adapter.an = adapter.lv = lambda: adapter.say("ZZ", "later")  # type: ignore[method-assign]
    bench.run(3.0)
    told = bench.of(Presence)
    assert set(bench.states()) == {"up"}
    assert max(b.at_s - a.at_s for a, b in itertools.pairwise(told)) <= 0.25


def test_our_own_question_coming_back_is_no_adapter() -> None:
    bench = Bench()
    for k in range(20):
        bench.session.data(1000.0 + k / 10, line("ID", k, k))
    assert bench.said == []


def test_noise_is_said_to_be_noise_and_silence_silence() -> None:
    bench = Bench()
    bench.adapter.quiet = True
    bench.run(3.5)
    assert bench.states() == ["gone"]
    assert "not a word" in bench.text()
    chance = random.Random(1)
    noise = Bench()
    noise.adapter.quiet = True
    noise.run(0.001)
    for _ in range(20):
        noise.now_s += 0.2
        noise.session.data(noise.now_s, chance.randbytes(200))
    assert noise.states() == ["gone"]
    assert "baud" in noise.text()


def test_a_port_that_goes_is_said_once_for_each_reason() -> None:
    bench = Bench()
    bench.run(1.0)
    for _ in range(3):
        bench.session.gone(bench.now_s, "there is no such device")
    bench.session.gone(bench.now_s, "another program has it open")
    assert bench.states()[-2:] == ["gone", "gone"]
    assert bench.states().count("gone") == 2
    assert "/dev/ttyX" in bench.text()


def test_an_adapter_of_another_name_is_told_and_still_heard() -> None:
    bench = Bench()
    bench.adapter.name = "south"
    bench.run(1.5)
    assert "'south'" in bench.text()
    assert "swapped" in bench.text()
    assert bench.contact("4.run")


def test_a_name_made_to_harm_a_screen_comes_out_as_text() -> None:
    bench = Bench()
    bench.adapter.name = "[red]" + "x" * 150
    bench.run(1.5)
    assert len(bench.text()) < 300
    assert bench.text().isprintable()


def test_inputs_that_the_adapter_does_not_have_are_told_and_not_reported() -> None:
    bench = Bench()
    bench.adapter.levels, bench.adapter.counters, bench.adapter.analogs = 3, 1, 0
    bench.adapter.power_up(0)
    bench.run(1.5)
    assert bench.of(Contacts)[0].values == (("4.run", False), ("4.dowser", True))
    assert {v[0] for c in bench.of(Counts) for v in c.values} == {"4.frames"}
    for word in ("11 (4>3.tight)", "1 (3.frames)", "0 (4>3.arm)", "not known"):
        assert word in bench.text()


def test_of_another_version_nothing_is_reported_but_that() -> None:
    bench = Bench()
    bench.adapter.version = "v2"
    bench.run(2.0)
    assert {type(r) for r in bench.said} == {Presence}
    assert set(bench.states()) == {"up"}
    assert "version 2" in bench.text()
    gaps = [b.at_s - a.at_s for a, b in zip(bench.said, bench.said[1:], strict=False)]
    assert max(gaps) <= 0.25
