"""A record as what comes after the show wants it: its show, its lines, and the course of every house and link."""

from __future__ import annotations

import gc
import logging
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Protocol

import msgspec

from interlock.errors import RecordAltered, ShowFileError
from interlock.incident.course import Course, course_of
from interlock.journal import Record, RecordMeta
from interlock.showfile.load import parse_show
from interlock.showfile.show import Show
from interlock.text import shown
from interlock.watch.desk import Desk
from interlock.watch.inputs import Anchor, Input
from interlock.watch.seconds import Second, seconds_of
from interlock.watch.state import Line

log = logging.getLogger("longlace.record")


class Readings(Protocol):
    """Where the inputs of a record can be read from any number on."""

    def inputs(self, start_seq: int = 0) -> Iterator[tuple[int, Input]]:
        """(number, input) in the order in which they were folded."""
        ...


class Recorded(msgspec.Struct, frozen=True):
    """A record, read. ``lines``: (number of the input that brought it, line), without the once-a-second ones.

    ``cut``: it has no end mark: it was cut off, or is still being written. ``damage``: why reading stopped early.
    ``head``: hash of its last batch as it stands in the file. ``refolded``: the course was folded anew by
    today's desk, because the record has none of its own.
    """

    name: str
    meta: RecordMeta
    show: Show
    head: str
    cut: bool
    damage: str | None
    lines: tuple[tuple[int, Line], ...]
    course: Course
    refolded: bool
    source: Readings

    @property
    def began_s(self) -> float:
        """UTC seconds of its first line."""
        return seconds_at(self.lines[0][1].at) if self.lines else self.meta.started_wall_s

    @property
    def ended_s(self) -> float:
        """UTC seconds of the last thing in it."""
        last = seconds_at(self.lines[-1][1].at) if self.lines else self.meta.started_wall_s
        return max(last, float(self.course.at_s[-1])) if len(self.course.at_s) else last


def seconds_at(at: str) -> float:
    """UTC seconds of a line's ``at``."""
    return datetime.fromisoformat(at).timestamp()


def show_of(meta: RecordMeta) -> Show:
    """The show as the record's own copy of the show file says it; ``RecordAltered`` if that is none."""
    try:
        return parse_show(meta.show_source, meta.show_path)
    except ShowFileError as error:
        raise RecordAltered(f"the show file in the record cannot be read by this version: {error}") from error


def read_record(record: Record, *, course: bool = True) -> Recorded:
    """Everything of ``record`` that a report is made of. What cannot be read any more is said, not raised."""
    with _uncollected():
        return _read(record, course=course)


@contextmanager
def _uncollected() -> Iterator[None]:
    """Four hours are half a million small tuples, none in a circle: looking for circles is a tenth of a report."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _read(record: Record, *, course: bool) -> Recorded:
    show = show_of(record.meta)
    damage: str | None = None
    lines: list[tuple[int, Line]] = []
    try:
        lines.extend(record.lines())
    except RecordAltered as error:
        damage = str(error)
    seconds: list[Second] = []
    refolded = False
    if course:
        try:
            seconds = stored_seconds(record)
            if not seconds:
                refolded = True
                seconds.extend(refold_seconds(show, record.meta.rehearsal, (x for _, x in record.inputs())))
        except RecordAltered as error:
            damage = damage or str(error)
    return Recorded(
        name=shown(Path(record.path).name),
        meta=record.meta,
        show=show,
        head=record.head,
        cut=not record.ended,
        damage=damage,
        lines=tuple(lines),
        course=course_of(show, seconds),
        refolded=refolded,
        source=record,
    )


def stored_seconds(record: Record) -> list[Second]:
    """The seconds that the record keeps; none for a record that was written without them."""
    return list(record.seconds())


def refold(show: Show, rehearsal: bool, inputs: Iterable[Input]) -> Iterator[tuple[int, Input, list[Line]]]:
    """(number, input, what today's desk says to it). The first input of every record is an anchor.

    To one on which it fails it says nothing, and goes on as it does in a show.
    """
    desk: Desk | None = None
    for n, x in enumerate(inputs):
        if desk is None:
            if not isinstance(x, Anchor):
                raise RecordAltered("the record does not begin with an anchor: its first inputs are missing")
            desk = Desk(show, x, rehearsal=rehearsal)
        try:
            lines = desk.step(x)
        # This supervises: an input on which a desk fails is in its record, the show went on, and so does reading it.
        except Exception as fault:
            log.error("today's desk failed on input %d, %r", n, x, exc_info=fault)
            lines = []
        yield n, x, lines


def refold_seconds(show: Show, rehearsal: bool, inputs: Iterable[Input]) -> Iterator[Second]:
    """The seconds as today's desk would keep them; up to where the record can be read."""
    for _, _, lines in refold(show, rehearsal, inputs):
        yield from seconds_of(lines)
