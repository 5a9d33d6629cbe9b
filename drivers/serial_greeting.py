"""What an adapter's ``HI`` means for the show file's wiring, and what to tell the booth lead about it."""

from __future__ import annotations

from drivers.wire import Hello
from interlock.signals import AdapterSpec, Wiring
from interlock.text import clean


def narrowed(wiring: Wiring, levels: int, counters: int, analogs: int) -> Wiring:
    """The part of the wiring that an adapter with so many inputs of each sort has."""
    return Wiring(
        levels={k: v for k, v in wiring.levels.items() if k < levels},
        counters={k: v for k, v in wiring.counters.items() if k < counters},
        analogs={k: v for k, v in wiring.analogs.items() if k < analogs},
    )


def complaint(spec: AdapterSpec, place: str, hello: Hello) -> str:
    """What does not fit between the adapter and the show file, in words; empty if all does."""
    if hello.version != 1:
        return (
            f"the adapter on {place} speaks version {hello.version} of the adapter line and this program "
            f"speaks version 1: nothing that it says is used. Give it the firmware for version 1"
        )
    said: list[str] = []
    name = clean(hello.name, 40)
    if name != spec.name:
        said.append(
            f"the adapter on {place} says that it is {name!r}, the show file expects {spec.name!r} there: "
            f"are two adapters swapped?"
        )
    wiring = spec.wiring
    sorts = (
        ("contact inputs", hello.levels, {k: s.removeprefix("!") for k, s in wiring.levels.items()}),
        ("counters", hello.counters, {k: c.signal for k, c in wiring.counters.items()}),
        ("analog inputs", hello.analogs, {k: a.signal for k, a in wiring.analogs.items()}),
    )
    for what, has, wired in sorts:
        missing = [f"{k} ({signal})" for k, signal in sorted(wired.items()) if k >= has]
        if missing:
            said.append(
                f"it has {has} {what}, numbered from 0, and the show file wires {', '.join(missing)}: "
                f"not reported, so not known"
            )
    return clean("; ".join(said), 500)
