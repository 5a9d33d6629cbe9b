"""What is known of a loop's rate outlives a gap in the words, and is not only for counters of quick pulses."""

from __future__ import annotations

import msgspec
import pytest
from rig import Rig, make_show

from interlock.signals import CounterWire, Wiring
from interlock.watch.state import AlarmLine, LinkLine

OFF = 0.0005
"""The first machine's share of speed beyond the second's: a limit of 48 frames is reached after 4,000 s."""


def _creeping(frames_per_pulse: float = 1.0) -> Rig:
    show = make_show(2, minutes=100.0)
    adapters = tuple(
        msgspec.structs.replace(
            a, wiring=Wiring(a.wiring.levels, {0: CounterWire(f"{h.id}.frames", frames_per_pulse)})
        )
        for a, h in zip(show.adapters, show.houses, strict=True)
    )
    rig = Rig(msgspec.structs.replace(show, adapters=adapters))
    rig.start(60.0, light=False)
    rig.truth[0].fps *= 1.0 + OFF
    for h in show.houses:
        rig.do("dark", house=h.id)
    return rig


def _to_limit_s(rig: Rig) -> tuple[float, float, float] | None:
    return next(x for x in reversed(rig.lines) if isinstance(x, LinkLine)).to_limit_s


@pytest.mark.parametrize("gap_s", [0.2, 0.6, 1.4, 4.0])
def test_a_silence_takes_nothing_from_a_rate(gap_s: float) -> None:
    """However it lies to the second's round, however often it comes, and whether an alarm says so (after 0.75 s) or not."""
    rig = _creeping()
    gaps = [140.0 + 7.3 * n for n in range(9)]
    rig.silent = [("a1", at, at + gap_s) for at in gaps]
    rig.go(gaps[0])
    before = _to_limit_s(rig)
    assert before is not None
    width_s = before[2] - before[0]
    assert width_s < 2000.0
    for at in gaps:
        rig.go(at + gap_s + 1.2)
        after = _to_limit_s(rig)
        assert after is not None
        assert after[2] - after[0] <= width_s
        true_s = 48.0 / (24.0 * OFF) + 60.0 - rig.t
        assert after[0] <= true_s <= after[2]
    assert ("adapter-stale" in {x.code for x in rig.of(AlarmLine)}) is (gap_s > 0.75)


@pytest.mark.parametrize("frames_per_pulse", [16.0, 48.0])
def test_a_counter_of_slow_pulses_tells_of_a_rate_as_one_of_quick_ones_does(frames_per_pulse: float) -> None:
    """16 frames are a foot of 35 mm film [CP]: a pulse in two thirds of a second."""
    quick, slow = _creeping(), _creeping(frames_per_pulse)
    for rig in (quick, slow):
        rig.go(160.0)
    found = _to_limit_s(slow)
    assert found is not None
    like = _to_limit_s(quick)
    assert like is not None
    true_s = 48.0 / (24.0 * OFF) + 60.0 - slow.t
    assert found[0] <= true_s <= found[2]
    # How soon is a matter of the rate, known as well by either; where the loop began no slow pulse can tell.
    assert found[1] == pytest.approx(like[1], rel=0.05)
