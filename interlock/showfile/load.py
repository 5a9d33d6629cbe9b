"""From a show file to a show, or to every mistake in it at once, each by its line."""

from __future__ import annotations

import zoneinfo
from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path
from typing import TypeVar

from interlock.errors import Mistake, ShowFileError
from interlock.film import FORMATS
from interlock.showfile.distances import DistanceSection, resolve_distances
from interlock.showfile.localtime import computers_zone, wall_seconds, zone_named
from interlock.showfile.models import (
    AdapterSection,
    AlarmsSection,
    CueSection,
    HouseSection,
    LinkSection,
    PartSection,
    ShowFile,
    ShowSection,
)
from interlock.showfile.quantities import found
from interlock.showfile.resolve_chain import check_chain, check_links, resolve_house, resolve_link
from interlock.showfile.resolve_print import Gauge, resolve_cues, resolve_parts
from interlock.showfile.section import Section, Source, keys_of
from interlock.showfile.show import AlarmSettings, Show
from interlock.showfile.threading import DeckSection, ThreadingSection, resolve_deck, resolve_threading
from interlock.showfile.toml_lines import read_toml
from interlock.showfile.wiring import Options, Signals, resolve_adapter
from interlock.signals import AdapterSpec
from interlock.text import clean

MOST_BYTES = 1_000_000
"""A show of sixty-four houses is 60 kB, all its distances 300 kB; what is larger is no show file."""

_OTHERS = {
    "fault": "is a scenario of faults (longlace rehearse SHOW --scenario FILE)",
    "station": "is a station's file (longlace station FILE)",
}
"""Tables that only another of this program's files has: one sentence then, and not a dozen of keys that are missing."""

S = TypeVar("S", bound=Section)


def load_show(path: str | Path, *, options: Options | None = None) -> Show:
    """The show in the file at ``path``.

    ``options``: per kind of driver, the model of the keys of ``[[adapter]]`` that only it knows; given
    it, unknown kinds and wrong options are mistakes, without it they are kept as they are.
    Raises :class:`ShowFileError` with every mistake, also for a file that cannot be read.
    """
    name = clean(str(path), 4096)
    try:
        with Path(path).open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except IsADirectoryError:
        raise _whole(name, "is a folder, expected a show file") from None
    except FileNotFoundError:
        raise _whole(name, "there is no such file") from None
    except (OSError, ValueError) as e:  # ValueError: a name with a zero byte in it
        raise _whole(name, f"cannot be read: {clean(getattr(e, 'strerror', None) or str(e))}") from None
    if len(raw) > MOST_BYTES:
        raise _whole(name, f"is larger than {MOST_BYTES:,} bytes, expected a show file")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as e:
        line = raw.count(b"\n", 0, e.start) + 1
        raise _whole(
            name, f"found byte 0x{raw[e.start]:02X}, expected text in UTF-8; save it as such", line
        ) from None
    return parse_show(text, str(path), options=options)


def parse_show(text: str, name: str, *, options: Options | None = None) -> Show:
    """The show that ``text`` describes, ``name`` being its file's; otherwise as :func:`load_show`."""
    shown = clean(name, 4096)
    toml = read_toml(text)
    if not toml.data:
        empty = Mistake(0, "file", "is empty, expected a show file")
        raise ShowFileError(shown, list(toml.mistakes) or [empty])
    other = next(
        (is_a for key, is_a in _OTHERS.items() if key in toml.data and "show" not in toml.data), None
    )
    if other is not None:
        raise _whole(shown, f"{other}, expected a show file")
    source = Source(toml)
    show = _resolve(source, toml.data, options, name, text)
    if show is None:
        raise ShowFileError(shown, source.mistakes)
    return show


def _whole(name: str, text: str, line: int = 0) -> ShowFileError:
    return ShowFileError(name, [Mistake(line, "file", text)])


