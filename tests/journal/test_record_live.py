"""A record while it is written: who may read beside it, what its writer says of itself, and how it ends."""

from __future__ import annotations

from pathlib import Path

import pytest
from record_samples import META, Begin, Health, fill, reading

from interlock.errors import RecordError, RecordExists
from interlock.journal import JournalWriter, Record
from interlock.journal.schema import GENESIS
from interlock.journal.sealer import Sealer
from interlock.journal.store import Store


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


def test_what_was_put_is_committed_though_nobody_flushes(begin: Begin) -> None:
    """The count of rows and the age of the last commit tell it."""
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


def test_a_listener_that_fails_does_not_end_the_record(blocker: Path) -> None:
    def fails(ok: bool, text: str) -> None:
        raise RuntimeError("the loop is closed")

    writer = JournalWriter.create(blocker / "lantern.record", META, on_health=fails)
    fill(writer, 0, 5)
    assert not writer.flush(0.3)
    assert writer.stats().failing
    blocker.unlink()
    assert writer.flush()
    assert writer.stats().rows_written == 5
    writer.close()


def test_closing_says_what_is_not_on_the_disk(blocker: Path, health: Health) -> None:
    writer = JournalWriter.create(blocker / "lantern.record", META, on_health=health)
    fill(writer, 0, 5)
    assert not writer.flush(0.1)
    assert (writer.stats().rows_written, writer.stats().rows_waiting) == (0, 5)
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
