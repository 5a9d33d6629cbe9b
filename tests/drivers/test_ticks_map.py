"""Ticks become desk seconds: jitter, crystals that are off, wraps, restarts, and no step back."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.ticks import SLEW_FROM_S, WINDOW_S, TickClock, signed_ms


def usb_jitter_s(chance: random.Random) -> float:
    """A millisecond of way, then milliseconds of waiting, and now and then the computer is busy with something else."""
    return 0.001 + chance.expovariate(1 / 0.007) + (0.03 if chance.random() < 0.02 else 0.0)


def line_times(
    seed: int, length_s: float, every_s: float = 0.07, ppm: float = 120.0, first_tick: int = 0
) -> Iterator[tuple[int, float, float]]:
    """(tick, receipt, desk second at which the tick began) of an adapter's lines."""
    chance = random.Random(seed)
    t_s = 0.0
    while t_s < length_s:
        t_s += every_s * (0.5 + chance.random())
        ms = int(t_s * 1000 * (1 + ppm * 1e-6))
        true_s = 100.0 + ms / 1000 / (1 + ppm * 1e-6)
        yield (first_tick + ms) % 2**32, 100.0 + t_s + usb_jitter_s(chance), true_s


def errors_s(lines: Iterator[tuple[int, float, float]]) -> tuple[list[float], list[float]]:
    """How far the map, and the mere receipt, are from the truth, the constant way of 1 ms taken off, by line."""
    clock = TickClock()
    mapped, naive = [], []
    for tick, at_s, true_s in lines:
        clock.feed(tick, at_s)
        mapped.append(clock.to_s(tick) - true_s - 0.001)
        naive.append(at_s - true_s - 0.001)
    return mapped, naive


def rms(values: list[float]) -> float:
    return math.sqrt(math.fsum(v * v for v in values) / len(values))


@pytest.mark.parametrize("ppm", [-200.0, -100.0, 0.0, 100.0, 200.0])
def test_the_map_is_a_fifth_of_a_millisecond_off_where_receipt_is_ten(ppm: float) -> None:
    # wire.md asks for 100 ppm; design.md's 0.06 ms is without the ticks' own steps of 1 ms, which are in here
    mapped, naive = errors_s(line_times(seed=7, length_s=400, ppm=ppm))
    settled = int(60 / 0.07)
    assert rms(naive[settled:]) > 0.010
    assert rms(mapped[settled:]) < 0.0002
    assert max(map(abs, mapped[settled:])) < 0.0006


@pytest.mark.parametrize("seed", range(5))
def test_already_in_the_first_minute_it_is_better_than_a_tenth_of_a_frame(seed: int) -> None:
    # a frame at 24 fps is 41.7 ms (wire.md)
    mapped, _ = errors_s(line_times(seed=seed, length_s=60, ppm=200.0))
    assert max(map(abs, mapped[int(1 / 0.07) :])) < 0.0042


@pytest.mark.parametrize("jitter_s", [0.03, 0.1, 0.2, 0.3])
@pytest.mark.parametrize("ppm", [-100.0, 30.0])
def test_lines_that_wait_behind_each_other_make_no_machine_run_off(jitter_s: float, ppm: float) -> None:
    """On a busy network every line waits for the one before, and hardly one comes at once: the lowest wander by tens of
    milliseconds. Six sigmas of a counted speed are 0.06 %; what the dates of eight seconds run off stays well within."""
    for seed in range(6):
        chance = random.Random(seed)
        clock = TickClock()
        last_s, off_s = 0.0, []
        for k in range(1, 6000):
            t_s = k * 0.05
            ms = int(t_s * 1000 * (1 + ppm * 1e-6))
            last_s = max(last_s, t_s + 0.001 + chance.expovariate(1 / 0.003) + chance.random() * jitter_s)
            clock.feed(ms, last_s)
            off_s.append(clock.to_s(ms) - ms / 1000 / (1 + ppm * 1e-6))
        rates = [(b - a) / 8.0 for a, b in zip(off_s[400:], off_s[560:], strict=False)]
        assert max(map(abs, rates)) < 350e-6


def test_a_network_that_stood_still_while_the_map_began_leaves_nothing_behind() -> None:
    clock = TickClock()
    for k in range(1, 800):
        t_s = k * 0.05
        clock.feed(k * 50, t_s + (0.4 if t_s < 15.0 else 0.002))
        if t_s > 15.2:
            assert clock.to_s(k * 50) == pytest.approx(t_s + 0.002, abs=0.005)


def test_an_adapter_without_a_crystal_is_followed_after_half_a_minute() -> None:
    mapped, _ = errors_s(line_times(seed=3, length_s=300, ppm=4000.0))
    assert rms(mapped[int(60 / 0.07) :]) < 0.0002


def test_the_wrap_of_the_ticks_changes_nothing() -> None:
    plain, _ = errors_s(line_times(seed=5, length_s=200))
    wrapping, _ = errors_s(line_times(seed=5, length_s=200, first_tick=2**32 - 100_000))
    assert wrapping == pytest.approx(plain, abs=1e-6)


