"""The machine room's own truth, before anything is judged by it."""

from __future__ import annotations

import math

import pytest
from room import House, Link, Motion


def test_a_ramp_loses_half_of_itself_and_a_coast_gives_half_of_itself() -> None:
    motion = Motion()
    motion.change_speed(10.0, 24.0, 1.0)
    motion.change_speed(20.0, 0.0, 0.5)
    assert motion.frames(9.0) == 0
    assert motion.frames(20.0) == pytest.approx(24 * (10 - 0.5))
    assert motion.frames(99.0) == pytest.approx(24 * (10 - 0.5) + 24 * 0.25)
    assert motion.speed(10.5) == pytest.approx(12)
    assert motion.speed(99.0) == 0


def test_the_moment_of_a_frame_is_the_inverse_of_the_frames_run() -> None:
    motion = Motion()
    motion.change_speed(1.0, 24.0, 0.4)
    motion.change_speed(5.0, 24.036, 0.0)
    motion.change_speed(9.0, 0.0, 0.3)
    for frame in (0.5, 1, 4.8, 50, 91.2, 120, 188):
        assert motion.frames(motion.when(frame)) == pytest.approx(frame)
    assert motion.when(1000) == math.inf


def test_a_dead_stop_uses_two_seconds_of_slack_in_two_seconds() -> None:
    # [D] of the trade's table: a difference of 24 fps uses 48 frames in 2.00 s.
    up, down = House("a", 0, 0.0, 0.0), House("b", 0, 0.0, 0.0)
    for house in (up, down):
        house.start(0.0, 24.0)
    down.cut(10.0)
    link = Link(up, down, tight_fr=48, spill_fr=48)
    assert link.crossing_s(1.0, 9.0, 20.0) == pytest.approx(12.0, abs=1e-5)
    assert link.crossing_s(0.5, 9.0, 20.0) == pytest.approx(11.0, abs=1e-5)
    assert link.crossing_s(1.0, 0.0, 9.0) == math.inf
    assert link.drift_fr(12.0) > 0, "the upstream machine ran on: towards spill"
