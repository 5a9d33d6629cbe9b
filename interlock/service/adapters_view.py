"""What adapters report, drawn for a terminal: one row an input, so that a person sees which one has just moved."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group
from rich.text import Text

from drivers.probe import Input, Kind, Probe

JUST_S = 3.0
"""An input that moved within this is marked."""
PER_ROW = 3
KINDS: tuple[tuple[Kind, str], ...] = (("level", "contacts"), ("counter", "counters"), ("analog", "analogs"))


def inputs(probe: Probe, kind: Kind) -> dict[int, Input]:
    """The probe's inputs of a kind."""
    return {"level": probe.levels, "counter": probe.counters, "analog": probe.analogs}[kind]


def value(kind: Kind, one: Input) -> str:
    """What an input says, in words."""
    if kind == "level":
        return "● closed" if one.value else "○ open"
    if kind == "counter":
        return f"{one.value}" + (f" ({one.rate:.1f}/s)" if one.rate else "")
    return f"{one.value}"


def moved(probe: Probe, kind: Kind, number: int, one: Input) -> str:
    """A move, as one line."""
    what = {"level": "contact", "counter": "counter", "analog": "analog"}[kind]
    return f"{probe.name or probe.port.device} {what} {number}: {value(kind, one).split(' ', 1)[-1]}"


def draw(probes: Sequence[Probe], now_s: float) -> Group:
    """All adapters. Text only: nothing of it is markup."""
    rows: list[Text] = []
    for probe in probes:
        rows.append(Text(f"{probe.port.device}  {probe.words()}", style="bold"))
        age_s = None if probe.heard_s is None else now_s - probe.heard_s
        if age_s is None or age_s > 0.75 or probe.verdict == "closed":
            rows.append(Text("  ? nothing comes in now: what is shown below may no longer hold"))
        if probe.bad_lines:
            rows.append(Text(f"  {probe.bad_lines} damaged lines: look at the cable"))
        for kind, title in KINDS:
            have = sorted(inputs(probe, kind).items())
            for at in range(0, len(have), PER_ROW):
                row = Text(f"  {title if at == 0 else '':<9}", no_wrap=True, overflow="ellipsis")
                for number, one in have[at : at + PER_ROW]:
                    just = one.moved_s is not None and now_s - one.moved_s <= JUST_S
                    cell = f"{'▸' if just else ' '}{number:>2} {value(kind, one)}"
                    row.append(f"{cell:<21} ", style="reverse" if just else "")
                rows.append(row)
    rows.append(
        Text("Close a contact and see which input moves (▸). Enter: done. Ctrl-C: leave, nothing written.")
    )
    return Group(*rows)
