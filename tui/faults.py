"""Faults to throw into a rehearsal by hand: the usual ones, on the picked house, its loop and its booth's adapter.

A fault is a line of a scenario; the simulator judges it. The composition root may pass a list of its own instead.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeAlias

from interlock.watch.state import Layout, State

Fault: TypeAlias = tuple[str, Mapping[str, object]]
"""(words for people, the keys of a scenario's line)"""

_HOUSE: tuple[Fault, ...] = (
    ("house {} trips: its motor stops", {"kind": "trip"}),
    ("house {} does not start", {"kind": "no-start"}),
    ("house {} starts 1.4 s late", {"kind": "start-late", "by": "1.4 s"}),
    ("house {} creeps: 0.15 % fast", {"kind": "creep", "by": "0.15 %"}),
    ("house {} creeps: 1 % slow", {"kind": "creep", "by": "-1 %"}),
    ("house {}: its lamp does not strike", {"kind": "lamp-fails"}),
    ("house {}: its lamp goes out", {"kind": "lamp-out"}),
    ("house {}: its dowser is stuck where it is", {"kind": "dowser-stuck"}),
    ("house {}: its frame counter is dead", {"kind": "dead-counter"}),
)
_ADAPTER: tuple[Fault, ...] = (
    ("adapter {} is silent for 20 s", {"kind": "silence", "for": "20 s"}),
    ("adapter {} restarts", {"kind": "restart"}),
    ("adapter {}: 5 % of its lines are damaged", {"kind": "damaged", "share": "5 %"}),
)


def usual_faults(layout: Layout, state: State, house: int) -> tuple[Fault, ...]:
    """The usual faults for house ``house`` (film order): those of the house, the loop behind it, the adapters, the platters."""
    if not layout.houses:
        return ()
    lay = layout.houses[min(house, len(layout.houses) - 1)]
    found: list[Fault] = [(words.format(lay.house), {**keys, "house": lay.house}) for words, keys in _HOUSE]
    if house < len(layout.links):
        link = layout.links[house].link
        found.append((f"a splice parts in {link}", {"kind": "splice-parts", "link": link}))
    for a in state.adapters:
        found += [(words.format(a.adapter), {**keys, "adapter": a.adapter}) for words, keys in _ADAPTER]
    if layout.feed:
        found.append(("the feed platter stops", {"kind": "platter-stops", "platter": "feed"}))
    if layout.take_up:
        found.append(("the take-up platter stops", {"kind": "platter-stops", "platter": "take-up"}))
    return tuple(found)
