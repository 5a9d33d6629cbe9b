"""The rows of reference.md under "Machines" that speak of a loop: how long two speeds apart take to use it."""

from __future__ import annotations

import pytest

from interlock.watch.forecast import time_to_limit_s


@pytest.mark.parametrize(
    ("apart_fps", "seconds"),
    [
        (24.0, 2.0),  # [D] reference.md, "time until 48 frames are used", and so all of these
        (1.0, 48.0),
        (0.24, 200.0),  # 3:20
        (0.024, 2000.0),  # 33:20
        (0.0024, 20_000.0),  # 5:33:20
    ],
)
def test_two_machines_that_far_apart_use_48_frames_in_that_time(apart_fps: float, seconds: float) -> None:
    """A drift and a rate that are known exactly: all three quantiles are the one time."""
    assert time_to_limit_s(0.0, apart_fps, 48.0, 0.0, 0.0, 0.0) == pytest.approx((seconds,) * 3, rel=1e-6)
