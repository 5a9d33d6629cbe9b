"""Where records live, what they are called, and what the list says of them."""

from __future__ import annotations

import shutil
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from record_samples import META, Health, fill, tamper

from interlock.journal import JournalWriter, list_records, new_path, records_home

STARTED_S = META.started_wall_s  # 2026-12-05 19:25 in the Azores


def write(path: Path, started_s: float, *, end: bool = True) -> None:
    meta = msgspec.structs.replace(META, started_wall_s=started_s, title=f"Show of {started_s:.0f}")
    writer = JournalWriter.create(path, meta, on_health=Health())
    fill(writer, 0, 31)
    assert writer.flush()
    if not end:
        shutil.copy(path, path.with_suffix(".keep"))
        shutil.copy(f"{path}-wal", f"{path}.keep-wal")
    writer.close()
    if not end:
        path.with_suffix(".keep").rename(path)
        Path(f"{path}.keep-wal").rename(f"{path}-wal")


def test_records_live_in_the_users_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert records_home() == tmp_path / "longlace" / "records"


def test_a_name_is_made_of_the_title_and_the_local_start(tmp_path: Path) -> None:
    path = new_path("Lantern Weather: the 2nd run!", STARTED_S, "Atlantic/Azores", tmp_path)
    assert path == tmp_path / "lantern-weather-the-2nd-run-2026-12-05-192500.record"
    path.touch()
    assert new_path("Lantern Weather: the 2nd run!", STARTED_S, "Atlantic/Azores", tmp_path).name == (
        "lantern-weather-the-2nd-run-2026-12-05-192500-2.record"
    )


def test_an_unknown_zone_is_utc_and_a_title_of_nothing_is_a_show(tmp_path: Path) -> None:
    assert new_path("/../", STARTED_S, "Nowhere/../x", tmp_path).name == "show-2026-12-05-202500.record"


@given(st.text())
def test_no_title_leads_out_of_the_folder_or_makes_a_name_too_long(title: str) -> None:
    path = new_path(title, STARTED_S, "UTC", Path("/nowhere/records"))
    assert path.parent == Path("/nowhere/records")
    assert len(path.name.encode()) <= 255
    assert not path.name.startswith((".", "-"))
    assert path.name.isprintable()


def test_the_list_is_newest_first_with_what_cannot_be_read_last(tmp_path: Path) -> None:
    write(tmp_path / "old.record", 1_000_000_000.0)
    write(tmp_path / "new.record", 1_900_000_000.0)
    write(tmp_path / "cut.record", 1_500_000_000.0, end=False)
    write(tmp_path / "bad.record", 1_600_000_000.0)
    tamper(tmp_path / "bad.record", "UPDATE batches SET wall_ms = 0 WHERE kind = 'end'")
    (tmp_path / "aaa.record").write_text("notes")
    (tmp_path / "notes.txt").write_text("no record by its name")
    listed = list_records(tmp_path)
    assert [(r.path.name, r.condition) for r in listed] == [
        ("new.record", "ended"),
        ("bad.record", "altered"),
        ("cut.record", "not ended"),
        ("old.record", "ended"),
        ("aaa.record", "unreadable"),
    ]
    first = listed[0]
    assert first.title == "Show of 1900000000"
    assert first.length_s == pytest.approx(3.0)  # 31 inputs, a tenth of a second apart
    assert first.size_bytes == first.path.stat().st_size
    assert first.timezone == "Atlantic/Azores"
    assert first.rehearsal
    assert listed[2].size_bytes > listed[2].path.stat().st_size  # its WAL is part of it
    assert "no SQLite file" in listed[-1].text


def test_a_record_without_inputs_has_no_length(tmp_path: Path) -> None:
    JournalWriter.create(tmp_path / "r.record", META, on_health=Health()).close()
    (only,) = list_records(tmp_path)
    assert (only.condition, only.length_s) == ("ended", None)


def test_titles_reach_the_list_cleaned(tmp_path: Path) -> None:
    meta = msgspec.structs.replace(META, title="\x1b[31mRed\u202e")
    JournalWriter.create(tmp_path / "r.record", meta, on_health=Health()).close()
    assert [r.title for r in list_records(tmp_path)] == ["Red"]


def test_a_folder_that_is_not_there_holds_no_records_and_is_not_made(tmp_path: Path) -> None:
    assert list_records(tmp_path / "records") == []
    assert not (tmp_path / "records").exists()


def test_listing_changes_nothing(tmp_path: Path) -> None:
    write(tmp_path / "r.record", 1_000_000_000.0)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    list_records(tmp_path)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before
