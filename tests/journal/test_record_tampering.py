"""Whoever changes a record is found out, and where."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import zlib
from pathlib import Path

import pytest
from record_samples import Ended, check, tamper


def test_an_untouched_record_is_whole_also_against_its_head(ended: Ended) -> None:
    path, head = ended
    verdict = check(path, f" {head.upper()}\n")
    assert verdict.ok
    assert verdict.ended
    assert verdict.head == head
    assert verdict.last_good == 4
    assert verdict.sentence.startswith("whole and unaltered: 5 batches with 50 inputs and 5 lines")


def test_the_head_can_be_reckoned_with_the_standard_library_alone(ended: Ended) -> None:
    """docs/record.md, "Verify by hand", word for word: shares no code with the program."""
    path, head = ended
    text = (Path(__file__).parents[2] / "docs" / "record.md").read_text()
    recipe = text.split("```python\n")[1].split("```")[0]
    found: dict[str, object] = {"path": str(path)}
    exec(recipe, found)
    assert found["hash_"] == head


def test_the_hashes_are_those_of_the_described_bytes(ended: Ended) -> None:
    """The second batch by hand, with hashlib (FIPS 180-4) and nothing of the program."""
    path, _ = ended
    connection = sqlite3.connect(path)
    before = connection.execute("SELECT hash FROM batches WHERE n = 0").fetchone()[0]
    n, kind, wall, first, inputs, count, lost, digest, note, data = connection.execute(
        "SELECT * FROM batches WHERE n = 1"
    ).fetchone()
    lines = connection.execute("SELECT data FROM lines WHERE n = 1").fetchone()[0]
    connection.close()
    packed = zlib.decompress(data)
    head = [
        before,
        n,
        kind,
        wall,
        first,
        inputs,
        count,
        lost,
        len(note.encode()),
        len(packed),
        len(lines.encode()),
    ]
    told = json.dumps(head, separators=(",", ":")).encode() + b"\n" + note.encode() + packed + lines.encode()
    assert hashlib.sha256(told).hexdigest() == digest


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE lines SET data = replace(data, 'strike-lamp', 'open-dowser') WHERE n = 2",
        "UPDATE batches SET wall_ms = wall_ms + 1 WHERE n = 2",
        "UPDATE batches SET kind = 'resumed' WHERE n = 2",
        "UPDATE batches SET first_input = first_input + 1 WHERE n = 2",
        "UPDATE batches SET note = ' ' WHERE n = 2",
        "UPDATE batches SET data = (SELECT data FROM batches WHERE n = 1) WHERE n = 2",
        "UPDATE batches SET data = x'00' WHERE n = 2",
        "UPDATE batches SET data = x'' WHERE n = 2",
        "UPDATE batches SET data = CAST(data || x'00' AS BLOB) WHERE n = 2",
        "UPDATE batches SET data = 7 WHERE n = 2",
        "UPDATE batches SET inputs = 'many' WHERE n = 2",
        "UPDATE batches SET lost = 1 WHERE n = 2",
        "DELETE FROM lines WHERE n = 2",
    ],
)
def test_an_edit_is_found_in_the_batch_where_it_was_made(ended: Ended, statement: str) -> None:
    path, _ = ended
    tamper(path, statement)
    verdict = check(path)
    assert not verdict.ok
    assert {p.batch for p in verdict.problems} == {2}
    assert "batch 2 " in verdict.sentence
    assert verdict.last_good == 1


def test_an_edit_with_its_hash_made_to_fit_is_found_by_the_next_batch(ended: Ended) -> None:
    path, _ = ended
    tamper(path, "UPDATE batches SET hash = lower(hex(zeroblob(32))) WHERE n = 2")
    verdict = check(path)
    assert not verdict.ok
    assert {p.batch for p in verdict.problems} == {2, 3}


def test_an_edit_of_the_last_batch_with_a_hash_that_fits_is_found_by_the_head(ended: Ended) -> None:
    """Who may write the file can write the whole chain anew: only the head printed at the end of the show tells."""
    path, head = ended
    connection = sqlite3.connect(path, isolation_level=None)
    before = connection.execute("SELECT hash FROM batches WHERE n = 3").fetchone()[0]
    row = list(connection.execute("SELECT * FROM batches WHERE n = 4").fetchone())
    row[2] += 60_000
    told = json.dumps([before, *row[:7], 0, 0, 0], separators=(",", ":")).encode() + b"\n"
    connection.execute(
        "UPDATE batches SET wall_ms = ?, hash = ? WHERE n = 4", (row[2], hashlib.sha256(told).hexdigest())
    )
    connection.close()
    assert check(path).ok
    verdict = check(path, head)
    assert not verdict.ok
    assert "does not reach the head" in verdict.sentence


def test_a_deletion_is_found(ended: Ended) -> None:
    path, _ = ended
    tamper(path, "DELETE FROM batches WHERE n IN (1, 2)", "DELETE FROM lines WHERE n IN (1, 2)")
    verdict = check(path)
    assert not verdict.ok
    assert [p.text for p in verdict.problems] == ["batches 1 to 2 are missing"]  # and not batch 3 as well
    assert verdict.last_good == 0


def test_a_deletion_with_the_numbers_closed_up_is_found(ended: Ended) -> None:
    path, _ = ended
    tamper(
        path,
        "DELETE FROM batches WHERE n = 2",
        "DELETE FROM lines WHERE n = 2",
        "UPDATE batches SET n = n - 1 WHERE n > 2",
        "UPDATE lines SET n = n - 1 WHERE n > 2",
    )
    verdict = check(path)
    assert not verdict.ok
    assert verdict.problems[0].batch == 2
    assert verdict.last_good == 1


@pytest.mark.parametrize(("one", "other"), [(1, 2), (1, 3), (2, 3)])
def test_a_reordering_is_found_and_named_as_one(ended: Ended, one: int, other: int) -> None:
    path, _ = ended
    swap = [
        f"UPDATE {table} SET n = CASE n WHEN {one} THEN -1 WHEN {other} THEN -2 END WHERE n IN ({one}, {other})"
        for table in ("batches", "lines")
    ]
    back = [
        f"UPDATE {table} SET n = CASE n WHEN -1 THEN {other} ELSE {one} END WHERE n < 0"
        for table in ("batches", "lines")
    ]
    tamper(path, *swap, *back)
    verdict = check(path)
    assert not verdict.ok
    texts = [p.text for p in verdict.problems]
    assert f"what stands as batch {one} was written as batch {other}: it has been moved" in texts
    assert f"what stands as batch {other} was written as batch {one}: it has been moved" in texts
    assert not any("altered" in text for text in texts)
    assert verdict.last_good == one - 1


def test_a_truncation_looks_like_a_crash_and_is_found_against_the_head(ended: Ended) -> None:
    path, head = ended
    tamper(path, "DELETE FROM batches WHERE n >= 3", "DELETE FROM lines WHERE n >= 3")
    alone = check(path)
    assert alone.ok
    assert not alone.ended
    assert "cut off there, with no end mark" in alone.sentence
    verdict = check(path, head)
    assert not verdict.ok
    assert verdict.problems[0].text.startswith(
        "it does not reach the head that was given: it has been cut short after batch 2"
    )
    assert verdict.last_good == 2


def test_what_was_added_after_the_end_is_found(ended: Ended) -> None:
    path, head = ended
    connection = sqlite3.connect(path, isolation_level=None)
    row = list(connection.execute("SELECT * FROM batches WHERE n = 4").fetchone())
    told = (
        json.dumps([row[7], 5, "data", row[2], row[3], 0, 0, 0, 0, 0, 0], separators=(",", ":")).encode()
        + b"\n"
    )
    connection.execute(
        "INSERT INTO batches VALUES (5, 'data', ?, ?, 0, 0, 0, ?, '', x'')",
        (row[2], row[3], hashlib.sha256(told).hexdigest()),
    )
    connection.close()
    assert "batch 5 stands where none of its kind can" in check(path).sentence
    assert "1 batches were added after the head that was given" in check(path, head).sentence


def test_lines_and_batches_put_in_are_found(ended: Ended) -> None:
    path, _ = ended
    tamper(path, "INSERT INTO lines VALUES (99, '[]')")
    assert "lines were added to batch 99" in check(path).sentence
    tamper(path, "INSERT INTO batches VALUES (-3, 'data', 0, 0, 0, 0, 0, '', '', x'')")
    assert "was put before the first" in check(path).sentence
