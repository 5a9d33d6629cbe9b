"""The desk as a fold: more ticks change nothing, the same inputs give the same lines, and a snapshot has no effect."""

from __future__ import annotations

import random

import msgspec
from hypothesis import given, settings
from hypothesis import strategies as st
from rig import WALL0_S, Rig, make_show

from interlock.signals import Contacts, Counts, Positions, Presence
from interlock.watch.desk import Desk
from interlock.watch.inputs import Anchor, Input, Tick
from interlock.watch.state import Line, encode


def _recorded() -> tuple[Rig, list[bytes]]:
    rig = Rig(make_show(3, minutes=0.5))
    rig.start(60.0, late={2: 1.2})
    rig.silent = [("a1", 75.0, 78.0)]
    rig.go(90.0)
    rig.do("ack", subject="3", code="start-late")
    rig.truth[1].spans = [(60.0, 92.0)]
    rig.go(100.0)
    return rig, [encode(x) for x in rig.lines]


RIG, LINES = _recorded()


def _fold(inputs: list[object], **options: object) -> list[Line]:
    desk = Desk(RIG.show, Anchor(0.0, WALL0_S), **options)  # type: ignore[arg-type]
    return [line for x in inputs for line in desk.step(x)]  # type: ignore[arg-type]


def test_the_same_inputs_give_the_same_lines_to_the_last_digit() -> None:
    assert [encode(x) for x in _fold(RIG.inputs)] == LINES


def test_lines_are_numbered_from_zero_without_a_gap() -> None:
    assert [x.seq for x in RIG.lines] == list(range(len(RIG.lines)))


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_more_ticks_change_no_line(seed: int) -> None:
    rng = random.Random(seed)
    with_ticks: list[object] = []
    last = 0.0
    for x in RIG.inputs:
        at_s = x.at_s  # type: ignore[attr-defined]
        with_ticks += [Tick(t) for t in sorted(rng.uniform(last, at_s) for _ in range(rng.randrange(3)))]
        with_ticks.append(x)
        last = max(last, at_s)
    assert [encode(x) for x in _fold(with_ticks)] == LINES


def test_a_snapshot_changes_nothing() -> None:
    desk = Desk(RIG.show, Anchor(0.0, WALL0_S))
    lines: list[bytes] = []
    for n, x in enumerate(RIG.inputs):
        lines += [encode(line) for line in desk.step(x)]  # type: ignore[arg-type]
        if n % 7 == 0:
            desk.state()
            desk.next_due_s()
    assert lines == LINES


def test_inputs_that_went_through_the_record_fold_to_the_same_lines() -> None:
    decoder = msgspec.json.Decoder(Contacts | Counts | Positions | Presence | Tick | Anchor)
    kept = [x for x in RIG.inputs if not hasattr(x, "action")]
    stored = [msgspec.json.encode(x) for x in kept]
    again = [decoder.decode(s) for s in stored]
    assert [encode(x) for x in _fold(kept)] == [encode(x) for x in _fold(list(again))]


def test_time_never_goes_back_though_an_input_may_be_dated_before_the_last() -> None:
    desk = Desk(RIG.show, Anchor(0.0, WALL0_S))
    desk.step(Tick(50.0))
    lines = desk.step(Presence(40.0, 40.0, "a1", "up"))
    assert {x.at for x in lines} == {"2027-01-15T08:00:50.000Z"}


readings = st.one_of(
    st.builds(
        Contacts, at_s=st.floats(0, 200), fact_s=st.floats(0, 200), adapter=st.sampled_from(["a1", "a2", "x"]),
        values=st.lists(
            st.tuples(st.sampled_from(["1.run", "2.run", "1.lamp", "2.dowser", "1.film", "9.run", "nonsense"]), st.booleans()),
            max_size=4,
        ).map(tuple),
    ),
    st.builds(
        Counts, at_s=st.floats(0, 200), fact_s=st.floats(0, 200), adapter=st.sampled_from(["a1", "a2"]),
        values=st.lists(
            st.tuples(
                st.sampled_from(["1.frames", "2.frames", "9.frames"]), st.floats(0, 1e6),
                st.none() | st.floats(0, 200),
            ),
            max_size=3,
        ).map(tuple),
    ),
    st.builds(
        Presence, at_s=st.floats(0, 200), fact_s=st.floats(0, 200), adapter=st.sampled_from(["a1", "a2"]),
        state=st.sampled_from(["up", "gone", "restarted"]),
    ),
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(st.lists(readings, max_size=40))
def test_no_reading_however_wrong_stops_the_desk(inputs: list[Input]) -> None:
    desk = Desk(make_show(2), Anchor(0.0, WALL0_S))
    seq = 0
    for x in [*inputs, Tick(250.0)]:
        for line in desk.step(x):
            assert line.seq == seq
            seq += 1
    assert len(desk.state().houses) == 2
