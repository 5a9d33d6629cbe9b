"""A scenario of faults for a rehearsal: a TOML file, read with every mistake by its line.

::

    title = "A trip in mid-run"
    crew_stops_after = "3 s"        # optional: after any motor has stopped, the crew stops all and shuts the dowsers
    crew_restarts_after = "2 min"   # optional: and starts all again so long after the last has stopped
    restart_on_strike = "5 %"       # optional: how often a strike makes the house's adapters restart

    [[fault]]
    at = "00:12:30"
    kind = "trip"
    house = "3"
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import Path

import msgspec
from pydantic import TypeAdapter, ValidationError

from drivers.simulator.faults import NAMING, Fault, read_fault
from drivers.simulator.faults_booth import ClockStep
from drivers.simulator.machines import SimSpec
from drivers.simulator.quantity import Portion, Span
from interlock.errors import ActionError, Mistake, ScenarioError
from interlock.text import clean

MOST_BYTES = 500_000
_TOP = {"crew_stops_after": Span, "crew_restarts_after": Span, "restart_on_strike": Portion}
_HEADER = re.compile(r"\s*\[\[\s*fault\s*\]\]")
_TABLE = re.compile(r"""\s*\[\[?\s*["']?([A-Za-z0-9_-]+)["']?""")
_PAIR = re.compile(r"""\s*["']?([A-Za-z0-9_-]+)["']?\s*=""")
_WHERE = re.compile(r" \(at (?:line ([0-9]+), column [0-9]+|end of document)\)$")


class Scenario(msgspec.Struct, frozen=True):
    """What happens in a rehearsal. ``lines[i]``: the line of ``faults[i]`` in the file ``name``."""

    title: str = ""
    faults: tuple[Fault, ...] = ()
    crew_stops_after_s: float | None = None
    crew_restarts_after_s: float | None = None
    restart_on_strike: float = 0.0
    name: str = "scenario"
    lines: tuple[int, ...] = ()

    @property
    def clock_steps(self) -> tuple[tuple[float, float], ...]:
        """(plan time, seconds) of each step of the wall clock: whoever owns the clock makes them."""
        return tuple((f.at_s or 0.0, f.by_s) for f in self.faults if isinstance(f, ClockStep))

    def check(self, spec: SimSpec) -> None:
        """Raises ``ScenarioError`` for every fault that names what this show has not."""
        mistakes = [
            Mistake(line, key, text)
            for fault, line in zip(self.faults, self.lines or (0,) * len(self.faults), strict=True)
            for key, text in unknown_names(fault, spec)
        ]
        if mistakes:
            raise ScenarioError(self.name, mistakes)


def check_fault(fault: Fault, spec: SimSpec) -> None:
    """Raises ``ActionError`` for a fault thrown in by hand that names what this show has not."""
    if mistakes := unknown_names(fault, spec):
        raise ActionError("; ".join(f"{key}: {text}" for key, text in mistakes))


def unknown_names(fault: Fault, spec: SimSpec) -> list[tuple[str, str]]:
    """(key, mistake) for each key of ``fault`` that names nothing in this show."""
    return _unknown(fault.kind, {key: getattr(fault, key, None) for key in NAMING}, spec)


def _unknown(kind: object, names: Mapping[str, object], spec: SimSpec) -> list[tuple[str, str]]:
    """The same for the names alone, so that a fault with another mistake in it is looked at as well."""
    counted = {c.signal for a in spec.adapters for c in a.wiring.counters.values()}
    contacts = {s.removeprefix("!") for a in spec.adapters for s in a.wiring.levels.values()}
    known: dict[str, list[str]] = {
        "house": list(spec.houses),
        "link": [p.id for p in spec.loops],
        "adapter": [a.name for a in spec.adapters],
        "signal": sorted(contacts),
        "supply": sorted({m.supply for m in spec.machines}),
        "platter": ["feed", "take-up"],
    }
    mistakes = []
    for key in NAMING:
        name = names.get(key)
        if isinstance(name, str) and name not in known[key]:
            there = ", ".join(known[key]) or "none"
            mistakes.append((key, f'found "{clean(name, 40)}", this show has: {clean(there, 120)}'))
    house = names.get("house")
    if (
        kind == "dead-counter"
        and isinstance(house, str)
        and not mistakes
        and f"{house}.frames" not in counted
    ):
        mistakes.append(("house", f'found "{clean(house, 40)}", whose frames no adapter counts'))
    return mistakes


def load_scenario(path: str | Path, spec: SimSpec | None = None) -> Scenario:
    """The scenario in the file at ``path``; with ``spec`` held against that show too.

    Raises ``ScenarioError`` with every mistake, also where it cannot be read.
    """
    name = clean(str(path), 4096)
    try:
        with Path(path).open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
        text = raw.decode("utf-8-sig")
    except FileNotFoundError:
        raise ScenarioError(name, [Mistake(0, "file", "there is no such file")]) from None
    except UnicodeDecodeError as e:
        line = raw.count(b"\n", 0, e.start) + 1
        raise ScenarioError(name, [Mistake(line, "file", "is no text in UTF-8; save it as such")]) from None
    except (OSError, ValueError) as e:
        why = clean(getattr(e, "strerror", None) or str(e))
        raise ScenarioError(name, [Mistake(0, "file", f"cannot be read: {why}")]) from None
    if len(raw) > MOST_BYTES:
        raise ScenarioError(
            name, [Mistake(0, "file", f"is larger than {MOST_BYTES:,} bytes, expected a scenario")]
        )
    return parse_scenario(text, name, spec)


def parse_scenario(text: str, name: str = "scenario", spec: SimSpec | None = None) -> Scenario:
    """The scenario that ``text`` describes, ``name`` being its file's. Raises ``ScenarioError`` with every mistake.

    With ``spec`` those too that name what this show has not, also in a fault that has another mistake.
    """
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as e:
        found = _WHERE.search(str(e))
        line = int(found[1]) if found and found[1] else text.count("\n") + 1 if found else 0
        why = clean(_WHERE.sub("", str(e))) or "lists or tables stand too deep in each other"
        raise ScenarioError(name, [Mistake(line, "file", f"no TOML: {why}")]) from None
    if "show" in data and "fault" not in data:
        raise ScenarioError(
            name, [Mistake(0, "file", "is a show file, expected a scenario: faults, each headed [[fault]]")]
        )
    lines = _lines(text)
    mistakes: list[Mistake] = []
    top = _top(data, lines, mistakes)
    faults, places = _faults(data.get("fault", []), lines, mistakes, spec)
    if mistakes:
        raise ScenarioError(name, sorted(mistakes, key=lambda m: m.line))
    title = clean(str(data.get("title", "")))
    return Scenario(
        title, tuple(faults), top.get("crew_stops_after"), top.get("crew_restarts_after"),
        top.get("restart_on_strike") or 0.0, name, tuple(places),
    )  # fmt: skip


def _top(
    data: Mapping[str, object], lines: Mapping[tuple[int, str], int], mistakes: list[Mistake]
) -> dict[str, float]:
    values: dict[str, float] = {}
    known = ("title", *_TOP, "fault")
    for key, value in data.items():
        line = lines.get((0, key), 0)
        if key in _TOP:
            try:
                values[key] = TypeAdapter[float](_TOP[key]).validate_python(value)
            except ValidationError as e:
                text = e.errors(include_url=False)[0]["msg"].removeprefix("Value error, ")
                mistakes.append(Mistake(line, key, text))
        elif key == "title" and not isinstance(value, str):
            mistakes.append(Mistake(line, key, "expected text in quotes"))
        elif key not in known:
            near = get_close_matches(key, known, 1)
            hint = f"; is it {near[0]}?" if near else f"; there are: {', '.join(known)}"
            mistakes.append(Mistake(line, clean(key, 40), f"is no key of a scenario{hint}"))
    return values


def _faults(
    entries: object, lines: Mapping[tuple[int, str], int], mistakes: list[Mistake], spec: SimSpec | None
) -> tuple[list[Fault], list[int]]:
    faults: list[Fault] = []
    places: list[int] = []
    if not isinstance(entries, list):
        mistakes.append(Mistake(lines.get((0, "fault"), 0), "fault", "expected entries headed [[fault]]"))
        return faults, places
    for n, entry in enumerate(entries, 1):
        head = lines.get((n, ""), lines.get((0, "fault"), 0))
        if not isinstance(entry, dict):
            mistakes.append(Mistake(head, "fault", "expected entries headed [[fault]]"))
            continue
        fault, wrong = read_fault(entry)
        if fault is not None and fault.moment and fault.at_s is None:
            wrong.append(("at", 'is missing; expected when it happens, as in "00:12:30" of plan time'))
        if spec is not None:
            told = {key for key, _ in wrong}
            wrong += [x for x in _unknown(entry.get("kind"), entry, spec) if x[0] not in told]
        mistakes.extend(Mistake(lines.get((n, key), head), key, why) for key, why in wrong)
        if fault is not None:
            faults.append(fault)
            places.append(head)
    return faults, places


def _lines(text: str) -> dict[tuple[int, str], int]:
    """(number of the fault or 0, key) → line; (number, "") → the fault's heading. A scenario is flat, so this will do."""
    lines: dict[tuple[int, str], int] = {}
    n = 0
    for line, row in enumerate(text.split("\n"), 1):
        if _HEADER.match(row):
            n += 1
            lines[n, ""] = line
        elif (m := _TABLE.match(row)) is not None:
            lines.setdefault((0, m[1]), line)  # no scenario has one, and that is told by its line
        elif (m := _PAIR.match(row)) is not None:
            lines.setdefault((n, m[1]), line)
    return lines
