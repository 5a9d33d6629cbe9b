"""What can go wrong in a rehearsal: one model a kind, with its keys in words.

A fault is written as a line of a scenario (``[[fault]]`` with ``kind``, ``at`` and the kind's own keys) and
can be thrown in by hand as the same keys in a JSON object, then without ``at``: it happens now.
:func:`fault_kinds` lists them all in words, for the screens and for ``docs/``.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, TypeAlias, get_args

import msgspec
from pydantic import Field, TypeAdapter, ValidationError

from drivers.simulator.fault_model import FaultModel
from drivers.simulator.faults_booth import (
    ClockStep,
    Creep,
    DowserLate,
    DowserStuck,
    Jog,
    LampFails,
    LampLate,
    LampOut,
    Mains,
    NoStart,
    PassFilm,
    PlatterStops,
    RestartAll,
    SpeedFault,
    SpliceParts,
    StartLate,
    StopAll,
    Trip,
    Wander,
    WhenTight,
)
from drivers.simulator.faults_line import (
    Chatter,
    Damaged,
    DeadCounter,
    Delayed,
    Doubled,
    Dropped,
    Jitter,
    Restart,
    RestartOnStrike,
    Silence,
    StuckContact,
    Unplug,
)
from interlock.errors import ActionError
from interlock.text import clean

NAMING = ("house", "link", "adapter", "signal", "supply", "platter")
"""Keys that name something of the show."""


Fault: TypeAlias = (
    Trip | NoStart | StartLate | Creep | SpeedFault | Wander | Mains | Jog | PassFilm | WhenTight | SpliceParts
    | PlatterStops | LampFails | LampLate | LampOut | DowserStuck | DowserLate | DeadCounter | StuckContact | Chatter
    | Silence | Unplug | Restart | RestartOnStrike | Damaged | Dropped | Doubled | Delayed | Jitter | StopAll
    | RestartAll | ClockStep
)  # fmt: skip
KINDS: dict[str, type[FaultModel]] = {m.model_fields["kind"].default: m for m in get_args(Fault)}
_adapter: TypeAdapter[Fault] = TypeAdapter(Annotated[Fault, Field(discriminator="kind")])


class FaultKey(msgspec.Struct, frozen=True):
    """One key of a fault, in words."""

    key: str
    text: str
    required: bool


class FaultKind(msgspec.Struct, frozen=True):
    """One kind of fault, in words. ``moment``: a scenario has to say when (``at``)."""

    kind: str
    text: str
    moment: bool
    keys: tuple[FaultKey, ...]


def fault_kinds() -> tuple[FaultKind, ...]:
    """Every kind of fault with its keys (``at`` and ``kind`` aside), for people."""
    found = []
    for kind, model in KINDS.items():
        keys = tuple(
            FaultKey(f.alias or name, f.description or "", f.is_required())
            for name, f in model.model_fields.items()
            if name not in ("kind", "at_s")
        )
        found.append(FaultKind(kind, (model.__doc__ or "").strip(), model.moment, keys))
    return tuple(found)


def read_fault(entry: Mapping[str, object]) -> tuple[Fault | None, list[tuple[str, str]]]:
    """The fault in ``entry``, or every (key, mistake) in it."""
    kind = entry.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        what = "is missing" if "kind" not in entry else f'found "{clean(str(kind), 40)}"'
        return None, [("kind", f"{what}, expected one of: {', '.join(KINDS)}")]
    try:
        return _adapter.validate_python(dict(entry)), []
    except ValidationError as error:
        return None, [_mistake(kind, e["loc"], e["type"], e["msg"]) for e in error.errors(include_url=False)]


def _mistake(kind: str, loc: tuple[int | str, ...], what: str, message: str) -> tuple[str, str]:
    key = clean(str(loc[1]), 40) if len(loc) > 1 else "fault"  # loc[0] is the kind
    fields = {f.alias or name: f.description for name, f in KINDS[kind].model_fields.items()}
    if what == "extra_forbidden":
        return key, f"is no key of {kind}; there are: {', '.join(fields)}"
    if what == "missing":
        return key, f"is missing; expected {fields.get(key)}"
    return key, clean(message.removeprefix("Value error, "))


def parse_fault(entry: Mapping[str, object]) -> Fault:
    """A fault thrown in by hand. Raises ``ActionError`` with every mistake in one sentence."""
    fault, mistakes = read_fault(entry)
    if fault is None:
        raise ActionError("; ".join(f"{key}: {text}" for key, text in mistakes))
    return fault
