"""A booth's measured distances from a CSV file, in either of two forms, every mistake by its line.

As a list, one way a line (``rollers`` and ``crosses`` may be left out)::

    from,to,ft,rollers,crosses
    4,3,74,9,doorway
    4,1,140.5,17,corridor + stair
    2,5,x

As a square matrix, from the row to the column, with the unit in its first cell::

    ft,4,3,2
    4,,74,120
    3,,,61
    2,,x,

``ft`` is tape measure, ``m`` metres: all film between the two gates, loops at rest included. ``x`` or ``-``:
that link cannot be made. A way that is left empty is as long as the way back; a pair that is left empty was
not measured and is not used. ``feed`` and ``take-up`` may stand for houses. Semicolons instead of commas are
understood, then with decimal commas too.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable
from pathlib import Path

from interlock.errors import FileMistakes, Mistake, UsageError
from interlock.film import FilmFormat
from interlock.plan.route_survey import IMPOSSIBLE, PLATTERS, Leg
from interlock.text import clean, shown

MOST_BYTES = 4_000_000
_NEVER = frozenset({"x", "-", "–"})
_COLUMNS = ("from", "to", "ft", "m", "rollers", "crosses")

Found = dict[tuple[str, str], Leg]


def read_distances(path: Path, film: FilmFormat) -> Found:
    """Legs by (from, to), as they were written. Raises ``FileMistakes`` with all of them, ``UsageError`` for
    no file."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise UsageError(f"{path}: cannot be read: {error.strerror}") from error
    if len(data) > MOST_BYTES:
        raise UsageError(f"{path}: {len(data)} bytes are no table of distances")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        mistake = Mistake(line, "text", "a byte that is no UTF-8, save the file as UTF-8")
        raise FileMistakes(shown(path), [mistake]) from error
    return parse_distances(text, shown(path), film)


def parse_distances(text: str, name: str, film: FilmFormat) -> Found:
    """The same from text; ``name`` stands in the mistakes."""
    reader = _Reader(name, film, text)
    legs = reader.read()
    if reader.mistakes:
        raise FileMistakes(name, reader.mistakes)
    return legs


