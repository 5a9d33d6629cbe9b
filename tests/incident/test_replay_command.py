"""``longlace replay`` and ``longlace verify`` as a user meets them."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from incident_records import cut

from interlock.cli import run
from interlock.journal import Record

Make = Callable[[str], Path]


def test_the_same_version_says_that_it_says_the_same_and_leaves_with_0(
    recorded: Make, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["replay", str(recorded("tear"))]) == 0
    with Record.open(recorded("tear")) as record:
        events = len(list(record.lines()))
    assert capsys.readouterr().out.startswith(f"the same {events} events to the last digit, from ")


def test_a_record_that_was_cut_off_is_replayed_as_far_as_it_goes_and_that_is_said(
    recorded: Make, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "cut.record"
    target.write_bytes(recorded("tear").read_bytes())
    cut(target)
    assert run(["replay", str(target)]) == 0
    assert "no end mark" in capsys.readouterr().out
    assert run(["replay", str(target), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["cut"] is True


def as_another_version_would_have(recorded: Make, target: Path) -> None:
    """The record of a desk for which the tear's switch was another one, and which said nothing of the acknowledgements."""
    target.write_bytes(recorded("tear").read_bytes())
    connection = sqlite3.connect(target)
    with connection:
        for n, data in connection.execute("SELECT n, data FROM lines").fetchall():
            lines = [x for x in json.loads(data) if x[1].get("code") != "gate-heat"]
            text = json.dumps(lines).replace('"switch": "spill"', '"switch": "tight"')
            connection.execute("UPDATE lines SET data = ? WHERE n = ?", (text, n))
    connection.close()


def test_what_another_version_said_differently_is_told_in_words_and_leaves_with_1(
    recorded: Make, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "other.record"
    as_another_version_would_have(recorded, target)
    assert run(["replay", str(target)]) == 1
    out = capsys.readouterr().out
    rows = out.splitlines()
    assert "differences from what version " in rows[0]
    summed_up = [r for r in rows if " × " in r]
    assert any(r.startswith("  only now: ") and r.endswith(" × alarm gate-heat") for r in summed_up)
    assert any(r.startswith("  with other figures: ") and "alarm slack-lost" in r for r in summed_up)
    assert any("alarm slack-lost 4>3" in r and "values.switch tight → spill" in r for r in rows)
    assert "Line" not in out  # the program's own names are for nobody else
    assert run(["replay", str(target), "--most", "2"]) == 1
    few = capsys.readouterr().out.splitlines()
    total = int(rows[0].split()[0])
    assert few[-1] == f"  and {total - 2} more"


def test_the_differences_as_json_bear_the_input_and_both_lines(
    recorded: Make, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "other.record"
    as_another_version_would_have(recorded, target)
    assert run(["replay", str(target), "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert found["same"] is False
    new = [d for d in found["differences"] if d["then"] is None]
    assert new
    assert all(d["now"]["code"] == "gate-heat" for d in new)
    other = [d for d in found["differences"] if d["then"] is not None and d["now"] is not None]
    assert other[0]["then"]["values"]["switch"] == "tight"
    assert other[0]["now"]["values"]["switch"] == "spill"
    assert all(isinstance(d["input"], int) for d in found["differences"])


def test_what_is_no_record_is_refused_with_2_and_a_damaged_one_with_1(
    recorded: Make, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["replay", str(tmp_path / "none.record")]) == 2
    damaged = tmp_path / "damaged.record"
    damaged.write_bytes(recorded("tear").read_bytes())
    connection = sqlite3.connect(damaged)
    with connection:
        connection.execute("UPDATE batches SET data = x'00' WHERE n = 5")
    connection.close()
    capsys.readouterr()
    assert run(["replay", str(damaged)]) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert "batch 5 cannot be read" in said.err


def test_verify_says_what_it_cannot_know_without_the_head_and_refuses_half_a_head(
    recorded: Make, capsys: pytest.CaptureFixture[str]
) -> None:
    record = str(recorded("tear"))
    assert run(["verify", record]) == 0
    out = capsys.readouterr().out
    assert "No head was given" in out
    head = out.split("head ")[1][:64]
    assert run(["verify", record, "--head", f" {head.upper()}"]) == 0
    assert "No head" not in capsys.readouterr().out
    assert run(["verify", record, "--head", head[:12]]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "64 hexadecimal digits" in said.err
