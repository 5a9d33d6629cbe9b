"""One tree of errors. Whatever the program raises on purpose is one of these.

::

    LonglaceError                  anything that a person is told about
    ├── UsageError                 a command or option that makes no sense here
    ├── FileMistakes               a file that a person wrote has mistakes: all of them, by line
    │   ├── ShowFileError          … the show file
    │   ├── ScenarioError          … a scenario of faults for a rehearsal
    │   └── StationFileError       … the file of a far booth's station
    ├── ActionError                an operator action that cannot be taken; it changes nothing
    ├── DriverError                an adapter cannot be served
    │   ├── PortError              … its port cannot be opened
    │   └── OptionError            … its options in the show file make no sense for this driver
    ├── RecordError                the record cannot be written or read
    │   ├── RecordExists           … the file is there already and is not ours to go on with
    │   ├── NotARecord             … the file is no record
    │   └── RecordAltered          … the chain of its batches is broken
    └── DeskError                  the desk process
        ├── DeskRunning            … already runs for this show
        └── NoDesk                 … does not run

Messages name the place and the remedy, in one sentence each; they are for people.
"""

from __future__ import annotations

from dataclasses import dataclass


class LonglaceError(Exception):
    """Anything that a person is told about. ``str()`` of it is the sentence to show."""

    exit_code = 2


class UsageError(LonglaceError):
    """A command or an option that makes no sense here."""


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake in a file: where (line from 1, 0 where none can be told), which key, what was found and expected."""

    line: int
    key: str
    text: str


class FileMistakes(LonglaceError):
    """A file that a person wrote has mistakes. All of them are in :attr:`mistakes`, in the order of their lines."""

    def __init__(self, path: str, mistakes: list[Mistake]) -> None:
        self.path = path
        self.mistakes = tuple(sorted(mistakes, key=lambda m: (m.line, m.key)))
        super().__init__("\n".join(f"{path}:{m.line}: {m.key}: {m.text}" for m in self.mistakes))


class ShowFileError(FileMistakes):
    """The show file has mistakes."""


class ScenarioError(FileMistakes):
    """A scenario of faults for a rehearsal has mistakes."""


class StationFileError(FileMistakes):
    """The file of a far booth's station has mistakes."""


class ActionError(LonglaceError):
    """An operator action that cannot be taken. It has changed nothing."""


class DriverError(LonglaceError):
    """An adapter cannot be served."""


class PortError(DriverError):
    """The adapter's port cannot be opened (now; a driver goes on trying)."""


class OptionError(DriverError):
    """The adapter's options in the show file make no sense for its driver."""


class RecordError(LonglaceError):
    """The record cannot be written or read."""


class RecordExists(RecordError):
    """The file is there already and is not ours to go on with."""


class NotARecord(RecordError):
    """The file is no record of this program."""


class RecordAltered(RecordError):
    """The chain of the record's batches is broken."""

    exit_code = 1


class DeskError(LonglaceError):
    """The desk process."""


class DeskRunning(DeskError):
    """A desk already runs for this show."""


class NoDesk(DeskError):
    """No desk runs for this show."""

    exit_code = 1


def needs_extra(what: str, extra: str) -> str:
    """What to say where ``what`` needs a library that only the extra ``extra`` brings.

    From the program's own folder: by its name alone an installer might fetch somebody else's program.
    """
    return (
        f"{what} needs the extra `{extra}`; in the folder of the program: "
        f".venv/bin/python -m pip install --editable '.[{extra}]'"
    )
