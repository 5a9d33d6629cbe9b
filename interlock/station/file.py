"""The station's file: who it is, where the broker is, and its ``[[adapter]]`` blocks as in a show file."""

from __future__ import annotations

from pathlib import Path

import msgspec
from pydantic import Field, ValidationError

from drivers.mqtt_options import BrokerOptions, Word
from drivers.mqtt_words import DESK
from interlock.errors import Mistake, StationFileError
from interlock.service.shows import Installed
from interlock.showfile.models import AdapterSection
from interlock.showfile.section import Source
from interlock.showfile.toml_lines import read_toml
from interlock.showfile.wiring import Signals, resolve_adapter
from interlock.signals import AdapterSpec
from interlock.text import clean

MOST_BYTES = 1_000_000


class StationOptions(BrokerOptions):
    """``[station]``. File names are relative to the file that names them."""

    name: Word = Field(description="what the desk calls it")
    journal: str | None = Field(
        None, min_length=1, description="where readings wait while the network is away"
    )


class StationFile(msgspec.Struct, frozen=True):
    """What is in it."""

    options: StationOptions
    adapters: tuple[AdapterSpec, ...]
    journal: Path


def read_station(path: Path) -> StationFile:
    """Raises :class:`StationFileError` with every mistake by line."""
    shown = clean(str(path), 4096)
    try:
        raw = path.read_bytes()[: MOST_BYTES + 1]
        text = raw.decode("utf-8-sig")
    except (OSError, UnicodeDecodeError, ValueError) as error:
        reason = clean(getattr(error, "strerror", None) or str(error))
        raise StationFileError(shown, [Mistake(0, "file", f"cannot be read: {reason}")]) from None
    if len(raw) > MOST_BYTES:
        raise StationFileError(
            shown, [Mistake(0, "file", f"is larger than {MOST_BYTES:,} bytes, expected a station's file")]
        )
    toml = read_toml(text)
    source = Source(toml)
    data = toml.data
    for key in data.keys() - {"station", "adapter"}:
        source.unknown((key,), ("station", "adapter"))
    options = _options(source, data.get("station"))
    adapters = _adapters(source, data.get("adapter"))
    if source.mistakes or options is None:
        raise StationFileError(shown, source.mistakes)
    return StationFile(
        _placed(options, path.parent),
        adapters,
        path.parent / (options.journal or f"{path.stem}.journal"),
    )


def _options(source: Source, raw: object) -> StationOptions | None:
    if not isinstance(raw, dict):
        source.mistake(("station",), "is missing; expected a table with name and broker")
        return None
    try:
        options = StationOptions.model_validate(raw)
    except ValidationError as error:
        errors = error.errors(include_url=False)
        source.errors(errors, ("station",), strip=0, known=StationOptions.model_fields)
        return None
    if options.name == DESK:
        source.mistake(("station", "name"), f"no station may be called {DESK}")
    return options


def _adapters(source: Source, raw: object) -> tuple[AdapterSpec, ...]:
    if raw is None:
        source.mistake(("adapter",), "is missing; expected at least one [[adapter]]")
        return ()
    signals = Signals(source, None, None)  # which houses there are is the desk's to know
    installed = Installed()
    made: dict[str, AdapterSpec] = {}
    for section in source.sections(AdapterSection, raw, "adapter"):
        spec = resolve_adapter(source, section, signals, installed)
        if spec is None:
            continue
        if spec.driver in ("mqtt", "simulator", "replay"):
            source.mistake(
                (*section.place, "driver"), f"found {spec.driver}, expected hardware of this booth's own"
            )
        if spec.name in made:
            source.mistake((*section.place, "name"), "is another adapter's name too")
        if not all(c.isascii() and (c.isalnum() or c in "-_") for c in spec.name) or len(spec.name) > 32:
            source.mistake((*section.place, "name"), "expected letters, digits, - and _: it becomes a topic")
        made[spec.name] = spec
    return tuple(made.values())


def _placed(options: StationOptions, folder: Path) -> StationOptions:
    return options.model_copy(
        update={
            key: str(folder / value)
            for key in ("ca", "password_file")
            if (value := getattr(options, key)) is not None
        }
    )


__all__ = ["StationFile", "StationOptions", "read_station"]
