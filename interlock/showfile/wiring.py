"""The show file's adapters: what their inputs are wired to, checked against the houses and links."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import BaseModel, ValidationError

from interlock.showfile.models import AdapterSection
from interlock.showfile.quantities import found
from interlock.showfile.section import Source, keys_of, nearest
from interlock.showfile.toml_lines import Path
from interlock.signals import (
    HOUSE_CONTACTS,
    LINK_CONTACTS,
    PLATTERS,
    AdapterSpec,
    AnalogWire,
    CounterWire,
    Wiring,
)

Options = Mapping[str, type[BaseModel]]
"""Per kind of driver, the model of the keys that only it knows."""

WIRE_COUNTERS = 10
"""Counters that an adapter's line has room for (wire.md)."""

_TABLES = ("levels", "counters", "analogs")
_LEVELS, _COUNTER, _ANALOG = "a contact", "a counter", "an analog input"


class Signals:
    """Which signals there are (``None``: the chain could not be read), and which inputs have claimed one."""

    def __init__(self, source: Source, houses: list[str] | None, links: list[str] | None) -> None:
        self._source = source
        self._houses = houses
        self._links = links
        self._claimed: dict[str, int] = {}

    def claim(self, text: str, kind: str, place: Path) -> str:
        """Check that ``text`` is a signal that this ``kind`` of input may report, and no other does."""
        inverted = text.startswith("!")
        signal = text.removeprefix("!")
        if (why := self._wrong(signal, kind, inverted)) is not None:
            self._source.mistake(place, f"found {found(text)}, {why}")
        elif signal in self._claimed:
            where = self._claimed[signal]
            self._source.mistake(
                place, f"found {found(text)}, which the input on line {where} reports already"
            )
        else:
            self._claimed[signal] = self._source.line(place)
        return text

    def _wrong(self, signal: str, kind: str, inverted: bool) -> str | None:
        """What is wrong with it; None if nothing is, or if it cannot be known."""
        subject, point, what = signal.rpartition(".")
        if not point or not subject:
            return 'expected a signal, as in "4.run" or "4>3.tight"'
        if inverted and kind != _LEVELS:
            return f'expected no "!": {kind} cannot be inverted'
        if kind == _LEVELS and subject in PLATTERS:
            return None if what == "run" else f"expected {subject}.run, all that a platter tells"
        is_link = ">" in subject
        if is_link and self._links is not None and subject not in self._links:
            turned = ">".join(reversed(subject.split(">")))
            hint = f'; the film runs "{turned}"' if turned in self._links else nearest(subject, self._links)
            return f"but the show has no link {found(subject)}{hint}"
        if (
            not is_link
            and subject not in PLATTERS
            and self._houses is not None
            and subject not in self._houses
        ):
            return f"but the show has no house {found(subject)}{nearest(subject, self._houses)}"
        allowed = _allowed(kind, is_link)
        if what not in allowed:
            of = "a link" if is_link else "a platter" if subject in PLATTERS else "a house"
            have = (
                f"expected {' or '.join(allowed)}{nearest(what, allowed)}"
                if allowed
                else f"no signal of {kind}"
            )
            return f"which is not among what {kind} tells of {of}; {have}"
        return None


def _allowed(kind: str, is_link: bool) -> tuple[str, ...]:
    if kind == _LEVELS:
        return LINK_CONTACTS if is_link else HOUSE_CONTACTS
    if kind == _COUNTER:
        return () if is_link else ("frames",)
    return ("arm",) if is_link else ()


def resolve_adapter(
    source: Source, section: AdapterSection, signals: Signals, options: Options | None
) -> AdapterSpec | None:
    """The adapter as its driver gets it; None if it could not be read whole."""
    levels = {
        int(n): signals.claim(text, _LEVELS, (*section.place, "levels", n))
        for n, text in section.levels.items()
    }
    counters: dict[int, CounterWire] = {}
    for n, counter in section.counters.items():
        if counter.has("signal"):
            signals.claim(counter.signal, _COUNTER, (*counter.place, "signal"))
            counters[int(n)] = CounterWire(counter.signal, counter.frames_per_pulse)
        if section.has("driver") and section.driver == "serial" and int(n) >= WIRE_COUNTERS:
            source.mistake(counter.place, f"an adapter's line has room for counters 0 to {WIRE_COUNTERS - 1}")
    analogs: dict[int, AnalogWire] = {}
    for n, analog in section.analogs.items():
        if analog.has("signal"):
            signals.claim(analog.signal, _ANALOG, (*analog.place, "signal"))
        if analog.has("signal", "tight_at", "spill_at"):
            if analog.tight_at == analog.spill_at:
                text = f"found {found(analog.spill_at)} as for tight_at, expected another raw value"
                source.mistake((*analog.place, "spill_at"), text)
            analogs[int(n)] = AnalogWire(analog.signal, analog.tight_at, analog.spill_at)
    extra = section.extra
    _check_options(source, section, extra, options)
    if not section.has("name", "driver"):
        return None
    return AdapterSpec(section.name, section.driver, extra, Wiring(levels, counters, analogs))


def _check_options(
    source: Source, section: AdapterSection, extra: dict[str, object], options: Options | None
) -> None:
    for key, value in extra.items():
        if not all(text.isprintable() for text in (key, *_texts(value))):
            source.mistake(
                (*section.place, key), "holds characters that cannot be shown; expected plain text"
            )
        if options is None and isinstance(value, dict) and nearest(key, _TABLES):
            source.unknown((*section.place, key), _TABLES)  # "[adapter.levls]" is no driver's key
    if options is None or not section.has("driver"):
        return
    model = options.get(section.driver)
    if model is None:
        text = f"found {found(section.driver)}, expected one of {', '.join(sorted(options))}"
        source.mistake((*section.place, "driver"), text + nearest(section.driver, options))
        return
    try:
        model.model_validate(extra)
    except ValidationError as e:
        known = [*keys_of(AdapterSection), *keys_of(model)]
        source.errors(e.errors(include_url=False), section.place, strip=0, known=known)


def _texts(value: object) -> list[str]:
    if isinstance(value, str):
        return [value]
    if isinstance(value, Mapping):
        return [t for k, v in value.items() for t in (*_texts(k), *_texts(v))]
    return [t for v in value for t in _texts(v)] if isinstance(value, list) else []