class _Reader:
    """One file. Reads on after a mistake, so that all of them can be said at once."""

    def __init__(self, name: str, film: FilmFormat, text: str) -> None:
        self.name = name
        self.mistakes: list[Mistake] = []
        self.legs: Found = {}
        self.lines: dict[tuple[str, str], int] = {}
        head = text.lstrip().split("\n", 1)[0]
        self.comma = ";" in head
        rows = csv.reader(io.StringIO(text, newline=""), delimiter=";" if self.comma else ",")
        self.rows: list[tuple[int, list[str]]] = []
        try:
            for row in rows:
                cells = [clean(c) for c in row]
                if any(cells):
                    self.rows.append((rows.line_num, cells))
        except csv.Error as error:
            self._mistake(rows.line_num, "text", f"no CSV: {error}")
        self.to_fr: dict[str, Callable[[float], float]] = {
            "ft": film.frames_from_tape_ft,
            "m": film.frames_from_metres,
        }

    def read(self) -> Found:
        if self.mistakes:
            return {}
        if not self.rows:
            self._mistake(1, "file", "nothing in it, expected a list (from,to,ft,…) or a matrix (ft,4,3,…)")
            return {}
        _, header = self.rows[0]
        names = [c.lower() for c in header]
        if "from" in names or "to" in names:
            self._list(names)
        elif names[0] in self.to_fr:
            self._matrix(header)
        else:
            self._mistake(
                self.rows[0][0],
                header[0] or "header",
                "neither a list (first line from,to,ft,rollers,crosses) nor a matrix (first cell ft or m)",
            )
        return self.legs

    def _list(self, names: list[str]) -> None:
        line, _ = self.rows[0]
        for k, name in enumerate(names):
            if name not in _COLUMNS:
                self._mistake(
                    line, name or f"column {k + 1}", f"no such column, expected {', '.join(_COLUMNS)}"
                )
            elif name in names[:k]:
                self._mistake(line, name, "given twice")
        units = [u for u in self.to_fr if u in names]
        if len(units) != 1:
            self._mistake(line, "ft", "one column with lengths is needed: ft (tape measure) or m")
        for name in ("from", "to"):
            if name not in names:
                self._mistake(line, name, "this column is needed")
        if self.mistakes:
            return
        for line, cells in self.rows[1:]:
            if len(cells) > len(names):
                self._mistake(line, "row", f"{len(cells)} cells, expected {len(names)}")
                continue
            row = dict(zip(names, cells + [""] * (len(names) - len(cells)), strict=True))
            film_fr = self._length(line, units[0], row[units[0]], units[0])
            rollers = self._rollers(line, row["rollers"]) if "rollers" in row else None
            crosses = (
                tuple(w.strip() for w in row["crosses"].split("+") if w.strip()) if "crosses" in row else None
            )
            if film_fr is None:
                self._mistake(line, units[0], "empty, expected a length, or x where the link cannot be made")
            elif not math.isnan(film_fr):
                leg = IMPOSSIBLE if math.isinf(film_fr) else Leg(film_fr, rollers, crosses)
                self._take(line, row["from"], row["to"], leg)

    def _matrix(self, header: list[str]) -> None:
        line, columns = self.rows[0][0], header[1:]
        for k, house in enumerate(columns):
            if not house or house in columns[:k]:
                self._mistake(line, house or f"column {k + 2}", "given twice" if house else "no house named")
        for line, cells in self.rows[1:]:
            if len(cells) > len(header):
                self._mistake(line, cells[0] or "row", f"{len(cells)} cells, expected {len(header)}")
                continue
            for house, cell in zip(columns, cells[1:], strict=False):
                if house == cells[0]:
                    if cell not in _NEVER and cell.strip("0.,"):
                        self._mistake(
                            line, f"{house}>{house}", f"{cell!r} from a house to itself, leave it empty"
                        )
                    continue
                film_fr = self._length(line, f"{cells[0]}>{house}", cell, header[0].lower())
                if film_fr is not None and not math.isnan(film_fr):
                    self._take(line, cells[0], house, IMPOSSIBLE if math.isinf(film_fr) else Leg(film_fr))

    def _take(self, line: int, start: str, end: str, leg: Leg) -> None:
        if not start or not end or start == end:
            self._mistake(line, f"{start}>{end}", "expected two different houses")
        elif start == "take-up" or end == "feed" or (start in PLATTERS and end in PLATTERS):
            self._mistake(
                line, f"{start}>{end}", "film runs from the feed to a house, from a house to the take-up"
            )
        elif (start, end) in self.legs:
            self._mistake(line, f"{start}>{end}", f"given before, in line {self.lines[start, end]}")
        else:
            self.legs[start, end] = leg
            self.lines[start, end] = line

    def _length(self, line: int, key: str, cell: str, unit: str) -> float | None:
        """Frames; None for an empty cell, infinite for a way that cannot be, not a number after a mistake."""
        if not cell:
            return None
        if cell.lower() in _NEVER:
            return math.inf
        try:
            length = float(cell.replace(",", ".") if self.comma else cell)
        except ValueError:
            length = math.nan
        if not (math.isfinite(length) and 0.0 < length < 1e5):
            self._mistake(line, key, f"{cell!r} is no length in {unit}, expected a number above 0, or x")
            return math.nan
        return self.to_fr[unit](length)

    def _rollers(self, line: int, cell: str) -> int | None:
        if not cell:
            return None
        if not (cell.isascii() and cell.isdigit() and int(cell) <= 10_000):
            self._mistake(line, "rollers", f"{cell!r} is no number of rollers, expected 0, 1, 2 …")
            return None
        return int(cell)

    def _mistake(self, line: int, key: str, text: str) -> None:
        self.mistakes.append(Mistake(line, key, text))
