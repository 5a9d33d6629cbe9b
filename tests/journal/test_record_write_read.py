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

from interlock.errors import RecordError, RecordExists
from interlock.journal import JournalWriter, Record
from interlock.journal.schema import GENESIS, MOST_INPUTS, pack_inputs, unpack_inputs
from interlock.journal.sealer import Sealer
from interlock.journal.store import Store
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


def test_an_ended_record_is_one_file(ended: tuple[Path, str]) -> None:
    path, _ = ended
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def test_a_live_record_can_be_read_while_it_is_written(begin: Begin, path: Path) -> None:
    writer = begin()
    fill(writer, 0, 10)
    assert writer.flush()
    with Record.open(path) as record:
        assert not record.ended
        assert [n for n, _ in record.inputs()] == list(range(10))
        fill(writer, 10, 5)
        assert writer.flush()
        assert [n for n, _ in record.inputs()] == list(range(15))
        assert record.head == writer.stats().head
        verdict = record.verify()
        assert verdict.ok
        assert not verdict.ended
        assert "no end mark" in verdict.sentence


def test_the_main_file_alone_of_a_live_record_says_what_it_is_of(
    begin: Begin, path: Path, tmp_path: Path
) -> None:
    """Somebody copies it without its WAL: what is not there is missing, but it is a record."""
    writer = begin()
    fill(writer, 0, 10)
    assert writer.flush()
    copy = tmp_path / "copy.record"
    copy.write_bytes(path.read_bytes())
    with Record.open(copy) as record:
        assert record.meta == META
        assert record.verify().ok


def test_without_anything_waiting_the_thread_commits_by_itself_within_its_interval(
    begin: Begin, path: Path
) -> None:
    """Nobody flushes: the age of the last commit and the count tell that it happened all the same."""
    writer = begin()
    fill(writer, 0, 3)
    with writer._wake:
        assert writer._wake.wait_for(lambda: writer.stats().rows_written == 3, 5.0)
    stats = writer.stats()
    assert stats.rows_waiting == 0
    assert stats.last_commit_age_s is not None


def test_stats_say_what_is_written_and_what_waits(begin: Begin) -> None:
    writer = begin()
    fill(writer, 0, 30)
    assert writer.flush()
    stats = writer.stats()
    assert (stats.rows_written, stats.rows_waiting, stats.lines_written, stats.lost) == (30, 0, 3, 0)
    assert not stats.failing
    head = writer.close()
    stats = writer.stats()
    assert stats.one_file
    assert stats.head == head


def test_any_file_that_is_there_is_refused_and_left_as_it_is(path: Path, health: Health) -> None:
    path.parent.mkdir()
    path.write_text("somebody's notes")
    with pytest.raises(RecordExists, match="is there already"):
        JournalWriter.create(path, META, on_health=health)
    assert path.read_text() == "somebody's notes"
    with pytest.raises(RecordExists, match="is a folder"):
        JournalWriter.create(path.parent, META, on_health=health)


def test_a_wal_left_of_another_record_is_refused(path: Path, health: Health) -> None:
    """SQLite would play it into the new file."""
    path.parent.mkdir()
    Path(f"{path}-wal").write_bytes(b"left")
    with pytest.raises(RecordExists, match="-wal: is left of another record"):
        JournalWriter.create(path, META, on_health=health)


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


def test_putting_after_the_end_is_counted_and_does_no_harm(begin: Begin) -> None:
    writer = begin()
    head = writer.close()
    writer.put(reading(0), [])
    assert writer.stats().lost == 1
    assert writer.close() == head
    assert writer.flush()


def test_a_reader_that_stays_keeps_the_end_from_being_one_file_and_loses_nothing(
    begin: Begin, path: Path
) -> None:
    writer = begin()
    fill(writer, 0, 5)
    assert writer.flush()
    with Record.open(path) as reader:
        head = writer.close()
        assert reader.ended
    assert not writer.stats().one_file
    with Record.open(path) as record:
        assert record.verify(head).ok
        assert len(list(record.inputs())) == 5


def test_a_listener_that_fails_does_not_end_the_record(path: Path) -> None:
    def fails(ok: bool, text: str) -> None:
        raise RuntimeError("the loop is closed")

    path.parent.mkdir()
    blocker = path.parent / "folder"
    blocker.write_text("a file where a folder should be")
    writer = JournalWriter.create(blocker / "lantern.record", META, on_health=fails)
    fill(writer, 0, 5)
    assert not writer.flush(0.3)
    assert writer.stats().failing
    blocker.unlink()
    assert writer.flush()
    assert writer.stats().rows_written == 5
    writer.close()


def test_closing_says_what_is_not_on_the_disk(path: Path, health: Health) -> None:
    path.parent.mkdir()
    blocker = path.parent / "folder"
    blocker.write_text("a file where a folder should be")
    writer = JournalWriter.create(blocker / "lantern.record", META, on_health=health)
    fill(writer, 0, 5)
    with pytest.raises(RecordError, match="the last 5 inputs and the end mark are not on the disk"):
        writer.close(0.2)
    assert [ok for ok, _ in health.told] == [False]


def test_every_commit_is_forced_to_the_disk_and_readers_are_not_kept_out(path: Path) -> None:
    """What no killed process can show: only lost power would. So the settings themselves are looked at."""
    first = Sealer(lambda: 0.0, 0, GENESIS, 0).seal("start")
    for opens in (lambda: Store.create(path, first), lambda: Store.take(path)):
        store = opens()
        (synchronous,) = store._connection.execute("PRAGMA synchronous").fetchone()
        (mode,) = store._connection.execute("PRAGMA journal_mode").fetchone()
        store.close()
        assert (synchronous, mode) == (2, "wal")  # 2 is FULL
