"""The faults that the rehearsal screen offers are lines of a scenario that the simulator takes."""

from __future__ import annotations

import pytest

from drivers.simulator.faults import parse_fault
from tui.example.moments import well
from tui.example.show import layout
from tui.faults import Fault, usual_faults

LAY = layout(6)
ALL = [f for house in (0, 5) for f in usual_faults(LAY, well(LAY), house)]


@pytest.mark.parametrize("fault", ALL, ids=[words for words, _ in ALL])
def test_every_fault_that_is_offered_is_one_that_the_simulator_takes(fault: Fault) -> None:
    words, keys = fault
    assert words
    assert parse_fault(keys) is not None


def test_behind_the_last_house_no_splice_is_offered() -> None:
    assert any("splice" in words for words, _ in usual_faults(LAY, well(LAY), 0))
    assert not any("splice" in words for words, _ in usual_faults(LAY, well(LAY), 5))
