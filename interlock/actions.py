"""Operator actions from outside, checked at the door.

What a screen, or a program on ``--plain``'s standard input, sends is one JSON object a line
(contract.md has the table). :func:`parse_action` turns it into the one frozen
:class:`~interlock.watch.inputs.Action` that the desk folds, or says in one sentence what is wrong with it.
Whether the thing named exists, and whether the action may be taken now, is for the desk to say.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, TypeAlias, get_args

import msgspec
from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    TypeAdapter,
    ValidationError,
    model_validator,
)

from interlock.errors import ActionError
from interlock.text import clean
from interlock.watch.inputs import Action

MOST_BYTES = 65_536
"""A longer line is no action."""
NOTE_CHARS = 1_000
NAME_CHARS = 80
LONGEST_SHELF_S = 86_400.0
SPEED_MOST = 1_000.0


def _not_blank(limit: int) -> AfterValidator:
    def check(text: str) -> str:
        kept = clean(text, limit)
        if not kept:
            raise ValueError("is empty")
        return kept

    return AfterValidator(check)


Name: TypeAlias = Annotated[str, _not_blank(NAME_CHARS)]
Text: TypeAlias = Annotated[str, _not_blank(NOTE_CHARS)]
Number: TypeAlias = Annotated[float, Field(allow_inf_nan=False, ge=-1e9, le=1e9)]


class _Given(BaseModel):
    """Each action may say who does it, and from where."""

    model_config = ConfigDict(extra="forbid", strict=True)

    by: Name | None = None
    booth: Name | None = None


class _OnAlarm(_Given):
    action: Literal["ack", "unshelve"]
    subject: Name
    code: Name


class _Reset(_Given):
    action: Literal["reset"]
    subject: Name | None = None
    code: Name | None = None
    group: Annotated[int, Field(ge=0, le=2**53)] | None = None

    @model_validator(mode="after")
    def _one_thing(self) -> _Reset:
        alarm = self.subject is not None and self.code is not None
        if alarm == (self.group is not None) or (self.subject is None) != (self.code is None):
            raise ValueError("needs subject and code, or group")
        return self


class _Shelve(_Given):
    action: Literal["shelve"]
    subject: Name
    code: Name
    for_s: Annotated[float, Field(gt=0, le=LONGEST_SHELF_S, allow_inf_nan=False)] = 600.0
    until_clear: bool = False


class _Note(_Given):
    action: Literal["note"]
    text: Text
    subject: Name | None = None


class _Mark(_Given):
    action: Literal["mark"]
    house: Name
    frame: Number = 0.0


class _Relace(_Given):
    action: Literal["relace"]
    house: Name
    n_fr: Number


class _Rezero(_Given):
    action: Literal["rezero"]
    link: Name
    drift_fr: Number = 0.0


class _Parted(_Given):
    action: Literal["parted"]
    link: Name


class _Light(_Given):
    action: Literal["dark", "light"]
    house: Name


class _Plain(_Given):
    action: Literal["silence", "arm", "disarm", "stop-all", "restart"]


class _Handover(_Given):
    action: Literal["handover"]
    by: Name


class _Speed(_Given):
    action: Literal["speed"]
    x: Annotated[float, Field(gt=0, le=SPEED_MOST, allow_inf_nan=False)]


class _Fault(_Given):
    """A fault as a line of a scenario: its keys beside the others, or together under ``fault``."""

    model_config = ConfigDict(extra="allow")
    OWN: ClassVar[frozenset[str]] = frozenset({"action", "by", "booth"})

    action: Literal["fault"]


_Any: TypeAlias = Annotated[
    _OnAlarm
    | _Reset
    | _Shelve
    | _Note
    | _Mark
    | _Relace
    | _Rezero
    | _Parted
    | _Light
    | _Plain
    | _Handover
    | _Speed
    | _Fault,
    Field(discriminator="action"),
]
_MODELS: tuple[type[_Given], ...] = get_args(get_args(_Any)[0])
_adapter: TypeAdapter[_Given] = TypeAdapter(_Any)
NAMES: tuple[str, ...] = tuple(n for m in _MODELS for n in get_args(m.model_fields["action"].annotation))
"""Every action there is."""


def parse_action(given: object, at_s: float) -> Action:
    """The action in ``given`` (JSON text, or the object itself), received at desk second ``at_s``.

    Raises :class:`ActionError` with one sentence that names the key and what was expected of it.
    """
    found = read_object(given)
    name = found.get("action")
    if not isinstance(name, str):
        raise ActionError(f'expected a key "action", one of: {", ".join(NAMES)}')
    if name not in NAMES:
        raise ActionError(f"there is no action {_shown(name)}; there are: {', '.join(NAMES)}")
    try:
        model = _adapter.validate_python(found)
    except ValidationError as error:
        raise ActionError(_sentence(name, error)) from None
    keys = model.model_dump(exclude_none=True)
    if isinstance(model, _Fault):
        keys = {k: v for k, v in keys.items() if k in _Fault.OWN}
        keys["fault"] = _fault(found)
    return Action(at_s=at_s, **keys)


def read_object(given: object) -> dict[str, object]:
    """``given`` as a JSON object with text keys; :class:`ActionError` if it is none."""
    if isinstance(given, str | bytes):
        if len(given) > MOST_BYTES:
            raise ActionError(f"the line is longer than {MOST_BYTES:,} bytes, expected one JSON object")
        try:
            given = msgspec.json.decode(given)
        except (msgspec.DecodeError, UnicodeError, RecursionError) as error:
            raise ActionError(f"not JSON: {clean(str(error))}; expected one object a line") from None
    if not isinstance(given, dict) or not all(isinstance(k, str) for k in given):
        raise ActionError('expected one JSON object, as in {"action": "note", "text": "…"}')
    return {k: v for k, v in given.items() if v is not None}  # null is a key not given


def _fault(found: dict[str, object]) -> str:
    inner = found.get("fault")
    beside = {k: v for k, v in found.items() if k not in _Fault.OWN}
    if inner is not None and len(beside) == 1:
        beside = read_object(inner)
    if not beside:
        raise ActionError("fault: expected the keys of a scenario's line")
    return msgspec.json.encode(beside).decode()


def _sentence(name: str, error: ValidationError) -> str:
    said = []
    for e in error.errors(include_url=False, include_context=False):
        place = [str(p) for p in e["loc"]][1:]  # the first is the action's own name
        key = clean(".".join(place), NAME_CHARS)
        if e["type"] == "missing":
            text = "is missing"
        elif e["type"] == "extra_forbidden":
            text = f"is no key of {name}"
        else:
            text = e["msg"].removeprefix("Value error, ")
            if key:
                text = f"found {_shown(e['input'])}: {text}"
        said.append(f"{key}: {text}" if key else text)
    return clean(f"{name}: {'; '.join(said)}", 500)


def _shown(value: object) -> str:
    return clean(repr(value), 60)
