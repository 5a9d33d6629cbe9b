"""The record: everything that was folded and what the desk said to it, chained, on disk within 100 ms.

Written by :class:`JournalWriter`, read by :class:`Record`; docs/record.md describes the file.
"""

from interlock.journal.home import Listed, list_records, new_path, records_home
from interlock.journal.reader import Record
from interlock.journal.schema import RecordMeta
from interlock.journal.stats import JournalStats
from interlock.journal.verify import Problem, Verdict
from interlock.journal.writer import JournalWriter

__all__ = [
    "JournalStats",
    "JournalWriter",
    "Listed",
    "Problem",
    "Record",
    "RecordMeta",
    "Verdict",
    "list_records",
    "new_path",
    "records_home",
]