def test_two_wraps_in_one_life_leave_seconds_exact() -> None:
    clock = TickClock()
    for hours in range(0, 2400, 100):  # 2,400 hours are two wraps and a bit; silence in between
        ms = hours * 3_600_000
        clock.feed(ms % 2**32, 50.0 + ms / 1000)
        assert clock.to_s(ms % 2**32) == pytest.approx(50.0 + ms / 1000, abs=1e-6)


def test_a_restart_is_a_new_map_with_the_same_crystal() -> None:
    clock = TickClock()
    for tick, at_s, _ in line_times(seed=1, length_s=200, ppm=200.0):
        clock.feed(tick, at_s)
    assert clock.rate_ppm == pytest.approx(-200.0, abs=10.0)
    clock.reset()
    assert not clock.known
    worst = 0.0
    for tick, at_s, true_s in line_times(seed=2, length_s=20, ppm=200.0):
        clock.feed(tick, at_s + 500.0)
        if tick > 5000:
            worst = max(worst, abs(clock.to_s(tick) - true_s - 500.0 - 0.001))
    assert worst < 0.001, "what is known of the crystal is kept"


@pytest.mark.parametrize(
    ("later", "earlier", "ms"), [(5, 2**32 - 5, 10), (2**32 - 5, 5, -10), (7, 7, 0), (0, 1, -1)]
)
def test_ticks_differ_the_short_way_round(later: int, earlier: int, ms: int) -> None:
    assert signed_ms(later, earlier) == ms


def test_a_fact_told_late_is_dated_and_does_not_pull_the_map() -> None:
    clock = TickClock()
    for ms in range(0, 5000, 100):
        clock.feed(ms, 10.0 + ms / 1000 + 0.002)
    before_s = clock.to_s(4900)
    clock.feed(4850, 15.0)  # the debounced edge of 50 ms ago, behind a count
    assert clock.to_s(4900) == before_s
    assert clock.to_s(4850) == pytest.approx(before_s - 0.05, abs=1e-9)


jitters = st.lists(st.floats(0.0, 0.5), min_size=2, max_size=200)


@given(jitters, st.integers(0, 2**32 - 1), st.integers(1, 400))
@settings(max_examples=60)
def test_the_seconds_of_later_ticks_are_never_earlier(ways_s: list[float], first: int, every_ms: int) -> None:
    clock = TickClock()
    given_s = []
    for k, way_s in enumerate(ways_s):
        tick = (first + k * every_ms) % 2**32
        clock.feed(tick, 1000.0 + k * every_ms / 1000 + way_s)
        given_s.append(clock.to_s(tick))
    assert all(b >= a for a, b in itertools.pairwise(given_s))


@given(st.lists(st.integers(0, 500), min_size=2, max_size=200), st.integers(1, 4))
@settings(max_examples=60)
def test_its_hull_is_the_one_of_all_points_and_the_map_lies_beneath_them_until_it_must_no_longer_jump(
    ways: list[int], every: int
) -> None:
    clock = TickClock()
    points = []
    for k, way in enumerate(ways):
        x_s, y_s = k * every / 8, 1024.0 + way / 1024  # eighths and 1,024ths: the arithmetic is exact
        clock.feed(k * every * 125, x_s + y_s)
        points.append((x_s, y_s))
        if x_s < WINDOW_S:
            assert clock._hull == lower_hull(points)
        if x_s < SLEW_FROM_S:
            assert all(clock.raw_s(round(x * 1000)) <= x + y + 1e-9 for x, y in points)


def lower_hull(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """By the definition: from each point on to the one with the least slope, the furthest of several."""
    hull = [points[0]]
    rest = points[1:]
    while rest:
        x0, y0 = hull[-1]
        steepness = [(y - y0) / (x - x0) for x, y in rest]
        k = max(i for i, s in enumerate(steepness) if s == min(steepness))
        hull.append(rest[k])
        rest = rest[k + 1 :]
    return hull


def test_what_is_kept_is_bounded_and_lets_go_of_what_is_older_than_the_window() -> None:
    clock = TickClock()
    for tick, at_s, _ in line_times(seed=9, length_s=500, every_s=0.01):
        clock.feed(tick, at_s)
    assert clock._hull[-1][0] - clock._hull[0][0] <= WINDOW_S + 11.0
    assert len(clock._hull) < 60
    assert sum(len(b.hull) for b in clock._blocks) < 600
    # the way becomes 20 ms longer for good: after the window the map has followed
    for tick, at_s, true_s in line_times(seed=10, length_s=700, every_s=0.05):
        if tick > 502_000:
            clock.feed(tick, at_s + 0.020)
            late_s = clock.to_s(tick) - true_s - 0.001
    assert late_s == pytest.approx(0.020, abs=0.001)
