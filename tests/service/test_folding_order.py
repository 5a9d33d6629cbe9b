"""The one place that folds: order, anchors, ticks, and faults of our own. No time passes here but by hand."""

from __future__ import annotations

import asyncio

import pytest
from desk_rig import Journal, contacts, make_show

from interlock.bus import Bus
from interlock.clock import VirtualClock
from interlock.service.folding import Folding
from interlock.watch.desk import Desk
from interlock.watch.inputs import Action, Anchor, Input, Tick
from interlock.watch.state import ErrorLine, Line, OperatorLine

WALL_S = 1_800_000_000.0


class Rig:
    def __init__(self, past: list[Input] | None = None) -> None:
        self.clock = VirtualClock(100.0, WALL_S)
        self.bus = Bus(self.clock)
        self.journal = Journal()
        self.heard = self.bus.lines.lossless("test")
        self.taken: list[Action] = []
        self.folding = Folding(
            make_show(WALL_S),
            self.clock,
            self.bus,
            journal=self.journal,
            past=past or (),
            taken=self.taken.append,
        )

    @property
    def inputs(self) -> list[Input]:
        return [x for x, _ in self.journal.puts]


async def test_everything_is_folded_in_the_order_of_its_receipt_and_recorded_as_it_was_folded() -> None:
    rig = Rig()
    rig.folding.start()
    await rig.clock.advance_to(101.0)
    late, early = contacts(100.9), contacts(100.3)
    rig.bus.inputs.publish(late)
    rig.bus.inputs.publish(early)
    rig.folding.pump()
    assert rig.inputs[:3] == [Anchor(100.0, WALL_S), early, late]
    assert isinstance(rig.inputs[3], Tick)
    said = [line for _, lines in rig.journal.puts for line in lines]
    assert rig.heard.drain() == said
    assert [line.seq for line in said] == list(range(len(said)))


async def test_a_tick_is_folded_only_when_something_is_due() -> None:
    rig = Rig()
    rig.folding.start()
    rig.folding.pump()
    folded = rig.folding.folded
    for _ in range(100):
        rig.folding.pump()
    assert rig.folding.folded == folded
    due_s = rig.folding.desk.next_due_s()
    assert due_s is not None
    await rig.clock.advance_to(due_s)
    rig.folding.pump()
    assert rig.folding.folded == folded + 1


async def test_a_wall_clock_that_steps_by_more_than_50_ms_gets_a_new_anchor() -> None:
    rig = Rig()
    rig.folding.start()
    for step_s, anchored in ((0.04, False), (0.02, True), (-3600.0, True), (0.0, False)):
        rig.clock.step_wall(step_s)
        before = len([x for x in rig.inputs if isinstance(x, Anchor)])
        rig.folding.anchor_if_stepped()
        rig.folding.pump()
        after = len([x for x in rig.inputs if isinstance(x, Anchor)])
        assert (after > before) is anchored, step_s


async def test_what_was_recorded_folds_again_to_the_same_lines() -> None:
    rig = Rig()
    rig.folding.start()
    for k in range(40):
        await rig.clock.advance_to(100.0 + k * 0.5)
        rig.bus.inputs.publish(contacts(rig.clock.now_s(), run=k > 20))
        if k == 30:
            rig.bus.inputs.publish(Action(rig.clock.now_s(), "note", text="seen"))
        rig.folding.pump()
    said = [line for _, lines in rig.journal.puts for line in lines]
    assert isinstance(rig.inputs[0], Anchor)
    desk = Desk(make_show(WALL_S), rig.inputs[0])
    assert [line for x in rig.inputs for line in desk.step(x)] == said


async def test_a_record_taken_up_goes_on_without_saying_again_and_never_goes_back() -> None:
    first = Rig()
    first.folding.start()
    for k in range(20):
        await first.clock.advance_to(100.0 + k * 0.5)
        first.bus.inputs.publish(contacts(first.clock.now_s()))
        first.folding.pump()
    seq = first.folding.newest.seq if first.folding.newest is not None else -1
    again = Rig(past=first.inputs)
    assert again.heard.drain() == []
    assert again.journal.puts == []
    assert again.folding.resume_s(WALL_S + 500.0) == 600.0
    assert again.folding.resume_s(WALL_S - 500.0) == 109.5
    await again.clock.advance_to(600.0)
    again.folding.start()
    said = again.heard.drain()
    assert said[0].seq == seq + 1
    assert isinstance(again.inputs[0], Anchor)


async def test_only_what_the_desk_did_not_refuse_is_taken() -> None:
    rig = Rig()
    rig.folding.start()
    rig.bus.inputs.publish(Action(100.0, "speed", x=2.0))
    rig.bus.inputs.publish(Action(100.0, "note", text="seen"))
    rig.folding.pump()
    assert [a.action for a in rig.taken] == ["note"]
    refused = [line for line in rig.heard.drain() if isinstance(line, OperatorLine) and line.refused]
    assert [line.action for line in refused] == ["speed"]


async def test_an_error_answer_takes_no_number_of_the_desks() -> None:
    rig = Rig()
    rig.folding.start()
    rig.folding.pump()
    last = rig.heard.drain()[-1].seq
    assert rig.folding.error("no").seq == last
    rig.bus.inputs.publish(Action(100.0, "note", text="seen"))
    rig.folding.pump()
    assert rig.heard.drain()[0].seq == last + 1


async def test_a_record_with_a_reading_on_which_the_desk_failed_is_taken_up_again_and_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The reading is in the record, so the desk fails on it again; the show that outlived it then does so now."""
    real = Desk.step

    def step(self: Desk, x: Input) -> list[Line]:
        if isinstance(x, Action) and x.text == "break":
            raise ZeroDivisionError("of ours")
        return real(self, x)

    monkeypatch.setattr(Desk, "step", step)
    first = Rig()
    first.folding.start()
    for text in ("break", "whole"):
        first.bus.inputs.publish(Action(100.0, "note", text=text))
    first.folding.pump()
    again = Rig(past=first.inputs)
    again.folding.start()
    said = again.heard.drain()
    assert again.folding.faults == 1
    assert isinstance(said[0], ErrorLine)
    assert "1 input" in said[0].text
    assert again.folding.state().seq >= first.folding.state().seq


async def test_a_fault_of_ours_in_one_reading_is_said_and_recorded_and_the_watch_goes_on(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    rig = Rig()
    rig.folding.start()
    real = Desk.step

    def step(self: Desk, x: Input) -> list[Line]:
        if isinstance(x, Action) and x.text == "break":
            raise ZeroDivisionError("of ours")
        return real(self, x)

    monkeypatch.setattr(Desk, "step", step)
    rig.heard.drain()
    rig.bus.inputs.publish(Action(100.0, "note", text="break"))
    rig.bus.inputs.publish(Action(100.0, "note", text="whole"))
    rig.folding.pump()
    said = rig.heard.drain()
    assert [type(line) for line in said] == [ErrorLine, OperatorLine]
    assert "ZeroDivisionError" in said[0].text  # type: ignore[union-attr]
    assert [x.text for x in rig.inputs if isinstance(x, Action)] == ["break", "whole"]
    assert rig.folding.faults == 1
    assert "of ours" in caplog.text
    await asyncio.sleep(0)
