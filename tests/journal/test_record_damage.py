"""A record that means nothing any more, wherever it was hurt: told as such, never taken for whole."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import zlib
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from record_samples import META, Ended, Health, check, fill, tamper

from interlock.errors import RecordAltered, RecordError
from interlock.journal import JournalWriter, Record
from interlock.journal.packing import pack_inputs
from interlock.signals import Counts


def test_bytes_that_fit_the_chain_and_mean_nothing_are_told_as_such(ended: Ended) -> None:
    """As a record of a version with other inputs would be: unaltered, and not to be understood."""
    path, _ = ended
    connection = sqlite3.connect(path, isolation_level=None)
    data = zlib.compress(b"\x91\x92\xa4what\x01")
    before = connection.execute("SELECT hash FROM batches WHERE n = 2").fetchone()[0]
    row = list(connection.execute("SELECT * FROM batches WHERE n = 3").fetchone())
    told = json.dumps([before, 3, "data", row[2], row[3], 1, 0, 0, 0, 8, 0], separators=(",", ":")).encode()
    digest = hashlib.sha256(told + b"\n\x91\x92\xa4what\x01").hexdigest()
    connection.execute("DELETE FROM lines WHERE n = 3")
    connection.execute(
        "UPDATE batches SET data = ?, inputs = 1, line_count = 0, hash = ? WHERE n = 3", (data, digest)
    )
    connection.close()
    with Record.open(path) as record:
        problem = record.verify().problems[0]
        assert problem.batch == 3
        assert "cannot be decoded" in problem.text
        with pytest.raises(RecordAltered, match="batch 3 cannot be read"):
            list(record.inputs())


def test_a_batch_that_would_unpack_to_gigabytes_is_refused(
    ended: Ended, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("interlock.journal.packing.MOST_BYTES", 1_000)
    path, _ = ended
    assert "batch 1 (inputs 0 to 19) is damaged: its inputs cannot be unpacked" in check(path).sentence


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM batches WHERE n = 0",
        "UPDATE batches SET kind = 'data' WHERE n = 0",
        "UPDATE batches SET note = '{}' WHERE n = 0",
        "UPDATE batches SET note = 7 WHERE n = 0",
        "DROP TABLE batches",
        "ALTER TABLE batches DROP COLUMN kind",
    ],
)
def test_a_record_without_its_beginning_is_altered_and_not_just_something_else(
    ended: Ended, statement: str
) -> None:
    """contract.md: verify exits 1 for any record that is not whole, 2 only for what is no record."""
    path, _ = ended
    tamper(path, statement)
    with pytest.raises(RecordAltered) as caught:
        Record.open(path)
    assert caught.value.exit_code == 1
    assert str(caught.value).startswith(f"{path}: ")


@pytest.mark.parametrize(
    ("column", "read"),
    [("first_input", lambda r: list(r.inputs(45))), ("wall_ms", lambda r: r.last_wall_s)],
)
def test_words_where_numbers_were_are_told_by_whoever_reads_them(
    ended: Ended, column: str, read: Callable[[Record], object]
) -> None:
    path, _ = ended
    tamper(path, f"UPDATE batches SET {column} = 'many' WHERE n >= 3")
    with Record.open(path) as record:
        assert not record.verify().ok
        with pytest.raises(RecordAltered, match=r"words where its numbers were"):
            read(record)


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, str]:
    path = tmp_path_factory.mktemp("large") / "r.record"
    writer = JournalWriter.create(path, META, on_health=Health())
    for n in range(12):
        fill(writer, n * 40, 40)
        assert writer.flush()
    head = writer.close()
    return path.read_bytes(), head


@settings(max_examples=300, deadline=None)
@given(data=st.data())
def test_a_changed_byte_anywhere_is_found_or_changes_nothing_that_is_read(
    large: tuple[bytes, str], tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Free pages and the like may hold anything; whatever can be read of a record that verifies is as it was written."""
    whole, head = large
    at = data.draw(st.integers(0, len(whole) - 1), label="at")
    flip = data.draw(st.integers(1, 255), label="flip")
    path = tmp_path_factory.mktemp("flipped") / "r.record"
    path.write_bytes(whole[:at] + bytes([whole[at] ^ flip]) + whole[at + 1 :])
    try:
        with Record.open(path) as record:
            if not record.verify(head).ok:
                return
            inputs = [x for _, x in record.inputs()]
            lines = list(record.lines())
    except RecordError:
        return
    original = path.with_name("original")
    original.write_bytes(whole)
    with Record.open(original) as record:
        assert pack_inputs(inputs) == pack_inputs([x for _, x in record.inputs()])
        assert lines == list(record.lines())
    assert isinstance(inputs[0], Counts)


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_a_file_cut_short_anywhere_never_passes_for_whole(
    large: tuple[bytes, str], tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    whole, head = large
    size = data.draw(st.integers(0, len(whole) - 1), label="size")
    path = tmp_path_factory.mktemp("cut") / "r.record"
    path.write_bytes(whole[:size])
    try:
        verdict = check(path, head)
    except RecordError as error:
        told = str(error)
    else:
        told = "" if verdict.ok else f"{path}: {verdict.sentence}"
    assert told.startswith(str(path))
