"""Tables into files: CSV, Parquet (with the extra ``export``), and JSON lines in the shape of OpenTelemetry's.

Each file is written beside its name and put in its place when it is whole; what is there already is refused.
"""

from __future__ import annotations

import csv
import importlib
import re
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any, Literal, TypeAlias

from interlock.errors import RecordAltered, UsageError, needs_extra
from interlock.incident.otel import log_line, metric_lines
from interlock.incident.recorded import show_of
from interlock.incident.tables import ROWS, TABLES, Row, states
from interlock.journal import Record

Format: TypeAlias = Literal["csv", "parquet", "jsonl"]
BATCH = 50_000
_FORMULA = "=+-@\t\r"
_ID = re.compile(r"[\w>.-]*")


class _Csv:
    def __init__(self, path: Path, table: str) -> None:
        self._file = path.open("w", encoding="utf-8", newline="")
        self._writer = csv.writer(self._file)
        self._writer.writerow([c.name for c in TABLES[table]])

    def put(self, row: Row) -> None:
        self._writer.writerow([_csv_cell(v) for v in row])

    def close(self) -> None:
        self._file.close()


def _csv_cell(value: object) -> object:
    if isinstance(value, bool):
        return "true" if value else "false"
    # A spreadsheet takes some texts for formulas; a name from outside is none. Ids of houses and links are left alone.
    if isinstance(value, str) and value[:1] in _FORMULA and value[:1] and not _ID.fullmatch(value):
        return f"'{value}"
    return value


class _Parquet:
    def __init__(self, path: Path, table: str) -> None:
        try:
            self._pa: Any = importlib.import_module("pyarrow")
            parquet: Any = importlib.import_module("pyarrow.parquet")
        except ImportError:
            raise UsageError(f"{needs_extra('Parquet', 'export')}; or use --format csv") from None
        pa = self._pa
        types = {"text": pa.string(), "number": pa.float64(), "whole": pa.int64(), "yes-no": pa.bool_()}
        self._schema = pa.schema(
            [
                pa.field(c.name, types[c.type], metadata={"unit": c.unit, "means": c.means})
                for c in TABLES[table]
            ]
        )
        self._writer = parquet.ParquetWriter(path, self._schema, compression="zstd")
        self._rows: list[Row] = []

    def put(self, row: Row) -> None:
        self._rows.append(row)
        if len(self._rows) >= BATCH:
            self._flush()

    def _flush(self) -> None:
        if self._rows:
            columns = [list(c) for c in zip(*self._rows, strict=True)]
            self._writer.write_table(self._pa.table(columns, schema=self._schema))
            self._rows = []

    def close(self) -> None:
        self._flush()
        self._writer.close()


def export_tables(record: Record, folder: Path, sort: Literal["csv", "parquet"]) -> list[tuple[Path, int]]:
    """Readings, events, houses and links into ``folder``; (file, rows) of each."""
    make: Callable[[Path, str], _Csv | _Parquet] = _Csv if sort == "csv" else _Parquet
    paths = {table: _free(folder / f"{table}.{sort}") for table in TABLES}
    _folder(folder)
    show = show_of(record.meta)

    def rows() -> Iterator[tuple[str, Row]]:
        for table, read in ROWS.items():
            for row in read(record):
                yield table, row
        yield from states(record, show)

    counts = dict.fromkeys(TABLES, 0)
    parts = {table: path.with_name(f"{path.name}.part") for table, path in paths.items()}
    files: dict[str, _Csv | _Parquet] = {}
    try:
        for table, part in parts.items():
            files[table] = make(part, table)
        for table, row in rows():
            files[table].put(row)
            counts[table] += 1
        while files:
            files.popitem()[1].close()
        for table, part in parts.items():
            part.replace(paths[table])
    except OSError as error:
        raise UsageError(f"{folder}: cannot be written: {error.strerror or error}") from error
    finally:
        for file in files.values():
            with suppress(OSError):  # the first error is the one that is told
                file.close()
        for part in parts.values():
            part.unlink(missing_ok=True)
    return [(paths[t], counts[t]) for t in TABLES]


def export_jsonl(record: Record, out: Path) -> list[tuple[Path, int]]:
    """Events as log records into ``out``; and where that is a folder, the seconds as metrics beside them."""
    alone = out.suffix in (".jsonl", ".json", ".ndjson")
    if not alone:
        _folder(out)
    files: list[tuple[Path, Iterator[bytes]]] = [
        (
            _free(out if alone else out / "logs.jsonl"),
            (log_line(record.meta, n, x) for n, x in record.lines()),
        )
    ]
    if not alone:
        files.append((_free(out / "metrics.jsonl"), metric_lines(record.meta, show_of(record.meta), record)))
    done: list[tuple[Path, int]] = []
    for path, lines in files:
        part = path.with_name(f"{path.name}.part")
        count = 0
        try:
            with part.open("wb") as file:
                for line in lines:
                    file.write(line + b"\n")
                    count += 1
            part.replace(path)
        except OSError as error:
            raise UsageError(f"{path}: cannot be written: {error.strerror or error}") from error
        finally:
            part.unlink(missing_ok=True)
        done.append((path, count))
    return done


def export(record: Record, out: Path, sort: Format) -> list[tuple[Path, int]]:
    """(file, rows) of everything that was written. ``RecordAltered`` at what cannot be read: then nothing is left."""
    try:
        return export_jsonl(record, out) if sort == "jsonl" else export_tables(record, out, sort)
    except RecordAltered as error:
        raise RecordAltered(f"{error}; nothing was exported") from error


def _folder(path: Path) -> None:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"--out {path}: expected a folder: {error.strerror}") from error


def _free(path: Path) -> Path:
    if path.exists():
        raise UsageError(f"{path}: is there already; name another place, or move it away")
    return path
