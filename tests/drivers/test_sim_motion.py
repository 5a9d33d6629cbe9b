"""Machines move by closed form, and every crossing is solved, not stepped."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.simulator.motion import Motion, crossings, first_reach, roots

speeds = st.floats(0, 40)
spans = st.floats(0.05, 5)


def machine(*pieces: tuple[float, float]) -> Motion:
    """Ramps to (speed, over so many seconds), one after the other."""
    m, t = Motion(0.0), 0.0
    for fps, over_s in pieces:
        m.begin(t, m.fps(t), (fps - m.fps(t)) / over_s)
        t += over_s
        m.begin(t, fps)
        t += 1.0
    return m


def test_a_ramp_and_a_run_are_fps_times_t_less_half_a_ramp() -> None:
    """Frames = fps·(t − s − r/2) once at speed: design.md, "The plan's arithmetic"."""
    m = Motion(0.0)
    m.begin(2.0, 0.0, 24.0 / 1.2)
    m.begin(3.2, 24.0)
    assert m.frames(1.0) == 0.0
    assert m.frames(2.6) == pytest.approx(24 * 0.6**2 / (2 * 1.2))
    assert m.frames(10.0) == pytest.approx(24 * (10 - 2 - 0.6))
    assert m.when(120.0, 99.0) == pytest.approx(2 + 0.6 + 5)
    assert m.when(120.0, 7.0) is None


@given(st.lists(st.tuples(speeds, spans), min_size=1, max_size=6))
def test_frames_never_fall_and_are_the_integral_of_speed(pieces: list[tuple[float, float]]) -> None:
    m = machine(*pieces)
    end_s = m.pieces[-1][0] + 1.0
    n = 4000
    steps = [end_s * (k + 0.5) / n for k in range(n)]
    assert sum(m.fps(t) for t in steps) * end_s / n == pytest.approx(m.frames(end_s), abs=0.05)
    frames = [m.frames(t) for t in steps]
    assert all(b >= a - 1e-9 for a, b in itertools.pairwise(frames))


@given(
    st.lists(st.tuples(speeds, spans), min_size=1, max_size=5),
    st.lists(st.tuples(speeds, spans), min_size=1, max_size=5),
    st.floats(-60, 60),
)
def test_a_crossing_is_where_the_drift_is_the_level_and_changes_its_side(
    up: list[tuple[float, float]], down: list[tuple[float, float]], level_fr: float
) -> None:
    a, b = machine(*up), machine(*down)
    found = [c for c in crossings(a, b, level_fr) if c[0] < 60]
    for at_s, _ in found:
        assert a.frames(at_s) - b.frames(at_s) == pytest.approx(level_fr, abs=1e-5)
    assert all(x[1] != y[1] for x, y in itertools.pairwise(found)), "up and down take turns"
    drift = [a.frames(k * 0.01) - b.frames(k * 0.01) - level_fr for k in range(6000)]
    clear = [d for d in drift if abs(d) > 1e-3]
    changes = sum((x > 0) != (y > 0) for x, y in itertools.pairwise(clear))
    assert len(found) >= changes, "a change of sides that sampling sees is found"


def test_a_jump_by_hand_is_a_crossing_at_its_own_time() -> None:
    a, b = Motion(0.0), Motion(0.0)
    b.begin(5.0, 0.0, jump_fr=10.0)
    assert list(crossings(a, b, -4.0)) == [(5.0, -1)]


@given(st.floats(-50, 50), st.floats(-50, 50), st.floats(-50, 50))
def test_roots_are_roots(c: float, b: float, a: float) -> None:
    for tau in roots(c, b, a):
        assert c + b * tau + a * tau * tau == pytest.approx(
            0.0, abs=1e-6 * (1 + abs(c) + abs(b * tau) + abs(a * tau**2))
        )
    first = first_reach(c, b, a)
    if first is None:
        assert all(c + b * t + a * t * t < 1e-9 for t in (0.0, 0.1, 1.0, 7.0))


def test_what_is_forgotten_changes_nothing_that_is_asked_after() -> None:
    m = machine((24, 1), (20, 2), (24, 1), (0, 1))
    before = [m.frames(t) for t in (4.5, 6.0, 9.0)]
    m.forget(4.5)
    assert m.dropped > 0
    assert [m.frames(t) for t in (4.5, 6.0, 9.0)] == before
