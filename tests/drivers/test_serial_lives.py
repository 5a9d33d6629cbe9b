"""An adapter that begins anew, wraps, or falls silent: no edge and no count is invented."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st
from serial_bench import Bench, film_runs
from serial_double import Adapter

from interlock.signals import Contacts, Counts, Positions, Presence


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


def test_two_adapters_on_one_line_are_a_muddle_and_no_storm_of_questions() -> None:
    bench = Bench()
    other = Adapter(lambda: bench.now_s)
    other.power_up(90_000_000)
    other.send = bench.adapter.send

    def each_ms(ms: int) -> None:
        if ms % 100 == 33:
            other.ct()

    bench.run(3.0, each_ms)
    assert bench.states().count("restarted") > 10
    assert bench.asked <= 12


def test_lines_that_wait_when_a_hello_tells_of_a_restart_are_of_the_life_before() -> None:
    bench = Bench()
    bench.adapter.answers = False
    bench.run(0.35)
    assert not bench.of(Counts)
    bench.adapter.power_up(0)
    bench.adapter.hi()
    bench.run(0.3)
    said = [
        r.state if isinstance(r, Presence) else "count"
        for r in bench.said
        if isinstance(r, Presence | Counts)
    ]
    assert said.count("restarted") == 1, "its clock and counts tell of nothing; its HI does"
    assert said.index("count") < said.index("restarted")
