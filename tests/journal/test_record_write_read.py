"""What goes into a record comes out of it: all of it, in order, to the last bit."""

from __future__ import annotations

import math
import struct
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from record_samples import META, Begin, Health, fill, line, reading

from interlock.journal import JournalWriter, Record
from interlock.journal.packing import pack_inputs, unpack_inputs
from interlock.journal.schema import MOST_INPUTS
from interlock.signals import Contacts, Counts, Positions, Presence
from interlock.watch.inputs import Action, Anchor, Input, RecordHealth, Tick
from interlock.watch.state import ErrorLine, HouseLine, Line

floats = st.floats()
names = st.text(max_size=20)
stamps = {"at_s": floats, "fact_s": floats, "adapter": names}
inputs = st.one_of(
    st.builds(Contacts, **stamps, values=st.lists(st.tuples(names, st.booleans())).map(tuple)),
    st.builds(Counts, **stamps, values=st.lists(st.tuples(names, floats, st.none() | floats)).map(tuple)),
    st.builds(Positions, **stamps, values=st.lists(st.tuples(names, floats)).map(tuple)),
    st.builds(
        Presence,
        **stamps,
        state=st.sampled_from(["up", "gone", "restarted"]),
        lines=st.integers(0, 1 << 40),
        text=names,
    ),
    st.builds(Tick, at_s=floats),
    st.builds(Anchor, at_s=floats, wall_s=floats),
    st.builds(RecordHealth, at_s=floats, ok=st.booleans(), text=names),
    st.builds(Action, at_s=floats, action=names, text=st.none() | names, frame=st.none() | floats),
)


def bits(value: object) -> object:
    """A value with its floats as their 64 bits, so that NaN, −0.0 and the last digit are compared as well."""
    if isinstance(value, float):
        return struct.pack(">d", value)
    if isinstance(value, tuple | list):
        return [bits(v) for v in value]
    if hasattr(value, "__struct_fields__"):
        return (type(value).__name__, [bits(getattr(value, name)) for name in value.__struct_fields__])
    return value


def test_what_was_put_comes_back_in_order_with_its_lines(begin: Begin, path: Path) -> None:
    writer = begin()
    fill(writer, 0, 25)
    assert writer.flush()
    fill(writer, 25, 15)
    head = writer.close()
    with Record.open(path) as record:
        assert record.meta == META
        assert record.ended
        assert record.head == head
        assert list(record.inputs()) == [(n, reading(n)) for n in range(40)]
        assert list(record.lines()) == [(n, line(n)) for n in (0, 10, 20, 30)]
        verdict = record.verify(head)
    assert verdict.ok
    assert (verdict.inputs, verdict.lines) == (40, 4)


@given(st.lists(inputs, max_size=20))
def test_every_kind_of_input_comes_back_bit_for_bit(put: list[Input]) -> None:
    assert bits(unpack_inputs(pack_inputs(put))) == bits(put)


def test_the_check_above_knows_every_kind_of_input() -> None:
    made = {Contacts, Counts, Positions, Presence, Tick, Anchor, RecordHealth, Action}
    assert set(get_args(Input)) == made


def test_every_kind_comes_back_through_a_file_too(begin: Begin, path: Path) -> None:
    put: list[Input] = [
        Anchor(1.5, 1_796_498_700.25),
        Contacts(2.0, 1.9, "north", (("4.run", True),)),
        Counts(2.1, 2.0, "north", (("4.frames", math.inf, None),)),
        Positions(2.2, 2.2, "north", (("4>3.arm", -0.0),)),
        Presence(2.3, 2.3, "north", "gone", 7, 2, 1, "unplugged"),
        Tick(2.4),
        RecordHealth(2.5, False, "the disk is full"),
        Action(2.6, "shelve", subject="4>3", code="slack-low", for_s=600.0, by="Ines", group=12),
    ]
    writer = begin()
    for x in put:
        writer.put(x, [])
    writer.close()
    with Record.open(path) as record:
        assert bits([x for _, x in record.inputs()]) == bits(put)


def test_periodic_lines_are_left_out_and_changes_are_kept(begin: Begin, path: Path) -> None:
    def house(periodic: bool) -> Line:
        return HouseLine(
            seq=3, at="2026-12-05T20:25:00.000Z", show_s=None, house="4", phase="threaded", run=None, lamp=None,
            dowser=None, film=None, frame=None, expected_frame=None, sigma_fr=None, speed_fps=None, part=None,
            dark=False, periodic=periodic,
        )  # fmt: skip

    writer = begin()
    writer.put(reading(0), [house(True), line(0), house(False), house(True)])
    writer.close()
    with Record.open(path) as record:
        assert list(record.lines()) == [(0, line(0)), (0, house(False))]


@settings(max_examples=15, deadline=None)
@given(start=st.integers(-3, 130), sizes=st.lists(st.integers(0, 40), min_size=1, max_size=5))
def test_reading_may_begin_at_any_input(
    tmp_path_factory: pytest.TempPathFactory, start: int, sizes: list[int]
) -> None:
    path = tmp_path_factory.mktemp("any") / "r.record"
    writer = JournalWriter.create(path, META, on_health=Health())
    total = 0
    for size in sizes:
        fill(writer, total, size)
        total += size
        assert writer.flush()
    writer.close()
    with Record.open(path) as record:
        assert list(record.inputs(start)) == [(n, reading(n)) for n in range(max(0, start), total)]
        assert list(record.lines(start)) == [(n, line(n)) for n in range(total) if n % 10 == 0 and n >= start]


def test_a_burst_is_cut_into_batches_that_can_be_read_one_by_one(begin: Begin, path: Path) -> None:
    writer = begin()
    total = 2 * MOST_INPUTS + 7
    fill(writer, 0, total)
    writer.close()
    with Record.open(path) as record:
        verdict = record.verify()
        assert verdict.ok
        assert verdict.inputs == total
        assert verdict.batches >= 2 + 3
        assert [n for n, _ in record.inputs(total - 3)] == [total - 3, total - 2, total - 1]


def test_what_cannot_be_put_into_bytes_is_told_by_verify_and_costs_nothing_else(
    begin: Begin, path: Path
) -> None:
    writer = begin()
    writer.put(reading(0), [])
    writer.put(
        Presence(1.0, 1.0, "north", "gone", text="\ud800"),
        [ErrorLine(seq=0, at="", show_s=None, text="\ud800")],
    )
    assert writer.flush()
    writer.put(reading(2), [line(2)])
    head = writer.close()
    with Record.open(path) as record:
        verdict = record.verify(head)
        assert not verdict.ok
        assert "inputs 0 to 1" in verdict.sentence
        assert r"\ud800" in verdict.sentence
        assert [n for n, _ in record.inputs(2)] == [2]
        said = list(record.lines())
    assert isinstance(said[0][1], ErrorLine)
    assert said[0][1].text.startswith("could not be recorded")
    assert said[1] == (2, line(2))
