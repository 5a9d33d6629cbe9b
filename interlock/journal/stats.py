"""How a record keeps up."""

from __future__ import annotations

import msgspec


class JournalStats(msgspec.Struct, frozen=True):
    """How the record keeps up. Rows are inputs. ``rows_waiting``: not on disk yet; ``lost``: dropped, memory being full.

    ``head``: hash of the last batch on disk, 64 zeros before the first. ``one_file``: it is closed, and
    nothing but the file itself is left. ``last_commit_age_s``: None before the first.
    """

    rows_written: int
    rows_waiting: int
    lines_written: int
    batches_written: int
    lost: int
    last_commit_age_s: float | None
    failing: bool
    text: str
    head: str
    one_file: bool
