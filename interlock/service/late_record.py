"""The record as the desk process needs it, and before it is open."""

from __future__ import annotations

from typing import Protocol

from interlock.watch.inputs import Input
from interlock.watch.state import Line


class Writer(Protocol):
    """What the desk process needs of the record."""

    def put(self, input: Input, lines: list[Line]) -> None:  # noqa: A002 - the journal's own name for it
        """Take both; never waits."""
        ...

    def flush(self) -> bool:
        """Wait until everything put before is on disk, or the disk has not taken it for a while."""
        ...

    def close(self) -> str:
        """Write what waits and end the record; may take a while."""
        ...


class _Desk(Protocol):
    journal: Writer | None


class LateRecord:
    """The record, which is opened after the desk was made, because its health is told to the desk."""

    def __init__(self, desk: _Desk) -> None:
        self._desk = desk

    def put(self, input: Input, lines: list[Line]) -> None:  # noqa: A002 - as in Writer
        """Into the record, once there is one."""
        if self._desk.journal is not None:
            self._desk.journal.put(input, lines)
