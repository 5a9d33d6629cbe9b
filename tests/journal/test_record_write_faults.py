"""Writing that fails: tried again with growing pauses, nothing written twice, and what memory could not hold is said."""

from __future__ import annotations

from pathlib import Path

import pytest
from record_samples import Begin, Health, fill, reading, whole

from interlock.journal import Record, backlog, writer
from interlock.journal.store import Store


def test_pauses_between_attempts_grow_and_a_flush_does_not_wait_for_them(
    begin: Begin, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writer, "INTERVAL_S", 0.002)
    tries = []

    def write(self: backlog.Backlog) -> None:
        tries.append(self)
        raise OSError(5, "Input/output error")

    right = backlog.Backlog.write
    monkeypatch.setattr(backlog.Backlog, "write", write)
    journal = begin()
    fill(journal, 0, 5)
    pauses = []
    with journal._wake:
        assert not journal._wake.wait_for(lambda: pauses.append(journal._pauses) or False, 0.5)  # type: ignore[func-returns-value]
    assert not journal.flush(0.2)
    assert journal._pauses == writer.LONGEST_PAUSE
    assert pauses == sorted(pauses)
    assert 7 <= len(tries) <= 20, "0.7 s of 2 ms cycles: a try a cycle would be hundreds"
    monkeypatch.setattr(backlog.Backlog, "write", right)
    assert journal.flush()
    whole(path, journal.close(), 5)


def test_a_fault_of_the_programs_own_does_not_end_the_record(
    begin: Begin, path: Path, health: Health, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal = begin()
    assert journal.flush()
    with monkeypatch.context() as patch:
        patch.setattr(Store, "write", lambda *_: 1 / 0)
        fill(journal, 0, 5)
        assert not journal.flush(0.3)
        assert "ZeroDivisionError" in health.told[0][1]
    assert journal.flush()
    whole(path, journal.close(), 5)


def test_a_commit_that_reported_an_error_but_reached_the_disk_is_not_written_twice(
    begin: Begin, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal = begin()
    assert journal.flush()
    right = Store.write

    def reports_wrongly(self: Store, batches: object) -> None:
        right(self, batches)  # type: ignore[arg-type]
        raise OSError(5, "Input/output error")

    with monkeypatch.context() as patch:
        patch.setattr(Store, "write", reports_wrongly)
        fill(journal, 0, 5)
        assert not journal.flush(0.2)
    fill(journal, 5, 5)
    assert journal.flush()
    whole(path, journal.close(), 10)


def test_with_memory_full_the_oldest_are_kept_and_the_gap_stands_in_the_record(
    begin: Begin, blocker: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writer, "MOST_WAITING", 40)
    monkeypatch.setattr(writer, "MOST_SEALED_BYTES", 1_200)
    at = blocker / "r.record"
    journal = begin(at)
    fill(journal, 0, 30)
    assert not journal.flush(0.1)  # sealed, over the bound of bytes
    fill(journal, 30, 40)
    assert not journal.flush(0.1)
    fill(journal, 70, 25)  # no room for any of these
    assert journal.stats().lost == 25
    blocker.unlink()
    assert journal.flush()
    fill(journal, 95, 5)
    head = journal.close()
    with Record.open(at) as record:
        got = list(record.inputs())
        assert got == [(n, reading(n)) for n in [*range(70), *range(95, 100)]]
        assert record.next_input == 100
        verdict = record.verify(head)
        assert not verdict.ok
        assert verdict.lost == 25
        assert "25 inputs before number 95 were never written: memory was full" in verdict.sentence
