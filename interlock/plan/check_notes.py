"""What a booth lead should be told about a plan that is right but may not be wise. In words, for people."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from interlock.film import format_time
from interlock.plan.odds_stop import REACTION_S, dead_stops, lacking_wire
from interlock.plan.threading_ends import tail
from interlock.plan.threading_limit import pull_limit, stretch_count
from interlock.plan.timeline import house_times, picture_spans
from interlock.plan.times import clashes
from interlock.showfile.show import Show

NO_SAFETY_DEVICE = (
    "This is advice. The program watches; it is no safety device and replaces no hard-wired stop. "
    "Where somebody can be hurt, local codes and licensed practice decide."
)


def notes(show: Show) -> list[str]:
    """Advice on ``show``, the most pressing first; the last one always says what the program is not."""
    return [
        *_crossings(show),
        *_tail(show),
        *_stretches(show),
        *_wired_stops(show),
        *_wiring(show),
        *clashes(show),
        *_times(show),
        *_print(show),
        NO_SAFETY_DEVICE,
    ]


def listed(words: Iterable[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last


def _crossings(show: Show) -> list[str]:
    links = [link for link in (show.feed, *show.links, show.take_up) if link is not None and link.crosses]
    if not links:
        return []
    where = "; ".join(f"link {link.id} crosses {listed(link.crosses)}" for link in links)
    return [
        (
            f"{where[0].upper()}{where[1:]}. Exit routes stay free and unobstructed (29 CFR 1910.37(a)(3), "
            "NFPA 101 7.1.10): film across a doorway, corridor or stair needs the authority's word first, "
            "and local codes decide."
        )
    ]


def _tail(show: Show) -> list[str]:
    """The tail must reach over the longest link, its loop at the fullest, or a house loses its last picture."""
    need = tail(show)
    if need.short_fr <= 0:
        return []
    film = show.film
    have, least = film.format_footage(need.have_fr), film.format_footage(round(need.least_fr))
    if need.have_fr >= need.least_fr:
        return [
            (
                f"The print's tail is {have} of film, just enough for link {need.link} with its loop, {least}, but not for "
                f"a margin of {film.format_footage(round(need.margin_fr))} as well."
            )
        ]
    link = next(link for link in show.links if link.id == need.link)
    return [
        (
            f"The print's tail is {have} of film, shorter than link {need.link} with its loop, {least}: the end of the "
            f"film leaves house {link.upstream} before house {link.downstream} has shown its last picture. Add at least "
            f"{film.format_footage(round(need.least_fr - need.have_fr))} of tail leader, and a margin."
        )
    ]


def _stretches(show: Show) -> list[str]:
    """How many stretches of leader the threading takes, or that one of them cannot be pulled at all."""
    count, hopeless = stretch_count(show)
    limit_n, limit_of = pull_limit(show.threading)
    if hopeless:
        return [
            (
                f"A leader cannot be pulled through {listed(hopeless)} at the {limit_of}'s {limit_n:.0f} N, from wherever it is "
                "begun: `longlace sheets` says where a make-up table or a turning roller would help."
            )
        ]
    if count == 1:
        return []
    return [
        (
            f"The path is threaded in {count} stretches at least, joined on the way: in fewer a leader would pull harder than "
            f"the {limit_n:.0f} N that a {limit_of} bears. `longlace sheets` says where."
        )
    ]


def _wired_stops(show: Show) -> list[str]:
    stops = dead_stops(show)
    lacking = lacking_wire(stops)
    if not lacking:
        return []
    least_s = min(stop.to_limit_s for stop in stops if stop.link in lacking)
    return [
        (
            f"From a dead stop of one machine a loop lasts as little as {least_s:.1f} s; a person needs "
            f"{REACTION_S} s only to react to a surprise. Where a machine stops dead only a wired stop saves the "
            f"print. Without one: {_links(lacking)}."
        )
    ]


def _wiring(show: Show) -> list[str]:
    wired = {signal for adapter in show.adapters for signal in adapter.wiring.signals()}
    if not wired:
        return ["No input of any adapter is wired: this show can be planned and rehearsed, not watched."]
    found: list[str] = []
    silent = [h.id for h in show.houses if f"{h.id}.run" not in wired and f"{h.id}.frames" not in wired]
    if silent:
        found.append(
            f"Neither run contact nor frame counter is wired in {_houses(silent)}: "
            "nothing will tell whether film runs there, nor what is left of the loops beside it."
        )
    uncounted = [h.id for h in show.houses if h.id not in silent and f"{h.id}.frames" not in wired]
    if uncounted:
        found.append(
            f"No frame counter is wired in {_houses(uncounted)}: after some minutes the drift of the links "
            "beside it will not be known, unless an arm sensor measures them."
        )
    return found


def _times(show: Show) -> list[str]:
    found: list[str] = []
    times = house_times(show)
    early = [t for t in times if t.lit and t.strike_lamp_s < 0]
    if early:
        first = min(early, key=lambda t: t.strike_lamp_s)
        found.append(
            f"The lamp is to be struck before the motors start in {_houses(t.house for t in early)}, "
            f"{f'in house {first.house} ' if len(early) > 1 else ''}{format_time(-first.strike_lamp_s)} before. "
            "More leader ahead of the first picture, or a shorter lamp_lead, gives that time back."
        )
    ramping = [
        h.id for h, t in zip(show.houses, times, strict=True) if t.first_picture_fr < show.fps * h.ramp_s / 2
    ]
    if ramping:
        found.append(f"The first picture passes before the machine is at speed in {_houses(ramping)}.")
    zone = ZoneInfo(show.timezone)
    start, end = (
        datetime.fromtimestamp(show.motor_start_wall_s + s, UTC).astimezone(zone)
        for s in (0.0, max(t.tail_clear_s for t in times))
    )
    if start.utcoffset() != end.utcoffset():
        found.append(
            f"The clocks change during the show: it starts at {start:%H:%M} {start:%z} and ends at "
            f"{end:%H:%M} {end:%z}."
        )
    dark = [h.id for h in show.houses if not h.lit]
    if dark:
        found.append(f"No picture is wanted in {_houses(dark)}: lamps and dowsers there are not cued.")
    return found


def _print(show: Show) -> list[str]:
    spans = picture_spans(show)
    found: list[str] = []
    if spans and spans[0][0] > 0:
        found.append(
            f"The print begins with {show.parts[0].kind}; lamp and dowser times are those of its first frame."
        )
    if spans and spans[-1][1] < show.last_picture_fr:
        found.append("The print ends in an intermission: the dowsers shut at its beginning, not at its end.")
    return found


def _houses(ids: Iterable[str]) -> str:
    ids = list(ids)
    return f"house{'s' if len(ids) > 1 else ''} {listed(ids)}"


def _links(ids: Iterable[str]) -> str:
    ids = list(ids)
    return f"link{'s' if len(ids) > 1 else ''} {listed(ids)}"
