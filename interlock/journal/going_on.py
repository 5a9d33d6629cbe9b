"""Whether a record can be gone on with, and from where."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import NamedTuple

from interlock.errors import RecordAltered, RecordError, RecordExists
from interlock.journal.files import in_words
from interlock.journal.reader import Record
from interlock.journal.store import Store


class End(NamedTuple):
    """Where a record has come to: its batches, the hash of the last one, the number of the next input."""

    batches: int
    head: str
    next_input: int


def open_end(path: Path, show_source: str) -> End:
    """The end of an unended record of this show file, to the letter; nobody else writes it, and its chain holds.

    ``NotARecord``, ``RecordExists``, ``RecordAltered``: as :meth:`interlock.journal.writer.JournalWriter.resume` says.
    """
    with Record.open(path) as record:
        if record.meta.show_source != show_source:
            raise RecordExists(
                f"{path}: is the record of another show file ({record.meta.title}); name another file"
            )
        if record.ended:
            raise RecordExists(f"{path}: is ended and closed; name another file")
    try:
        Store.take(path).close()  # refused while somebody writes it, before the slow part
    except (sqlite3.Error, OSError, UnicodeDecodeError) as error:
        raise RecordError(f"{path}: cannot be gone on with: {in_words(error)}") from error
    with Record.open(path) as record:
        verdict = record.verify()
        if not verdict.ok:
            raise RecordAltered(f"{path}: {verdict.sentence}")
        return End(verdict.batches, verdict.head, record.next_input)
