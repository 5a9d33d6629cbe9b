"""Loading a show with the drivers that are installed here, so that their options are checked as well."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from pydantic import BaseModel

from drivers.driver import find, names
from interlock.errors import OptionError, needs_extra
from interlock.showfile.load import load_show
from interlock.showfile.show import Show


class Installed(Mapping[str, type[BaseModel]]):
    """Per kind of driver, the model of its own keys. A driver is imported only when a show file names it."""

    def __init__(self) -> None:
        self._names = names()

    def __getitem__(self, kind: str) -> type[BaseModel]:
        if kind not in self._names:
            raise KeyError(kind)
        try:
            return find(kind).Options
        except ImportError as error:
            raise OptionError(
                needs_extra(f"driver {kind} ({error.name or error} is not installed here)", kind)
            ) from error

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)


def read_show(path: str | Path) -> Show:
    """The show at ``path``. Raises ``ShowFileError`` with every mistake, ``OptionError`` for a driver that cannot be had."""
    return load_show(path, options=Installed())