def _resolve(
    source: Source, data: Mapping[str, object], options: Options | None, path: str, text: str
) -> Show | None:
    """The show; None if there are mistakes, all of which are then noted."""
    known = keys_of(ShowFile)
    for key in data.keys() - known.keys():
        source.unknown((key,), known)
    for key, field in known.items():
        if field.is_required() and key not in data:
            source.mistake((key,), f"is missing; expected {field.description}")

    def entries(model: type[S], key: str) -> list[S]:
        return source.sections(model, data[key], key) if key in data else []

    head = source.read(ShowSection, data["show"], ("show",)) if "show" in data else None
    part_sections = entries(PartSection, "part")
    house_sections = entries(HouseSection, "house")
    link_sections = entries(LinkSection, "link")
    alarm_section = source.read(AlarmsSection, data.get("alarms", {}), ("alarms",))
    threading_section = source.read(ThreadingSection, data.get("threading", {}), ("threading",))
    deck_section = source.read(DeckSection, data.get("deck", {}), ("deck",))

    gauge = Gauge(source, head)
    wall_s, zone = _motor_start(source, head)
    first_picture = gauge.frames(head, "first_picture") if head is not None else None
    parts = resolve_parts(source, part_sections, gauge)
    cues = resolve_cues(source, entries(CueSection, "cue"), parts, part_sections)
    chain = check_chain(source, head, house_sections)
    check_links(source, chain, link_sections)
    houses = {
        h.id: h
        for h in (resolve_house(s, gauge, _next_show(source, s, zone)) for s in house_sections)
        if h is not None
    }
    links = {k.id: k for k in (resolve_link(s, gauge) for s in link_sections) if k is not None}
    film = FORMATS[head.film] if head is not None and head.has("film") else None
    distances = resolve_distances(source, entries(DistanceSection, "distance"), chain, film)
    link_ids = [f"{a}>{b}" for a, b in pairwise(chain or [])]
    signals = Signals(source, chain, link_ids if chain is not None else None)
    adapters = _adapters(source, entries(AdapterSection, "adapter"), signals, options)
    alarms = _alarms(source, alarm_section)
    threading = resolve_threading(source, threading_section, film, gauge.fps)
    deck = resolve_deck(source, deck_section)

    if source.mistakes:
        return None
    # Whatever could not be read has its mistake: from here on everything is there.
    assert head is not None
    assert wall_s is not None
    assert zone is not None
    assert first_picture is not None
    assert parts is not None
    assert chain is not None
    return Show(
        title=head.title,
        film_key=head.film,
        fps=float(head.fps),
        motor_start_wall_s=wall_s,
        timezone=zone,
        first_picture_fr=float(first_picture),
        parts=tuple(parts),
        houses=tuple(houses[name] for name in chain),
        links=tuple(links[name] for name in link_ids),
        feed=links.get(f"feed>{chain[0]}"),
        take_up=links.get(f"{chain[-1]}>take-up"),
        cues=tuple(cues),
        adapters=tuple(adapters),
        alarms=alarms,
        path=path,
        source=text,
        distances=distances,
        threading=threading,
        deck=deck,
    )


def _motor_start(source: Source, head: ShowSection | None) -> tuple[float | None, str | None]:
    """UTC seconds of motor_start and the zone's name; None with the mistake noted."""
    if head is None or not head.has("timezone"):
        return None, None
    zone: zoneinfo.ZoneInfo | None = None
    name = head.timezone or computers_zone()
    if name is None:
        source.mistake(
            ("show", "timezone"), "is missing, and this computer does not tell its own; expected an IANA name"
        )
        return None, None
    try:
        zone = zone_named(name)
    except ValueError as e:
        source.mistake(("show", "timezone"), str(e))
    if zone is None or not head.has("motor_start"):
        return None, name
    try:
        return wall_seconds(head.motor_start, zone), name
    except ValueError as e:
        source.mistake(("show", "motor_start"), str(e))
        return None, name


def _next_show(source: Source, section: HouseSection, zone: str | None) -> float | None:
    """UTC seconds of a house's next show; None if there is none, or with the mistake noted."""
    if zone is None or not section.has("next_show") or section.next_show is None:
        return None
    try:
        place = zone_named(zone)
    except ValueError:
        return None  # noted already, at the zone itself
    try:
        return wall_seconds(section.next_show, place)
    except ValueError as e:
        source.mistake((*section.place, "next_show"), str(e))
        return None


def _adapters(
    source: Source, sections: list[AdapterSection], signals: Signals, options: Options | None
) -> list[AdapterSpec]:
    adapters: list[AdapterSpec] = []
    names: dict[str, int] = {}
    for section in sections:
        if section.has("name"):
            place = (*section.place, "name")
            if section.name in names:
                line = names[section.name]
                source.mistake(
                    place, f"found {found(section.name)}, which the adapter on line {line} has already"
                )
            names.setdefault(section.name, source.line(place))
        if (adapter := resolve_adapter(source, section, signals, options)) is not None:
            adapters.append(adapter)
    return adapters


def _alarms(source: Source, section: AlarmsSection | None) -> AlarmSettings:
    if section is None or not section.has("slack_low", "slack_critical", "forecast"):
        return AlarmSettings()
    low, critical = section.slack_low, section.slack_critical
    name = "slack_critical" if section.given("slack_critical") else "slack_low"
    if low <= 0:
        source.mistake((*section.place, "slack_low"), "found none, expected more")
    elif not low < critical < 1:
        text = "expected slack_low to be less than slack_critical, and that less than 100 %"
        source.mistake((*section.place, name), f"found {float(low):.4%} and {float(critical):.4%}, {text}")
    return AlarmSettings(float(low), float(critical), float(section.forecast))
