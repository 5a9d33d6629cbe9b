"""What is no record is told as what it is; what was cut off can be gone on with, and nothing else can."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import msgspec
import pytest
from record_samples import META, Begin, Health, fill, line, reading, tamper

from interlock.errors import NotARecord, RecordAltered, RecordError, RecordExists
from interlock.journal import JournalWriter, Record, files, reader, schema, store
from interlock.journal.schema import SCHEMA_VERSION

Ended = tuple[Path, str]


@pytest.fixture
def cut_off(begin: Begin, path: Path, tmp_path: Path) -> Path:
    """A record of 30 inputs as a killed process leaves it: a copy with its WAL, taken while it is written."""
    writer = begin()
    fill(writer, 0, 30)
    assert writer.flush()
    copy = tmp_path / "cut" / "r.record"
    copy.parent.mkdir()
    shutil.copy(path, copy)
    shutil.copy(f"{path}-wal", f"{copy}-wal")
    writer.close()
    return copy


def resume(path: Path, source: str = META.show_source) -> JournalWriter:
    return JournalWriter.resume(path, source, on_health=Health())


def not_there(path: Path) -> None:
    path.unlink(missing_ok=True)


def empty(path: Path) -> None:
    path.write_bytes(b"")


def text(path: Path) -> None:
    path.write_text("SQLite is not what this is" * 10)


def stub(path: Path) -> None:
    path.write_bytes(b"SQLite format 3\x00")


def of_another_program(path: Path) -> None:
    path.unlink()
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE batches (n)")
    connection.commit()
    connection.close()


def newer(path: Path) -> None:
    tamper(path, f"PRAGMA user_version = {SCHEMA_VERSION + 1}")


def older_than_any(path: Path) -> None:
    tamper(path, "PRAGMA user_version = 0")


def folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (not_there, "there is no such file"),
        (empty, "is empty"),
        (text, "is no record (no SQLite file)"),
        (stub, "is no record (no SQLite file)"),
        (of_another_program, "is a SQLite file of another program"),
        (newer, f"was written by a newer version of this program (its form is {SCHEMA_VERSION + 1}"),
        (older_than_any, "its form 0 was never in use"),
        (folder, "is a folder"),
    ],
)
def test_what_is_no_record_is_named_in_one_sentence_and_left_as_it_is(ended: Ended, make, said: str) -> None:  # type: ignore[no-untyped-def]
    path, _ = ended
    make(path)
    before = path.read_bytes() if path.is_file() else None
    for opens in (Record.open, resume):
        with pytest.raises(NotARecord) as caught:
            opens(path)
        assert str(caught.value).startswith(f"{path}: {said}")
        assert caught.value.exit_code == 2
    assert (path.read_bytes() if path.is_file() else None) == before


def test_a_cut_off_record_is_gone_on_with_as_one_chain(cut_off: Path) -> None:
    writer = resume(cut_off)
    fill(writer, 30, 20)
    head = writer.close()
    with Record.open(cut_off) as record:
        verdict = record.verify(head)
        assert verdict.ok, verdict.sentence
        assert verdict.ended
        assert record.meta == META
        assert list(record.inputs()) == [(n, reading(n)) for n in range(50)]
        assert list(record.lines()) == [(n, line(n)) for n in (0, 10, 20, 30, 40)]
        kinds = [row[0] for row in record._rows("SELECT kind FROM batches ORDER BY n")]
    assert kinds[0] == b"start"
    assert kinds.count(b"resumed") == 1
    assert [p.name for p in cut_off.parent.iterdir()] == [cut_off.name]


def test_another_show_file_is_refused_to_the_letter(cut_off: Path) -> None:
    with pytest.raises(RecordExists, match=r"is the record of another show file \(Lantern Weather\)"):
        resume(cut_off, META.show_source + " ")


def test_an_ended_record_is_refused(ended: Ended) -> None:
    path, head = ended
    with pytest.raises(RecordExists, match="is ended and closed"):
        resume(path)
    with Record.open(path) as record:
        assert record.verify(head).ok


def test_an_altered_record_is_not_gone_on_with(cut_off: Path) -> None:
    tamper(cut_off, "UPDATE lines SET data = replace(data, 'strike-lamp', 'open-dowser')")
    with pytest.raises(RecordAltered, match="has been altered"):
        resume(cut_off)


def test_a_record_in_a_folder_that_cannot_be_written_says_so(
    cut_off: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(path: Path) -> None:
        raise sqlite3.OperationalError("attempt to write a readonly database")

    monkeypatch.setattr(store.Store, "take", refuses)
    with pytest.raises(RecordError, match="cannot be gone on with: attempt to write"):
        resume(cut_off)


def to_the_second_form(connection: sqlite3.Connection) -> None:
    connection.execute("CREATE TABLE marks (n INTEGER PRIMARY KEY)")


@pytest.fixture
def tomorrow(monkeypatch: pytest.MonkeyPatch) -> None:
    """A later version of this program, which knows a second form."""
    monkeypatch.setattr(schema, "MIGRATIONS", [to_the_second_form])
    for module in (schema, store, reader, files):
        monkeypatch.setattr(module, "SCHEMA_VERSION", 2)


def has_marks(path: Path) -> bool:
    connection = sqlite3.connect(path)
    found = connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'marks'").fetchone()[0]
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    connection.close()
    assert version == (2 if found else 1)
    return bool(found)


def test_an_older_form_is_read_without_touching_the_file(ended: Ended, tomorrow: None) -> None:
    path, head = ended
    before = path.read_bytes()
    with Record.open(path) as record:
        assert record._rows("SELECT n FROM marks") == []
        assert record.verify(head).ok
        assert len(list(record.inputs())) == 50
    assert path.read_bytes() == before


def test_resuming_brings_an_older_form_up_to_date_and_keeps_the_chain(cut_off: Path, tomorrow: None) -> None:
    writer = resume(cut_off)
    fill(writer, 30, 5)
    head = writer.close()
    assert has_marks(cut_off)
    with Record.open(cut_off) as record:
        assert record.verify(head).ok
        assert len(list(record.inputs())) == 35


def test_there_is_a_migration_for_every_step_up_to_todays_form() -> None:
    assert len(schema.MIGRATIONS) == SCHEMA_VERSION - 1


def test_a_path_that_is_no_text_does_not_keep_the_record_from_being_begun(path: Path) -> None:
    meta = msgspec.structs.replace(META, show_path="/shows/\udcff.toml")
    JournalWriter.create(path, meta, on_health=Health()).close()
    with Record.open(path) as record:
        assert record.meta.show_path == "/shows/\\udcff.toml"
