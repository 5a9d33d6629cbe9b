"""All sheets of a show, as files in a folder."""

from __future__ import annotations

from pathlib import Path

from interlock.errors import UsageError
from interlock.plan.ical import calendar
from interlock.plan.sheets.cue_sheets import house_sheet, lead_sheet
from interlock.plan.sheets.document import Picture, Sheet
from interlock.plan.sheets.html import Paper, html
from interlock.plan.sheets.markdown import markdown
from interlock.plan.sheets.start_card import start_card
from interlock.plan.sheets.threading_sheet import threading_sheet
from interlock.plan.sheets.times_sheet import times_sheet
from interlock.plan.threading import plan_threading
from interlock.showfile.show import Show
from interlock.text import clean


def sheets(show: Show) -> list[Sheet]:
    """Every sheet: threading, start, times, the booth lead's cues, each house's cues."""
    return [
        threading_sheet(show, plan_threading(show)),
        start_card(show),
        times_sheet(show),
        lead_sheet(show),
        *(house_sheet(show, k) for k in range(len(show.houses))),
    ]


def files(show: Show, stamp_wall_s: float, paper: Paper = "any") -> dict[str, str]:
    """Names and texts of all files. ``stamp_wall_s``: UTC seconds of now, for the calendar."""
    made: dict[str, str] = {}
    for sheet in sheets(show):
        made[f"{sheet.file}.html"] = html(sheet, paper)
        made[f"{sheet.file}.md"] = markdown(sheet)
        made |= {block.file: block.svg + "\n" for block in sheet.blocks if isinstance(block, Picture)}
    made["times.ics"] = calendar(show, stamp_wall_s)
    return made


def write_sheets(show: Show, folder: Path, stamp_wall_s: float, paper: Paper = "any") -> list[Path]:
    """Write all files into ``folder``, which is made if need be; files of the same names are replaced.

    Raises :class:`UsageError` where that cannot be done.
    """
    made = files(show, stamp_wall_s, paper)
    written: list[Path] = []
    place = folder
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in made.items():
            place = folder / name
            # The calendar's line ends are CRLF and stay so.
            place.write_text(text, encoding="utf-8", newline="")
            written.append(place)
    except (OSError, ValueError) as e:
        why = getattr(e, "strerror", None) or str(e)
        raise UsageError(f"{clean(str(place), 4096)}: the sheets cannot be written: {clean(why)}") from None
    return written
