"""Which record a desk writes: a new one, or one that was left unended and is taken up again."""

from __future__ import annotations

import platform
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Protocol

import msgspec

from interlock.clock import SystemClock
from interlock.errors import RecordError
from interlock.journal import JournalWriter, Record, RecordMeta, list_records, new_path
from interlock.service.version import version
from interlock.showfile.show import Show
from interlock.watch.inputs import Input

RECENT_S = 6 * 3600.0

Health = Callable[[bool, str], None]


class Rehearsed(Protocol):
    """What a rehearsal's record says beside the show."""

    seed: int
    scenario_text: str | None


class Kept(msgspec.Struct, frozen=True):
    """A record that is about to be written. ``past``: what was folded before, for one that is taken up."""

    path: Path
    meta: RecordMeta
    past: Iterable[Input] = ()
    taken_up: bool = False

    def open(self, health: Health) -> JournalWriter:
        """Begin to write. Raises ``RecordError`` for a file that is not ours to go on with."""
        if self.taken_up:
            return JournalWriter.resume(self.path, self.meta.show_source, on_health=health)
        return JournalWriter.create(self.path, self.meta, on_health=health)


def open_record(show: Show, path: Path | None, *, rehearsal: Rehearsed | None = None) -> Kept:
    """The record at ``path``; without one a new file where records are kept.

    An unended record of the same show is taken up. Whatever else is there is refused when it is opened.
    """
    started_s = SystemClock().wall_s()
    meta = RecordMeta(
        show_path=str(Path(show.path).resolve()),
        show_source=show.source,
        title=show.title,
        program=version(),
        python=platform.python_version(),
        timezone=show.timezone,
        started_wall_s=started_s,
        rehearsal=rehearsal is not None,
        seed=rehearsal.seed if rehearsal is not None else None,
        scenario=rehearsal.scenario_text if rehearsal is not None else None,
    )
    if path is None:
        return Kept(new_path(show.title, started_s, show.timezone), meta)
    if rehearsal is None and path.exists():
        with Record.open(path) as record:
            found = record.meta
            if not record.ended and found.show_source == show.source:
                return Kept(path, found, _past(path), taken_up=True)
    return Kept(path, meta)


class Left(msgspec.Struct, frozen=True):
    """A record that was cut off, and when its desk last wrote, by the wall clock."""

    path: Path
    last_wall_s: float


def left_unended(show: Show) -> Left | None:
    """The newest record of this very show that was cut off in the last hours: its desk was killed, or the power failed."""
    now_s = SystemClock().wall_s()
    for listed in list_records():
        if listed.condition != "not ended" or listed.rehearsal or listed.title != show.title:
            continue
        with suppress(RecordError), Record.open(listed.path) as record:
            if record.meta.show_source == show.source and now_s - record.last_wall_s < RECENT_S:
                return Left(listed.path, record.last_wall_s)
    return None


def _past(path: Path) -> Iterator[Input]:
    with Record.open(path) as record:
        for _, x in record.inputs():
            yield x
