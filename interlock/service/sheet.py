"""The cue sheet of a far booth, as the desk knows it now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from interlock.plan.timeline import house_cues
from interlock.service.folding import Folding
from interlock.showfile.show import Show

if TYPE_CHECKING:
    from drivers.mqtt_sheet import Sheet


def houses_of(show: Show, adapters: set[str]) -> frozenset[str]:
    """The houses that hang on these adapters, and those that share a booth with one of them."""
    signals = {s for a in show.adapters if a.name in adapters for s in a.wiring.signals()}
    own = {signal.rpartition(".")[0] for signal in signals}
    booths = {h.booth for h in show.houses if h.id in own and h.booth}
    return frozenset(h.id for h in show.houses if h.id in own or h.booth in booths)


def make_sheet(
    folding: Folding, of: str, houses: frozenset[str], *, desk: str, wall_s: float, watching: bool
) -> Sheet:
    """The cue sheet of these houses, as the desk knows it now."""
    from drivers.mqtt_sheet import Sheet, SheetCue, SheetHouse  # noqa: PLC0415 - as above

    show, state = folding.show, folding.state()
    plan_s = state.plan_s if state.plan_s is not None else 0.0
    found = []
    for k, lines in enumerate(folding.desk.cues()):
        house = show.houses[k]
        if house.id not in houses:
            continue
        cues = []
        for planned, line in zip(house_cues(show, k), lines, strict=True):
            if state.show_s is None:  # the clock alone says when
                in_s: float | None = planned.plan_s - plan_s
            else:
                in_s = None if line.due_s is None else line.due_s - state.show_s
            cues.append(SheetCue(planned.cue, planned.plan_s, in_s, line.state))
        found.append(SheetHouse(house.id, house.name, tuple(cues), house.start_delay_s))
    return Sheet(
        of=of,
        desk=desk,
        wall_s=wall_s,
        title=show.title,
        timezone=show.timezone,
        phase=state.phase,
        plan_s=plan_s,
        standing=state.phase == "stopped",
        watching=watching,
        houses=tuple(found),
    )
