"""Which record a desk writes: a new one, or one that was left unended and is taken up again."""

from __future__ import annotations

import platform
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Protocol

import msgspec

from interlock.clock import SystemClock
from interlock.journal import JournalWriter, Record, RecordMeta
from interlock.journal.home import new_record_path
from interlock.service.version import version
from interlock.showfile.show import Show
from interlock.watch.inputs import Input

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
        return Kept(new_record_path(show.title, started_s), meta)
    if rehearsal is None and path.exists():
        record = Record.open(path)
        if not record.ended and record.meta.show_source == show.source:
            return Kept(path, record.meta, record.inputs(), taken_up=True)
    return Kept(path, meta)
