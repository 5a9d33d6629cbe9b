"""What must hold of a whole run on its way from the wire to the record: nothing is lost, doubled or changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

import msgspec

from interlock.incident.recorded import refold
from interlock.signals import Counts, Presence, Reading
from interlock.watch.inputs import Anchor, Input, Tick
from interlock.watch.state import ErrorLine, Line, encode
from tests.campaign.oracle import Oracle
from tests.campaign.whole import Whole


def findings_on_the_way(run: Whole) -> Iterator[str]:
    """Whatever was lost, doubled or changed between the wire and the record."""
    yield from run.wrong
    yield from _lines_lost(run)
    yield from _counted_right(run)
    yield from _on_the_way(run)
    yield from _replayed(run)


def findings_whole(run: Whole) -> Iterator[str]:
    """That, and what the campaign's oracle finds."""
    yield from findings_on_the_way(run)
    yield from Oracle(run).findings()


def _lines_lost(run: Whole) -> Iterator[str]:
    """No line is counted as bad or lost on a cable that loses none."""
    poor = {f.adapter for f in run.scenario.faults if f.kind in ("dropped", "damaged", "unplug")}
    last = {x.adapter: x for x in run.published if isinstance(x, Presence)}
    for name, x in sorted(last.items()):
        if name not in poor and (x.bad_lines or x.lost_lines):
            yield f"{name} is said to have sent {x.bad_lines} bad lines, and {x.lost_lines} were lost: none was"


def _counted_right(run: Whole) -> Iterator[str]:
    """When all stand at last, every counter has been counted to the frame, whatever has wrapped on the way."""
    anew = {f.adapter for f in run.scenario.faults if f.kind in ("restart", "restart-on-strike")}
    odd = {f.house for f in run.scenario.faults if f.kind in ("dead-counter", "pass-film")}
    true_fr = {m.house: m.frames for m in run.booth.room.truth().machines}
    for spec in run.show.adapters:
        told = [x for x in run.emitted if isinstance(x, Counts) and x.adapter == spec.name]
        if spec.name in anew or len(told) < 2 or not run.booth.room.idle:
            continue
        for (signal, first, _), (_, last, _) in zip(told[0].values, told[-1].values, strict=True):
            house = signal.split(".")[0]
            per_fr = next(c.frames_per_pulse for c in spec.wiring.counters.values() if c.signal == signal)
            if house not in odd and last - first != int(true_fr[house] / per_fr + 1e-9) * per_fr:
                yield f"{signal} was counted to {last - first:.0f}, and is {true_fr[house]:.2f}"


def _on_the_way(run: Whole) -> Iterator[str]:
    readings = [x for x in run.published if isinstance(x, Reading)]
    if readings != run.emitted:
        yield f"the drivers said {len(run.emitted)} readings, the bus handed on {len(readings)} or others"
    # The fold sorts what waits together by its time of receipt; within one adapter nothing may change its place.
    recorded = [x for x in run.recorded[1:] if not isinstance(x, Tick)]
    if not isinstance(run.recorded[0], Anchor):
        yield "the record does not begin with its anchor"
    there, gone = Counter(map(_form, recorded)), Counter(map(_form, run.published))
    for form in list((there - gone) + (gone - there))[:3]:
        yield f"between the bus and the record: {there[form]} instead of {gone[form]} of {form.decode()}"
    for spec in run.show.adapters:
        a, b = (
            [x for x in xs if getattr(x, "adapter", None) == spec.name] for xs in (recorded, run.published)
        )
        if a != b:
            yield f"the readings of {spec.name} are in the record in another order"
            break
    at = [x.at_s for x in run.recorded]
    if any(a > b + 1.0 for a, b in pairwise(at)):
        yield "the record goes back by more than a second"


def _form(x: Input) -> bytes:
    return msgspec.json.encode(x)


def _replayed(run: Whole) -> Iterator[str]:
    """The record's inputs, folded anew, say what was said; and the record kept the events of it."""
    said = (line for line in run.lines if not isinstance(line, ErrorLine))
    events: list[Line] = []
    for _, _, lines in refold(run.show, False, run.recorded):
        for line in lines:
            if not getattr(line, "periodic", False):
                events.append(line)
            first = next(said, None)
            if first is None or encode(first) != encode(line):
                yield f"its replay says {line} where it said {first}"
                return
    if (more := next(said, None)) is not None:
        yield f"its replay does not say {more}"
    if events != run.recorded_lines:
        yield "the lines in the record are not the events that were said"
