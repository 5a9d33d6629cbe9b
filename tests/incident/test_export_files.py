"""Exports open in other programs and say what the record says."""

from __future__ import annotations

import csv
import json
import re
import sqlite3
from collections import Counter
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from incident_records import folded_again

from interlock.cli import run
from interlock.incident.export import _csv_cell
from interlock.incident.tables import TABLES
from interlock.journal import Record
from interlock.signals import Counts
from interlock.watch.inputs import Action

Make = Callable[[str], Path]
ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def folders(recorded: Make, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    made = {}
    for sort in ("csv", "parquet", "jsonl"):
        made[sort] = tmp_path_factory.mktemp(sort) / "out"
        assert run(["export", str(recorded("tear")), "--out", str(made[sort]), "--format", sort]) == 0
    return made


def test_csv_and_parquet_open_in_pandas_and_duckdb_with_the_same_content(folders: dict[str, Path]) -> None:
    duckdb = pytest.importorskip("duckdb")
    pandas = pytest.importorskip("pandas")
    base = duckdb.connect()
    for table, columns in TABLES.items():
        names = [c.name for c in columns]
        numbers = [c.name for c in columns if c.type in ("number", "whole")]
        csv_file, parquet_file = folders["csv"] / f"{table}.csv", folders["parquet"] / f"{table}.parquet"
        text = [c.name for c in columns if c.type == "text"]
        a = pandas.read_csv(csv_file, dtype=dict.fromkeys(text, "str"), low_memory=False)
        b = pandas.read_parquet(parquet_file)
        assert list(a.columns) == list(b.columns) == names
        assert len(a) == len(b) > 0
        for name in numbers:
            pandas.testing.assert_series_equal(a[name].astype(float), b[name].astype(float), check_exact=True)
        for name in text:
            assert a[name].fillna("").tolist() == b[name].fillna("").tolist()
        (from_parquet,) = base.execute(f"SELECT count(*) FROM '{parquet_file}'").fetchone()
        (from_csv,) = base.execute(f"SELECT count(*) FROM read_csv('{csv_file}', header = true)").fetchone()
        assert from_parquet == from_csv == len(a)


def test_units_stand_in_the_parquet_files(folders: dict[str, Path]) -> None:
    parquet = pytest.importorskip("pyarrow.parquet")
    schema = parquet.read_schema(folders["parquet"] / "links.parquet")
    assert schema.field("drift_fr").metadata[b"unit"] == b"frames"
    assert schema.field("rate_fps").metadata[b"unit"] == b"frames/s"


def test_every_reading_is_there_to_the_last_digit(recorded: Make, folders: dict[str, Path]) -> None:
    wanted: list[tuple[str, float, float, float | None]] = []
    with Record.open(recorded("tear")) as record:
        for _, x in record.inputs():
            if isinstance(x, Counts):
                wanted += [(s, x.at_s, float(n), p) for s, n, p in x.values]
    with (folders["csv"] / "readings.csv").open(newline="") as file:
        got = [
            (r["signal"], float(r["at_s"]), float(r["value"]), float(r["pulse_s"]) if r["pulse_s"] else None)
            for r in csv.DictReader(file)
            if r["kind"] == "count"
        ]
    assert got == wanted


def test_the_state_holds_every_house_and_link_once_a_second_and_asks_well_in_sql(
    folders: dict[str, Path],
) -> None:
    duckdb = pytest.importorskip("duckdb")
    links = folders["parquet"] / "links.parquet"
    rows = duckdb.sql(
        f"SELECT link, count(*), count(DISTINCT \"at\") FROM '{links}' GROUP BY link ORDER BY link"
    ).fetchall()
    assert [r[0] for r in rows] == ["1>2", "3>1", "4>3"]
    assert all(n == different for _, n, different in rows)
    worst = duckdb.sql(
        f"SELECT link FROM '{links}' WHERE drift_fr IS NOT NULL ORDER BY used DESC LIMIT 1"
    ).fetchall()
    assert worst == [("4>3",)]


def test_json_lines_have_the_shape_of_opentelemetry(recorded: Make, folders: dict[str, Path]) -> None:
    """[P] OTLP/JSON: 64-bit integers and times as decimal strings, severity numbers 1 to 24, one request a line."""
    logs = [json.loads(x) for x in (folders["jsonl"] / "logs.jsonl").read_text().splitlines()]
    with Record.open(recorded("tear")) as record:
        lines = list(record.lines())
    assert len(logs) == len(lines)
    kinds: Counter[str] = Counter()
    for found, (n, line) in zip(logs, lines, strict=True):
        (resource,) = found["resourceLogs"]
        (scope,) = resource["scopeLogs"]
        (log,) = scope["logRecords"]
        names = {a["key"]: a["value"] for a in resource["resource"]["attributes"]}
        assert names["service.name"] == {"stringValue": "longlace"}
        milliseconds = round(datetime.fromisoformat(line.at).timestamp() * 1000)
        assert log["timeUnixNano"] == f"{milliseconds}000000"
        assert 1 <= log["severityNumber"] <= 24
        assert isinstance(log["body"]["stringValue"], str)
        keys = {a["key"]: a["value"] for a in log["attributes"]}
        assert keys["longlace.input"] == {"intValue": str(n)}
        for value in keys.values():
            assert len(value) == 1
        kinds[log["severityText"]] += 1
    assert kinds["ERROR3"] > 0
    metrics = [json.loads(x) for x in (folders["jsonl"] / "metrics.jsonl").read_text().splitlines()]
    names = {
        m["name"]: m["unit"]
        for doc in metrics
        for m in doc["resourceMetrics"][0]["scopeMetrics"][0]["metrics"]
        if all(
            p["timeUnixNano"].isdigit() and isinstance(p["asDouble"], float | int)
            for p in m["gauge"]["dataPoints"]
        )
    }
    assert names["longlace.link.drift_fr"] == "{frame}"
    assert names["longlace.house.speed_fps"] == "{frame}/s"


def test_jsonl_into_one_file_holds_the_events_alone(recorded: Make, tmp_path: Path) -> None:
    out = tmp_path / "events.jsonl"
    assert run(["export", str(recorded("tear")), "--out", str(out), "--format", "jsonl"]) == 0
    assert all("resourceLogs" in json.loads(x) for x in out.read_text().splitlines())
    assert [p.name for p in tmp_path.iterdir()] == ["events.jsonl"]


def test_what_is_there_already_is_refused_and_nothing_half_written_is_left(
    recorded: Make, folders: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["export", str(recorded("tear")), "--out", str(folders["csv"])]) == 2
    assert "is there already" in capsys.readouterr().err
    damaged = tmp_path / "d.record"
    damaged.write_bytes(recorded("tear").read_bytes())
    connection = sqlite3.connect(damaged)
    with connection:
        n = connection.execute("SELECT max(n) FROM batches WHERE kind = 'data'").fetchone()[0]
        connection.execute("UPDATE batches SET data = x'00' WHERE n = ?", (n,))
    connection.close()
    out = tmp_path / "out"
    assert run(["export", str(damaged), "--out", str(out)]) == 1
    assert "nothing was exported" in capsys.readouterr().err
    assert list(out.iterdir()) == []


def test_a_name_that_a_spreadsheet_would_take_for_a_formula_is_defused() -> None:
    """[P] CSV injection: a cell that begins with = + - @ is evaluated by spreadsheets."""
    assert _csv_cell("=HYPERLINK(1)") == "'=HYPERLINK(1)"
    assert _csv_cell("-1+cmd|' /C calc'!A0") == "'-1+cmd|' /C calc'!A0"
    assert _csv_cell("@SUM(A1)") == "'@SUM(A1)"
    assert _csv_cell("4>3") == "4>3"
    assert _csv_cell("-a>b") == "-a>b"
    assert _csv_cell(-1.5) == -1.5
    assert _csv_cell("") == ""


def test_an_action_is_exported_with_all_that_it_said(recorded: Make, tmp_path: Path) -> None:
    target = tmp_path / "a.record"
    with Record.open(recorded("tear")) as record:
        at_s = max(x.at_s for _, x in record.inputs()) - 100.0
    folded_again(recorded("tear"), target, [Action(at_s, "note", text='a "quoted", note', by="Ada")])
    assert run(["export", str(target), "--out", str(tmp_path / "o")]) == 0
    with (tmp_path / "o" / "readings.csv").open(newline="") as file:
        rows = [r for r in csv.DictReader(file) if r["kind"] == "action"]
    assert [json.loads(r["text"])["text"] for r in rows if r["signal"] == "note"] == ['a "quoted", note']
    with (tmp_path / "o" / "events.csv").open(newline="") as file:
        said = [r for r in csv.DictReader(file) if r["kind"] == "operator" and r["code"] == "note"]
    assert len(said) == 1
    assert "quoted" in said[0]["sentence"]


def test_every_column_with_its_unit_is_in_the_page() -> None:
    page = (ROOT / "docs" / "export.md").read_text("utf-8")
    for table, columns in TABLES.items():
        section = page.split(f"## {table}\n")[1].split("\n## ")[0]
        rows = re.findall(r"^\| `(\w+)` \| ([^|]*) \| ([^|]*) \| ([^|]*) \|$", section, re.MULTILINE)
        assert [(a, b.strip(), c.strip(), d.strip()) for a, b, c, d in rows] == [
            (c.name, c.type, c.unit, c.means) for c in columns
        ]
