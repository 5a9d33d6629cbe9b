"""How one section of a show file is read: key by key, so that one mistake hides no other.

What cannot be read is marked as such, and every other key can still be checked against the rest of
the file. Keys that are not given hold their defaults, written as a person would write them.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from itertools import islice
from typing import TypeVar, get_args, get_origin

from pydantic import BaseModel, ConfigDict, PrivateAttr, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from interlock.errors import Mistake
from interlock.showfile.quantities import found
from interlock.showfile.toml_lines import Path, TomlText, dotted
from interlock.text import clean

MOST_ENTRIES = 5000
"""All distances among sixty-four houses and two platters; what is more would only be slow to refuse."""


class Section(BaseModel):
    """A table of the show file. Keys that it does not know are mistakes."""

    model_config = ConfigDict(extra="forbid", strict=True, validate_assignment=True, validate_default=True)

    _place: Path = PrivateAttr(default=())
    _unread: set[str] = PrivateAttr(default_factory=set)
    _extra: dict[str, object] = PrivateAttr(default_factory=dict)

    @property
    def place(self) -> Path:
        """Where in the file it stands."""
        return self._place

    @property
    def extra(self) -> dict[str, object]:
        """Keys that the section does not know, where it may hold any."""
        return self._extra

    def has(self, *names: str) -> bool:
        """True if all these fields hold what the file (or the default) says, False if one is unread."""
        return all(name in self.__dict__ and name not in self._unread for name in names)

    def written(self, name: str) -> bool:
        """True if the file itself sets this field, whether or not it could be read."""
        return name in self.model_fields_set or name in self._unread

    def given(self, name: str) -> bool:
        """True if the file itself sets this field, and it could be read."""
        return name in self.model_fields_set and self.has(name)


S = TypeVar("S", bound=Section)


class Source:
    """A show file while it is read: where its keys stand, and every mistake found so far."""

    def __init__(self, toml: TomlText) -> None:
        self._lines = toml.lines
        self._broken = toml.broken
        self.mistakes = list(toml.mistakes)

    def line(self, path: Path) -> int:
        """The line of a key, or of the nearest table around it; 0 where there is none."""
        while path and path not in self._lines:
            path = path[:-1]
        return self._lines.get(path, 0)

    def mistake(self, path: Path, text: str) -> None:
        """Note a mistake at ``path``. A line that is no TOML has its mistake already."""
        line = self.line(path)
        if line not in self._broken or line == 0:
            self.mistakes.append(Mistake(line, dotted(path), text))

    def read(self, model: type[S], raw: object, path: Path) -> S | None:
        """One section; None if it is no table at all."""
        if not isinstance(raw, dict):
            self.mistake(path, f"found {found(raw)}, expected a table of keys")
            return None
        section = model.model_construct()
        section._place = path
        names = {field.alias or name: name for name, field in model.model_fields.items()}
        for key, value in raw.items():
            if key in names:
                self._field(section, names[key], value, (*path, key))
            elif model.model_config.get("extra") == "allow":
                section._extra[key] = value  # never as an attribute: the name comes from outside
            else:
                self.unknown((*path, key), names)
        for key, name in names.items():
            field = model.model_fields[name]
            if key in raw:
                continue
            if field.is_required():
                self.mistake((*path, key), f"is missing; expected {field.description or 'it'}")
            else:
                # Through the same door as what is written, so that every field holds what was checked.
                setattr(section, name, field.get_default(call_default_factory=True))
                section.model_fields_set.discard(name)
        return section

    def sections(self, model: type[S], raw: object, key: str) -> list[S]:
        """The entries of ``[[key]]``."""
        if not isinstance(raw, list):
            self.mistake((key,), f"found {found(raw)}, expected [[{key}]]")
            return []
        if len(raw) > MOST_ENTRIES:
            self.mistake(
                (key, MOST_ENTRIES), f"found {len(raw)} of [[{key}]], expected at most {MOST_ENTRIES}"
            )
        read = (self.read(model, entry, (key, i)) for i, entry in enumerate(raw[:MOST_ENTRIES]))
        return [section for section in read if section is not None]

    def unknown(self, path: Path, known: Iterable[str]) -> None:
        """Note a key that nothing knows, with the nearest one that is known."""
        self.mistake(path, f"unknown key{nearest(str(path[-1]), known)}")

    def _field(self, section: Section, name: str, value: object, path: Path) -> None:
        field = type(section).model_fields[name]
        if get_origin(field.annotation) is dict:
            self._table(section, name, field, value, path)
            return
        try:
            setattr(section, name, value)
        except ValidationError as e:
            section._unread.add(name)
            self.errors(e.errors(include_url=False), path, strip=1)

    def _table(self, section: Section, name: str, field: FieldInfo, value: object, path: Path) -> None:
        """A field that is a table of its own is read entry by entry, for the same reason as a section is."""
        if not isinstance(value, dict):
            self.mistake(path, f"found {found(value)}, expected a table of keys")
            return
        key_kind, inner = get_args(field.annotation)
        entries: dict[str, object] = {}
        for key, raw in value.items():
            try:
                if isinstance(inner, type) and issubclass(inner, Section):
                    TypeAdapter(key_kind).validate_python(key)
                    entries[key] = self.read(inner, raw, (*path, key))
                else:
                    setattr(section, name, {key: raw})
                    entries |= getattr(section, name)
            except ValidationError as e:
                for error in e.errors(include_url=False):
                    self.mistake((*path, key), sentence(error))
        section.__dict__[name] = {k: v for k, v in entries.items() if v is not None}

    def errors(
        self, errors: list[ErrorDetails], path: Path, *, strip: int, known: Iterable[str] = ()
    ) -> None:
        """Note what pydantic found wrong below ``path``; ``strip``: places that are ``path`` itself."""
        for error in errors:
            place = (*path, *error["loc"][strip:])
            if error["type"] == "extra_forbidden":
                self.unknown(place, known)
            else:
                self.mistake(place, sentence(error))


_KINDS = {
    "string_type": "text in quotes",
    "bool_type": "true or false",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "list_type": "a list",
    "tuple_type": "a list",
    "dict_type": "a table of keys",
    "model_type": "a table of keys",
    "finite_number": "a number that is finite",
}


_BOUNDS = {
    "greater_than": ("more than {}", "gt"),
    "greater_than_equal": ("at least {}", "ge"),
    "less_than": ("less than {}", "lt"),
    "less_than_equal": ("at most {}", "le"),
    "string_too_short": ("text, {} or more characters", "min_length"),
    "string_too_long": ("text, {} characters at most", "max_length"),
    "too_short": ("at least {} of them", "min_length"),
}


def sentence(error: ErrorDetails) -> str:
    """What was found and what was expected, in words."""
    kind, value, context = error["type"], error["input"], error.get("ctx", {})
    if kind == "missing":
        return "is missing"
    if kind == "value_error":
        return str(context["error"])
    if kind == "literal_error":
        expected = str(context["expected"]).replace("'", '"')
        words = [w.strip('"') for w in expected.replace(" or ", ", ").split(", ")]
        return f"found {found(value)}, expected {expected}{nearest(str(value), words)}"
    if kind == "too_long":
        return f"found {context['actual_length']} of them, expected at most {context['max_length']}"
    if kind in _KINDS:
        return f"found {found(value)}, expected {_KINDS[kind]}"
    if kind in _BOUNDS:
        phrase, bound = _BOUNDS[kind]
        return f"found {found(value)}, expected {phrase.format(context[bound])}"
    message = error["msg"]
    return f"found {found(value)}: {clean(message[:1].lower() + message[1:])}"


def nearest(word: str, known: Iterable[str]) -> str:
    """``; did you mean …?``, or nothing where nothing is near."""
    near = difflib.get_close_matches(word.lower()[:80], list(islice(known, 200)), n=1, cutoff=0.6)
    return f'; did you mean "{near[0]}"?' if near else ""


def keys_of(model: type[BaseModel]) -> Mapping[str, FieldInfo]:
    """A model's fields by the keys that a person writes."""
    return {field.alias or name: field for name, field in model.model_fields.items()}
