"""Scenarios as a page for people: ``python -m drivers.simulator.page > docs/scenarios.md``."""

from __future__ import annotations

import sys
from typing import Literal, get_args, get_origin

from drivers.simulator.faults import KINDS, FaultKind, fault_kinds

HEAD = """# Scenarios of faults

Printed from `drivers/simulator/` by `python -m drivers.simulator.page`; a test holds the two together.

A rehearsal goes wrong as you tell it to. What goes wrong, and when, stands in a TOML file beside the show:

    longlace rehearse my-show.toml --scenario evening.toml

Every mistake in it is told at once, by line; a house, a link or an adapter that the show has not is one. The same `--seed` gives
the same evening again. Ready ones, for the houses of `configs/demo.toml` and
`six-house.toml`: `configs/scenarios/`. During a rehearsal the usual faults are on F7, and any of these goes in
by `--plain` without `at`: `{"action": "fault", "kind": "trip", "house": "3"}`.

## An example

"""
EXAMPLE = """title = "A trip in mid-run"
crew_stops_after    = "3 s"     # after any motor has stopped, the crew stops all and shuts the dowsers
crew_restarts_after = "2 min"   # so long after the last has stopped, it starts all again
restart_on_strike   = "5 %"     # how often a lamp's strike makes its house's adapters restart

[[fault]]
at    = "00:12:30"              # plan time: after motor_start
kind  = "trip"
house = "3"

[[fault]]
kind  = "start-late"            # these happen at the start, and need no at
house = "2"
by    = "1.2 s"
"""
MIDDLE = """
The first four keys are optional, and so is a crew that does anything: without `crew_stops_after` it is you who says stop
(x on the screen), without `crew_restarts_after` who says restart (t).

## Every kind of fault

`at` is when it happens, as `"00:12:30"` of plan time. **Bold** keys are required. Times are written as `"1.2 s"`, `"2 min"` or
`"00:12:30"`, shares as `"5 %"`.

| kind | what happens | keys |
| --- | --- | --- |
"""


def page() -> str:
    """The whole page, Markdown."""
    return f"{HEAD}```toml\n{EXAMPLE}```\n{MIDDLE}{''.join(map(_row, fault_kinds()))}"


def _row(kind: FaultKind) -> str:
    keys = ["**`at`**" if kind.moment else "`at`"]
    for k in kind.keys:
        name = f"**`{k.key}`**" if k.required else f"`{k.key}`"
        keys.append(f"{name}: {k.text}{_values(kind.kind, k.key)}")
    return f"| `{kind.kind}` | {kind.text} | {'; '.join(keys)} |\n"


def _values(kind: str, key: str) -> str:
    """The words that there are for a key that takes one of a few."""
    field = KINDS[kind].model_fields.get(key)
    if field is None or get_origin(field.annotation) is not Literal:
        return ""
    return f" ({' or '.join(f'`{word}`' for word in get_args(field.annotation))})"


if __name__ == "__main__":
    sys.stdout.write(page())
