"""Pulses that keep their place within an adapter's tick for minutes: no change of speed, and a small one is found beside them.

The mains swing about their nominal frequency ([M] the everyday state of a large grid: 0.02 %, five minutes), and near it two
locked machines pass the ticks of a millisecond so slowly that what is cut off of one sample is cut off of a hundred more.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator

import pytest

from interlock.watch.apart import TICK_S
from interlock.watch.creep import CUT_OFF, RATE_SIGMA_FPS, Creep
from interlock.watch.forecast import Z95

FPS = 24.0
MAINS_SHARE, MAINS_TAU_S = 0.0002, 300.0
R_VAR = FPS**2 * TICK_S**2 / 6.0 * 1.62
CUT_OFF_FR = FPS * TICK_S * CUT_OFF
HOURS = 4


def _drifts(seed: int, off: float = 0.0, from_s: float = math.inf) -> Iterator[float]:
    """Once a second: frames of one machine less those of the other by their latest pulses' dates, cut off to the tick.

    The upstream one runs off by the share ``off`` from ``from_s`` on.
    """
    rng = random.Random(seed)
    up, down, mains, keep = rng.random(), rng.random(), 0.0, math.exp(-1.0 / MAINS_TAU_S)
    t_s = 0.0
    while True:
        mains = keep * mains + rng.gauss(0.0, MAINS_SHARE * math.sqrt(1.0 - keep * keep))
        fps = FPS * (1.0 + mains)
        t_s += 1.0
        up += fps * (1.0 + (off if t_s > from_s else 0.0))
        down += fps
        said = []
        for frames in (up, down):
            pulse_s = t_s - (frames - math.floor(frames)) / fps
            dated_s = math.floor(pulse_s / TICK_S) * TICK_S
            said.append(math.floor(frames) + (t_s - dated_s) * fps)
        yield said[0] - said[1]


def _restarts(seed: int, cut_off_fr: float) -> int:
    c = Creep(R_VAR, cut_off_fr=cut_off_fr)
    restarts = 0
    for n, z in zip(range(HOURS * 3600), _drifts(seed), strict=False):
        if n == 0:
            c.start(0.0, z)
            continue
        c.sample(float(n), z)
        restarts += c.samples == 1
    return restarts


def test_what_a_tick_cuts_off_is_no_change_of_speed_however_long_it_is_cut_off_alike() -> None:
    assert sum(_restarts(seed, CUT_OFF_FR) for seed in range(6)) == 0
    assert sum(_restarts(seed, 0.0) for seed in range(6)) > 6, (
        "held against its own sigma alone it would seem one"
    )


@pytest.mark.parametrize(("off", "within"), [(0.01, 1), (0.001, 4), (0.0002, 12)])
def test_a_machine_that_goes_off_beside_it_is_found_all_the_same(off: float, within: int) -> None:
    for seed in range(6):
        c = Creep(R_VAR, cut_off_fr=CUT_OFF_FR)
        found = None
        for n, z in zip(range(700), _drifts(seed, off, 600.0), strict=False):
            if n == 0:
                c.start(0.0, z)
                continue
            c.sample(float(n), z)
            if n >= 600 and c.samples == 1:
                found = n - 599
                break
        assert found is not None
        assert found <= within
    assert c.prr == RATE_SIGMA_FPS**2, "nothing that it knew of the rate before counts any more"


def test_what_a_rate_is_believed_to_be_is_right_in_nine_of_ten_of_such_hours() -> None:
    """Two hours each of two locked machines, at whatever places within a tick: none creeps, whatever a tick cuts off."""
    errors = []
    for seed in range(120):
        c = Creep(R_VAR, cut_off_fr=CUT_OFF_FR)
        for n, z in zip(range(7200), _drifts(seed), strict=False):
            c.sample(float(n), z) if n else c.start(0.0, z)
        errors.append(abs(c.rate_fps) / math.sqrt(c.prr))
    assert 0.86 <= sum(e < Z95 for e in errors) / len(errors) <= 0.95
