"""What a driver is: one file that implements :class:`Driver`, found by its entry point.

A driver serves one adapter of the show file. It is made from its spec (raising ``OptionError`` with
a sentence for a person if the options make no sense) and then run as one task::

    driver = SerialDriver(spec, clock)
    await driver.run(emit)          # until cancelled

``run`` calls ``emit(reading)`` for everything that the hardware says, stamped with the clock it was
given; ``emit`` never waits and never fails. Whatever the hardware does (unplugged, garbage, silence),
``run`` does not end: it says so with a ``Presence`` and tries again with growing pauses. Cancelling
it closes the port within a second. Nothing else of the program is imported by a driver.

At least every 250 ms while the adapter speaks there is a reading; the desk judges silence (stale
after 750 ms, lost after 2 s) by itself, from the last reading of that adapter.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib.metadata import entry_points
from typing import ClassVar, Protocol, TypeAlias, TypeVar

from pydantic import BaseModel, ValidationError

from interlock.clock import Clock
from interlock.errors import OptionError
from interlock.signals import AdapterSpec, Reading
from interlock.text import clean

Emit: TypeAlias = Callable[[Reading], None]
GROUP = "longlace.drivers"
_Options = TypeVar("_Options", bound=BaseModel)


class Driver(Protocol):
    """Serves one adapter."""

    Options: ClassVar[type[BaseModel]]
    """The keys of ``[[adapter]]`` that only this driver knows (``extra="forbid"``)."""

    def __init__(self, spec: AdapterSpec, clock: Clock) -> None:
        """Raises ``OptionError`` if the options make no sense; opens nothing yet."""
        ...

    async def run(self, emit: Emit) -> None:
        """Serve until cancelled."""
        ...


def names() -> list[str]:
    """Every kind of driver that is installed."""
    return sorted(e.name for e in entry_points(group=GROUP))


def find(kind: str) -> type[Driver]:
    """The driver class for a ``driver = "…"`` of the show file; ``OptionError`` names the ones there are."""
    found = {e.name: e for e in entry_points(group=GROUP)}
    if kind not in found:
        raise OptionError(f"no driver {kind!r} is installed; there are: {', '.join(sorted(found))}")
    driver: type[Driver] = found[kind].load()
    return driver


def read_options(model: type[_Options], spec: AdapterSpec) -> _Options:
    """The adapter's options as the driver's own model; ``OptionError`` with every mistake in one sentence."""
    try:
        return model.model_validate(dict(spec.options))
    except ValidationError as error:
        mistakes = []
        for e in error.errors(include_url=False):
            key = ".".join(str(part) for part in e["loc"])
            text = e["msg"].removeprefix("Value error, ")
            if e["type"] == "extra_forbidden":
                text = f"is not known here; there are: {', '.join(model.model_fields)}"
            mistakes.append(f"{key}: {text}" if key else text)
        raise OptionError(
            clean(f"adapter {spec.name} ({spec.driver}): {'; '.join(mistakes)}", 500)
        ) from error
