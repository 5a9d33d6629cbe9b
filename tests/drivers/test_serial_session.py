"""What an adapter says becomes readings: lives, wraps, silence, damage. By hand and by a clock of our own."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from serial_double import Adapter, line

from drivers.serial_session import Session
from interlock.signals import (
    AdapterSpec,
    AnalogWire,
    Contacts,
    CounterWire,
    Counts,
    Positions,
    Presence,
    Reading,
    Wiring,
)

WIRING = Wiring(
    levels={0: "4.run", 2: "!4.dowser", 11: "4>3.tight"},
    counters={0: CounterWire("4.frames"), 1: CounterWire("3.frames", 0.25)},
    analogs={0: AnalogWire("4>3.arm", 310, 3800)},
)


class Bench:
    """A session and an adapter joined by a line with a way of ``way_s``; time moves only by :meth:`run`."""

    def __init__(self, wiring: Wiring = WIRING, way_s: Callable[[], float] = lambda: 0.004) -> None:
        self.now_s = 1000.0
        self.said: list[Reading] = []
        self.way_s = way_s
        self.damage: Callable[[bytes], bytes] = lambda data: data
        self.on_the_way: list[tuple[float, bytes]] = []
        self.asked = 0
        self.adapter = Adapter(lambda: self.now_s)
        self.adapter.send = lambda data: self.on_the_way.append(
            (self.now_s + self.way_s(), self.damage(data))
        )
        self.session = Session(
            AdapterSpec("north", "serial", {}, wiring), "/dev/ttyX", self.said.append, self._to_adapter
        )
        self.opened = False

    def _to_adapter(self, data: bytes) -> None:
        self.asked += 1
        self.adapter.hear(data)

    def run(self, seconds: float, each_ms: Callable[[int], None] = lambda ms: None) -> None:
        """The adapter speaks as the page says, one millisecond after the other; the port is opened at first."""
        if not self.opened:
            self.opened = True
            self.session.opened(self.now_s)
        for _ in range(round(seconds * 1000)):
            self.now_s += 0.001
            ms = round(self.now_s * 1000)
            each_ms(ms)
            if ms % 100 == 0:
                self.adapter.ct()
                self.adapter.an()
            if ms % 250 == 50:
                self.adapter.lv()
            arrived = [d for at, d in self.on_the_way if at <= self.now_s]
            self.on_the_way = [(at, d) for at, d in self.on_the_way if at > self.now_s]
            if arrived or ms % 200 == 0:
                self.session.data(self.now_s, b"".join(arrived))

    def of(self, kind: type[Reading], since: int = 0) -> list[Any]:
        return [r for r in self.said[since:] if isinstance(r, kind)]

    def states(self, since: int = 0) -> list[str]:
        return [p.state for p in self.of(Presence, since)]

    def frames(self, signal: str = "4.frames", since: int = 0) -> list[tuple[float, float | None]]:
        return [(f, p) for c in self.of(Counts, since) for s, f, p in c.values if s == signal]

    def contact(self, signal: str, since: int = 0) -> list[tuple[float, bool]]:
        return [(c.fact_s, v) for c in self.of(Contacts, since) for s, v in c.values if s == signal]

    def text(self) -> str:
        return str(self.of(Presence)[-1].text)


def film_runs(bench: Bench) -> Callable[[int], None]:
    """A pulse every 42 ms, about 24 in a second."""

    def each_ms(ms: int) -> None:
        if ms % 42 == 0:
            bench.adapter.pulses(0, 1)

    return each_ms


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
    pulses: list[float] = []

    def each_ms(ms: int) -> None:
        if ms % 42 == 0:
            bench.adapter.pulses(0, 1)
            pulses.append(bench.now_s)

    bench.run(30.0, each_ms)
    dated: dict[float, set[float | None]] = {}
    for frames, pulse_s in bench.frames():
        dated.setdefault(frames, set()).add(pulse_s)
    assert len(dated) > 250
    assert all(len(dates) == 1 for dates in dated.values()), "told again, a pulse has the same date"
    late = [d.copy().pop() - pulses[int(f) - 1] for f, d in dated.items() if f > 100]  # type: ignore[operator]
    assert max(late) - min(late) < 0.003, "milliseconds of ticks, not tens of jitter"


def test_an_unasked_hello_is_a_restart_told_before_the_new_counts() -> None:
    bench = Bench()
    bench.run(5.0, film_runs(bench))
    since, before = len(bench.said), bench.frames()[-1][0]
    bench.adapter.power_up(0)
    bench.adapter.hi()
    bench.run(1.0, film_runs(bench))
    assert before > 100
    news = [r for r in bench.said[since:] if isinstance(r, Presence | Counts)]
    first = next(k for k, r in enumerate(news) if isinstance(r, Presence) and r.state == "restarted")
    assert all(f >= before for f, _ in [v[1:] for r in news[:first] for v in r.values[:1]])  # type: ignore[union-attr]
    assert 0 <= bench.frames(since=since)[-1][0] < 30
    assert bench.states().count("restarted") == 1
    assert abs(bench.of(Counts)[-1].fact_s - bench.of(Counts)[-1].at_s) < 0.01, "and ticks are mapped anew"
    assert bench.of(Presence)[-1].lost_lines == 0, "SEQ began anew, nothing was lost"


def test_a_restart_whose_hello_was_lost_is_known_by_its_ticks() -> None:
    bench = Bench()
    bench.run(5.0)
    bench.adapter.power_up(0)
    bench.adapter.seq = 1  # the HI was 0
    bench.run(0.5)
    assert bench.states().count("restarted") == 1
    assert bench.asked == 2, "and it is asked who it is now"
    assert bench.of(Presence)[-1].lost_lines == 0


def test_a_restart_in_the_first_two_seconds_of_a_life_is_known_by_its_counts() -> None:
    bench = Bench()
    bench.adapter.pulses(0, 9)
    bench.run(1.5)
    bench.adapter.power_up(0)
    bench.adapter.pulses(0, 2)
    bench.run(0.3)
    assert bench.states().count("restarted") == 1
    assert bench.frames()[-1][0] == 2


def test_a_restart_in_a_silence_is_known_by_the_answering_hellos_tick() -> None:
    bench = Bench()
    bench.adapter.pulses(0, 3)
    bench.run(3.0)
    bench.adapter.quiet = True
    bench.run(2.5)
    bench.adapter.power_up(0)
    bench.run(3.2)  # its clock is past where it was, its count will be too
    since = len(bench.said)
    bench.adapter.pulses(0, 5)
    bench.adapter.quiet = False
    bench.run(0.5)
    states = [(type(r).__name__, getattr(r, "state", "")) for r in bench.said[since:]]
    assert states.index(("Presence", "restarted")) < states.index(("Counts", ""))
    assert ("Contacts", "") not in states[: states.index(("Presence", "restarted"))]
    assert bench.frames(since=since)[0][0] == 5


def test_a_restart_after_a_month_is_known_although_the_difference_of_ticks_is_positive() -> None:
    bench = Bench()
    bench.adapter.power_up(2_600_000_000)  # 30 days
    bench.run(1.0)
    bench.adapter.power_up(0)
    bench.adapter.seq = 1
    bench.run(0.5)
    assert bench.states().count("restarted") == 1


def test_both_wraps_pass_unnoticed() -> None:
    bench = Bench()
    bench.adapter.first_count = 2**32 - 50
    bench.adapter.power_up(2**32 - 3000)
    bench.adapter.seq = 65500
    bench.run(8.0, film_runs(bench))
    frames = bench.frames()
    assert frames[-1][0] > 2**32 + 50
    assert [f for f, _ in frames] == sorted(f for f, _ in frames)
    assert [p for _, p in frames[1:]] == sorted(p for _, p in frames[1:])  # type: ignore[type-var]
    assert all(0.0 <= r.at_s - r.fact_s < 0.02 for r in bench.said)
    assert "restarted" not in bench.states()
    assert bench.of(Presence)[-1].lost_lines == 0


def test_an_adapter_that_is_first_heard_after_its_power_up_is_no_restart() -> None:
    bench = Bench()
    bench.adapter.answers = False
    bench.now_s += 0.1
    bench.adapter.hi()  # the board was reset by the opening of its port
    bench.run(1.0)
    assert "restarted" not in bench.states()
    assert bench.contact("4.run")


def test_after_a_silence_it_is_asked_and_no_edge_is_invented() -> None:
    bench = Bench()
    bench.run(3.0, film_runs(bench))
    assert bench.asked == 1
    bench.adapter.quiet = True
    bench.run(3.5, film_runs(bench))
    since = len(bench.said)
    bench.adapter.mask = 0b101
    bench.adapter.quiet = False
    bench.run(0.5, film_runs(bench))
    assert bench.asked == 2
    assert [s for s in bench.states(since) if s != "up"] == []
    assert isinstance(bench.said[since], Presence), "first of all it says that it is back"
    assert {closed for _, closed in bench.contact("4.run", since)} == {True}
    assert min(at for at, _ in bench.contact("4.run", since)) > bench.now_s - 0.51
    jumps = [f for f, _ in bench.frames(since=since)]
    assert jumps == sorted(jumps)
    assert jumps[0] > 150, "the film that ran in the silence was counted by the adapter"


def test_a_short_gap_is_no_silence() -> None:
    bench = Bench()
    bench.run(2.0)
    bench.adapter.quiet = True
    bench.run(0.55)
    bench.adapter.quiet = False
    bench.run(1.0)
    assert bench.asked == 1


def test_lines_that_wait_for_the_answer_go_out_in_order_if_none_comes() -> None:
    bench = Bench()
    bench.adapter.answers = False
    bench.run(0.3)
    assert bench.states() == ["up"], "it speaks, and that is said at once"
    assert not bench.of(Counts)
    bench.adapter.contact(0, True)
    bench.run(0.05)
    bench.adapter.contact(0, False)
    bench.run(3.0)
    assert [closed for _, closed in bench.contact("4.run")][:4] == [False, False, True, False]
    assert bench.asked >= 4, "and it is asked again"
    at = [r.at_s for r in bench.said]
    assert at == sorted(at)


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
    before = bench.said[: bench.said.index(told[-1])]
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


life = st.lists(
    st.sampled_from(["run", "silence", "restart", "restart unheard", "replug", "damage", "contact", "wrap"]),
    max_size=8,
)


@given(life, st.integers(0, 2**32 - 1))
@settings(max_examples=25, deadline=None)
def test_whatever_happens_stamps_are_in_order_and_counts_fall_only_after_a_restart(
    lives: list[str], tick: int
) -> None:
    chance = random.Random(3)
    bench = Bench(way_s=lambda: 0.002 + chance.random() * 0.01)
    bench.adapter.power_up(tick)
    for what in ["run", *lives, "run"]:
        if what == "silence":
            bench.adapter.quiet = True
            bench.run(1.2, film_runs(bench))
            bench.adapter.quiet = False
        elif what == "restart":
            bench.adapter.power_up(0)
            bench.adapter.hi()
        elif what == "restart unheard":
            bench.adapter.power_up(0)
            bench.adapter.seq = 1
        elif what == "replug":
            bench.session.gone(bench.now_s, "the device is gone")
            bench.on_the_way.clear()
            bench.now_s += 0.5
            bench.session.opened(bench.now_s)
        elif what == "damage":
            bench.session.data(bench.now_s, chance.randbytes(300))
        elif what == "contact":
            bench.adapter.contact(0, chance.random() < 0.5)
        elif what == "wrap":
            bench.adapter.count[0] = (2**32 - 3, bench.adapter.tick)
        bench.run(0.6, film_runs(bench))
    last_s, frames = float("-inf"), -1.0
    for r in bench.said:
        assert r.fact_s <= r.at_s
        assert r.at_s >= last_s
        last_s = r.at_s
        if isinstance(r, Presence) and r.state == "restarted":
            frames = -1.0
        if isinstance(r, Counts):
            assert r.values[0][1] >= frames
            frames = r.values[0][1]
    assert isinstance(bench.said[-1], Counts | Positions | Contacts | Presence)
    assert bench.of(Counts)[-1].at_s > bench.now_s - 0.3, "and it is heard to the end"
