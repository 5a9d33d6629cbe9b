"""A slow-down is seen on any computer: the work of fixed seeds, in counted calls, stays within what was recorded."""

from __future__ import annotations

import pytest

from interlock.watch.desk import Desk
from interlock.watch.inputs import Input
from interlock.watch.state import Line
from tests.tooling.counted_work import COMMAND, WORKS, calls, counted, read_table, slow_down


@pytest.mark.parametrize("name", WORKS)
def test_the_work_of_a_fixed_seed_costs_no_more_calls_than_were_recorded(name: str) -> None:
    assert slow_down(name, counted(name), read_table()) is None


def test_the_same_work_counts_the_same_twice() -> None:
    name = "desk, the same show folded"
    assert calls(WORKS[name]) == calls(WORKS[name])


def test_a_desk_that_calls_a_function_more_a_reading_than_it_need_is_seen(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    name = "desk, the same show folded"
    step = Desk.step

    def slower(desk: Desk, x: Input) -> list[Line]:
        for _ in range(8):  # more than the room that the bound leaves
            abs(x.at_s)
        return step(desk, x)

    monkeypatch.setattr(Desk, "step", slower)
    told = slow_down(name, counted(name), read_table())
    assert told is not None
    assert COMMAND in told
