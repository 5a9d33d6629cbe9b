"""The readings themselves around one moment of a record: contacts as they changed, and drift by the counters alone."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

import msgspec
import numpy as np

from interlock.errors import RecordAltered
from interlock.incident.course import Floats
from interlock.incident.recorded import Readings, seconds_at
from interlock.signals import Contacts, Counts, Presence
from interlock.watch.inputs import Input
from interlock.watch.state import Line

SILENT_S = 1.0
"""Adapters speak ten times a second or more, of counters that stand as well."""
MARGIN = 200
"""Inputs read before the one that is thought to be the first: adapters do not speak evenly."""


class Edge(msgspec.Struct, frozen=True):
    """One thing that a reading said. ``at_s``: when it was true, UTC seconds; ``heard_s``: how much later it was heard."""

    at_s: float
    heard_s: float
    adapter: str
    text: str


class Window(msgspec.Struct, frozen=True):
    """``edges`` in order. ``pulses``: per house, (UTC seconds, frames counted) of each count with a new pulse."""

    edges: tuple[Edge, ...]
    pulses: dict[str, tuple[Floats, Floats]]

    def frames_between(self, upstream: str, downstream: str, at_s: Floats) -> Floats | None:
        """Frames that upstream ran more than downstream since ``at_s[0]``, by the counters; None if one is not counted there.

        NaN where a counter said nothing for ``SILENT_S``: between two words so far apart nobody knows when the frames went by.
        """
        moved: list[Floats] = []
        for house in (upstream, downstream):
            counted = self.pulses.get(house)
            if counted is None or len(counted[0]) < 2:
                return None
            x = np.interp(at_s, counted[0], counted[1])
            heard = np.searchsorted(counted[0], at_s).clip(1, len(counted[0]) - 1)
            unheard = (counted[0][heard] - counted[0][heard - 1] > SILENT_S) | (
                at_s > counted[0][-1] + SILENT_S
            )
            moved.append(np.where(unheard, np.nan, x - x[0]))
        between: Floats = moved[0] - moved[1]
        return between


def read_window(source: Readings, lines: Sequence[tuple[int, Line]], from_s: float, to_s: float) -> Window:
    """What was read between two moments (UTC seconds). A window that cannot be read any more is empty from there on."""
    times = [seconds_at(line.at) for _, line in lines]
    start = _guess(lines, times, from_s)
    known = {
        seq: at_s for (seq, _), at_s in zip(lines, times, strict=True) if from_s - 60.0 < at_s < to_s + 60.0
    }
    inputs: list[Input] = []
    offset: float | None = None
    try:
        for seq, x in source.inputs(start):
            if seq in known:
                # What an input itself brought is dated by it; what fell due before it, earlier.
                here = known[seq] - x.at_s
                offset = here if offset is None else max(offset, here)
            if offset is not None and x.at_s + offset > to_s:
                break
            inputs.append(x)
    except RecordAltered:
        pass
    if offset is None:
        return Window((), {})
    return _gather(inputs, offset, from_s, to_s)


def _guess(lines: Sequence[tuple[int, Line]], times: list[float], from_s: float) -> int:
    """The number of an input shortly before ``from_s``: inputs come evenly between two lines, or nearly."""
    i = bisect_right(times, from_s) - 1
    if i < 0:
        return 0
    seq, at_s = lines[i][0], times[i]
    if i + 1 < len(lines) and times[i + 1] > at_s:
        share = (from_s - at_s) / (times[i + 1] - at_s)
        return max(seq, seq + int(share * (lines[i + 1][0] - seq)) - MARGIN)
    return seq


def _gather(inputs: list[Input], offset: float, from_s: float, to_s: float) -> Window:
    state: dict[str, bool] = {}
    edges: list[Edge] = []
    pulses: dict[str, tuple[list[float], list[float]]] = {}
    for x in inputs:
        if isinstance(x, Contacts):
            for signal, value in x.values:
                if state.get(signal) is not value:
                    if signal in state:
                        edges.append(
                            Edge(x.fact_s + offset, x.at_s - x.fact_s, x.adapter, _words(signal, value))
                        )
                    state[signal] = value
        elif isinstance(x, Presence) and (x.state != "up" or x.text):
            text = f": {x.text}" if x.text else ""
            edges.append(
                Edge(x.fact_s + offset, x.at_s - x.fact_s, x.adapter, f"adapter {x.adapter} {x.state}{text}")
            )
        elif isinstance(x, Counts):
            for signal, frames, pulse_s in x.values:
                at_s, counted = pulses.setdefault(signal.removesuffix(".frames"), ([], []))
                if counted and frames < counted[-1]:
                    at_s.clear()  # counted anew from 0: what was before cannot be told from what came after
                    counted.clear()
                # A counter without a new pulse says that nothing has come since: so it stands still, not on a slope.
                when = (
                    pulse_s if pulse_s is not None and (not counted or frames > counted[-1]) else x.fact_s
                ) + offset
                if not at_s or when > at_s[-1]:
                    at_s.append(when)
                    counted.append(frames)
    return Window(
        tuple(sorted((e for e in edges if from_s <= e.at_s <= to_s), key=lambda e: e.at_s)),
        {h: (np.array(t), np.array(f)) for h, (t, f) in pulses.items()},
    )


_CONTACTS = {
    "run": ("motor contact: turns", "motor contact: stands"),
    "lamp": ("lamp contact: lit", "lamp contact: out"),
    "dowser": ("dowser contact: open", "dowser contact: shut"),
    "film": ("film sensor: film present", "film sensor: film absent"),
    "tight": ("tight switch closes", "tight switch opens"),
    "spill": ("spill switch closes", "spill switch opens"),
}


def _words(signal: str, value: bool) -> str:
    subject, _, what = signal.rpartition(".")
    true, false = _CONTACTS.get(what, (f"{what}: on", f"{what}: off"))
    where = (
        f"link {subject}"
        if ">" in subject
        else subject
        if subject in ("feed", "take-up")
        else f"house {subject}"
    )
    return f"{where}: {true if value else false}"
