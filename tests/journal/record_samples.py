"""What the tests of the record share: a meta, readings as adapters send them, and a way to disturb a file."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

from interlock.journal import JournalWriter, Record, RecordMeta, Verdict
from interlock.signals import Contacts, Counts
from interlock.watch.inputs import Input
from interlock.watch.state import CueLine, Line

Begin = Callable[..., JournalWriter]
Ended = tuple[Path, str]
"""A record that was ended, and its head."""
META = RecordMeta(
    show_path="/shows/lantern.toml",
    show_source='[show]\ntitle = "Lantern Weather"\n',
    title="Lantern Weather",
    program="0.1.0",
    python="3.11.9",
    timezone="Atlantic/Azores",
    started_wall_s=1_796_502_300.0,
    rehearsal=True,
    seed=7,
    scenario='at = "00:12:30"\n',
)


def reading(n: int) -> Input:
    """The n-th input of a show: three counts, then a contact."""
    at_s = 91_733.123456789 + n * 0.1
    if n % 4 == 3:
        return Contacts(at_s, at_s - 0.0012345, "north", (("4.run", n % 8 == 3), ("4.lamp", False)))
    return Counts(at_s, at_s - 0.0031, "north", (("4.frames", n * 2.4, at_s - 0.01), ("3.frames", 0.0, None)))


def line(n: int) -> Line:
    """A line that input n brought."""
    return CueLine(
        seq=n,
        at="2026-12-05T20:25:00.000Z",
        show_s=n / 10,
        house="4",
        cue="strike-lamp",
        due_s=None,
        state="due",
    )


def fill(writer: JournalWriter, start: int, count: int) -> None:
    """``count`` inputs from ``start`` on, each tenth with a line."""
    for n in range(start, start + count):
        writer.put(reading(n), [line(n)] if n % 10 == 0 else [])


class Health:
    """Listens to a writer."""

    def __init__(self) -> None:
        self.told: list[tuple[bool, str]] = []

    def __call__(self, ok: bool, text: str) -> None:
        self.told.append((ok, text))


def tamper(path: Path, *statements: str) -> None:
    """Somebody opens the file with SQLite and changes it."""
    connection = sqlite3.connect(path, isolation_level=None)
    for statement in statements:
        connection.execute(statement)
    connection.close()


def whole(path: Path, head: str, count: int) -> None:
    """The record is as it was written, with the first ``count`` inputs and their lines."""
    with Record.open(path) as record:
        verdict = record.verify(head)
        assert verdict.ok, verdict.sentence
        assert list(record.inputs()) == [(n, reading(n)) for n in range(count)]
        assert list(record.lines()) == [(n, line(n)) for n in range(count) if n % 10 == 0]


def check(path: Path, head: str | None = None) -> Verdict:
    """What is said of it, against that head if one is given."""
    with Record.open(path) as record:
        return record.verify(head)
