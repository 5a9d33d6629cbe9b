"""What ``longlace check`` says of a show that is right: for programs (contract.md) and for people."""

from __future__ import annotations

import textwrap
import unicodedata
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from interlock.film import format_time
from interlock.plan.check_notes import notes
from interlock.plan.timeline import house_times
from interlock.showfile.show import Link, Show


def time_of_day(show: Show, plan_s: float) -> datetime:
    """The local time, in the show's zone, of plan time ``plan_s``."""
    start = datetime.fromtimestamp(show.motor_start_wall_s, UTC)
    return (start + timedelta(seconds=plan_s)).astimezone(ZoneInfo(show.timezone))


def check_json(show: Show) -> dict[str, object]:
    """The document of ``check --json``: plain values, never rounded, keys with their units."""
    return {
        "show": {
            "title": show.title,
            "film": show.film_key,
            "fps": show.fps,
            "motor_start": time_of_day(show, 0.0).isoformat(),
        },
        "parts": [
            {"name": p.name, "kind": p.kind, "frames": p.frames, "start_fr": p.start_fr} for p in show.parts
        ],
        "houses": [
            {
                "house": t.house,
                "lit": t.lit,
                "path_fr": t.path_fr,
                "first_picture_fr": t.first_picture_fr,
                "first_picture_s": t.first_picture_s,
                "first_picture_at": time_of_day(show, t.first_picture_s).isoformat(),
                "strike_lamp_s": t.strike_lamp_s,
                "open_dowser_s": t.open_dowser_s,
                "close_dowser_s": t.close_dowser_s,
                "last_picture_s": t.last_picture_s,
                "tail_clear_s": t.tail_clear_s,
            }
            for t in house_times(show)
        ],
        "links": [
            {
                "link": k.id,
                "path_fr": k.path_fr,
                "delay_s": k.path_fr / show.fps,
                "tight_fr": k.tight_fr,
                "spill_fr": k.spill_fr,
                "rollers": len(k.rollers),
            }
            for k in show.links
        ],
        "notes": notes(show),
    }


def check_text(show: Show, width: int = 80) -> str:
    """The plan for a person to read, its notes filled to ``width`` columns; the tables need 78."""
    start = time_of_day(show, 0.0)
    film = show.film
    sections = [
        [
            *textwrap.wrap(show.title, width),
            f"{film.name}, {show.fps:g} fps, {len(show.houses)} houses, {_path_ft(show):.0f} ft of path",
            f"motors start {start:%Y-%m-%d %H:%M:%S} {start:%z} ({show.timezone})",
            f"the print is {film.format_footage(show.length_fr)} ({format_time(show.length_fr / show.fps)})",
        ],
        _table(("Part", "Kind", "From", "Length", "Time"), "<<>>>", _parts(show)),
        _table(("House", "Booth", "Lamp", "Dowser", "Picture", "Last", "Clear"), "<<>>>>>", _houses(show)),
        _table(("Link", "Path", "Delay", "Tight", "", "Spill", "", "Rollers"), "<>>>>>>>", _links(show)),
    ]
    advice = [textwrap.fill(note, width, initial_indent="- ", subsequent_indent="  ") for note in notes(show)]
    return "\n\n".join("\n".join(lines) for lines in (*sections, advice)) + "\n"


def _path_ft(show: Show) -> float:
    links = [k for k in (show.feed, *show.links, show.take_up) if k is not None]
    return show.film.tape_ft_from_frames(sum(k.path_fr for k in links))


def _parts(show: Show) -> list[tuple[str, ...]]:
    film, fps = show.film, show.fps
    return [
        (
            _short(p.name, 34),
            p.kind,
            film.format_footage(p.start_fr),
            film.format_footage(p.frames),
            format_time(p.frames / fps),
        )
        for p in show.parts
    ]


def _houses(show: Show) -> list[tuple[str, ...]]:
    start = time_of_day(show, 0.0)

    def at(plan_s: float) -> str:
        # Half a second more, cut off: rounded to the second. A later day says so.
        local = time_of_day(show, plan_s + 0.5)
        days = (local.date() - start.date()).days
        return f"{local:%H:%M:%S}{f'{days:+d}d' if days else ''}"

    return [
        (
            t.house,
            _short(house.booth, 10),
            at(t.strike_lamp_s) if t.lit else "dark",
            at(t.open_dowser_s) if t.lit else "dark",
            at(t.first_picture_s),
            at(t.last_picture_s),
            at(t.tail_clear_s),
        )
        for house, t in zip(show.houses, house_times(show), strict=True)
    ]


def _links(show: Show) -> list[tuple[str, ...]]:
    def row(link: Link, *, watched: bool) -> tuple[str, ...]:
        limits = [*_limit(show, link.tight_fr), *_limit(show, link.spill_fr)] if watched else [""] * 4
        return (
            link.id,
            f"{show.film.tape_ft_from_frames(link.path_fr):.1f} ft",
            format_time(link.path_fr / show.fps, 1),
            *limits,
            f"{len(link.rollers)}",
        )

    rows = [row(link, watched=True) for link in show.links]
    feed = [row(show.feed, watched=False)] if show.feed is not None else []
    take_up = [row(show.take_up, watched=False)] if show.take_up is not None else []
    return [*feed, *rows, *take_up]


def _limit(show: Show, limit_fr: float) -> tuple[str, str]:
    return show.film.format_footage(int(limit_fr)), f"{limit_fr / show.fps:.2f} s"


def _table(heads: tuple[str, ...], sides: str, rows: list[tuple[str, ...]]) -> list[str]:
    """Columns two blanks apart, each to its side."""
    every = [heads, *rows]
    widths = [max(map(_cells, column)) for column in zip(*every, strict=True)]

    def pad(text: str, width: int, side: str) -> str:
        blanks = " " * (width - _cells(text))
        return text + blanks if side == "<" else blanks + text

    return ["  ".join(map(pad, cells, widths, sides)).rstrip() for cells in every]


def _cells(text: str) -> int:
    """Columns that a terminal gives to ``text``."""
    return sum(
        0 if unicodedata.category(c) in {"Mn", "Me"} else 1 + (unicodedata.east_asian_width(c) in "WF")
        for c in text
    )


def _short(text: str, columns: int) -> str:
    if _cells(text) <= columns:
        return text
    while _cells(text) >= columns:
        text = text[:-1]
    return text.rstrip() + "…"
