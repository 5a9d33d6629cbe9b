"""The clock times of every house, from its doors to the end of the film, and what they clash with."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import msgspec

from interlock.plan.timeline import house_times, time_of_frame
from interlock.showfile.show import Show


class HouseClock(msgspec.Struct, frozen=True):
    """One house's evening. ``_s`` are plan time; None: there is none (a dark house, a print without feature).

    ``next_show_s``: when its next show begins.
    """

    house: str
    name: str
    doors_s: float | None
    motor_s: float
    lamp_s: float | None
    dowser_s: float | None
    first_picture_s: float
    feature_s: float | None
    last_picture_s: float
    clear_s: float
    next_show_s: float | None = None
    free_s: float = 0.0
    """When another show can begin here: the house turned round, and the film out of its machine."""

    def times(self) -> Iterator[tuple[str, float]]:
        """(what, plan time) of all that there are, as they stand in tables."""
        for what in WHAT:
            time_s: float | None = getattr(self, f"{what.replace(' ', '_')}_s")
            if time_s is not None:
                yield what, time_s


WHAT = ("doors", "motor", "lamp", "dowser", "first picture", "feature", "last picture", "clear")
"""The times of a house, in the order in which they are listed."""


def clocks(show: Show) -> tuple[HouseClock, ...]:
    """The times of all houses, in film order."""
    feature_fr = next((part.start_fr for part in show.parts if part.kind == "feature"), None)
    found: list[HouseClock] = []
    for k, (house, t) in enumerate(zip(show.houses, house_times(show), strict=True)):
        busy_s = t.last_picture_s + house.turnaround_s if house.lit else t.last_picture_s
        next_wall_s = house.next_show_wall_s
        found.append(
            HouseClock(
                house=house.id,
                name=house.name,
                doors_s=t.first_picture_s - house.doors_lead_s if house.lit else None,
                motor_s=house.start_delay_s,
                lamp_s=t.strike_lamp_s if house.lit else None,
                dowser_s=t.open_dowser_s if house.lit else None,
                first_picture_s=t.first_picture_s,
                feature_s=None if feature_fr is None else time_of_frame(show, k, feature_fr),
                last_picture_s=t.last_picture_s,
                clear_s=t.tail_clear_s,
                next_show_s=None if next_wall_s is None else next_wall_s - show.motor_start_wall_s,
                free_s=max(busy_s, t.tail_clear_s),
            )
        )
    return tuple(found)


def local(show: Show, plan_s: float) -> datetime:
    """The local time of ``plan_s`` in the show's zone, to the nearest second."""
    start = datetime.fromtimestamp(show.motor_start_wall_s, UTC)
    exact = start + timedelta(seconds=plan_s) + timedelta(microseconds=500_000)
    return exact.replace(microsecond=0).astimezone(ZoneInfo(show.timezone))


def clock_text(show: Show, plan_s: float, *, offset: bool | None = None) -> str:
    """``19:26:30``; with ``+1d`` on a later day than the start, with the offset where clocks change.

    ``offset``: None shows it where the show's evening has two of them.
    """
    at, start = local(show, plan_s), local(show, 0.0)
    days = (at.date() - start.date()).days
    shown = offset if offset is not None else clocks_change(show)
    return f"{at:%H:%M:%S}{f' {days:+d}d' if days else ''}{f' {at:%z}' if shown else ''}"


def clocks_change(show: Show) -> bool:
    """True if the evening, from the first doors to the last frame, has two offsets from UTC."""
    every = [time_s for clock in clocks(show) for _, time_s in clock.times()]
    return local(show, min(every)).utcoffset() != local(show, max(every)).utcoffset()


def clashes(show: Show) -> list[str]:
    """Houses whose next show begins before they are free, in sentences."""
    said: list[str] = []
    houses = {house.id: house for house in show.houses}
    for clock in clocks(show):
        if clock.next_show_s is None or clock.free_s <= clock.next_show_s:
            continue
        turned_s = houses[clock.house].turnaround_s
        why = (
            f"the film's end leaves its machine at {clock_text(show, clock.clear_s)}"
            if clock.clear_s >= clock.free_s
            else f"its last picture is at {clock_text(show, clock.last_picture_s)}, and {turned_s / 60:.0f} min to turn it round"
        )
        late_s = clock.free_s - clock.next_show_s
        said.append(
            f"{clock.name}: the next show begins at {clock_text(show, clock.next_show_s)}, but {why}: "
            f"{late_s / 60:.0f} min too early. Start it later, or put this house nearer the head of the chain."
        )
    return said
