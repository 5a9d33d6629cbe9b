"""Measured delays and scatters into a show file, its comments and layout kept."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from interlock.errors import UsageError
from interlock.incident.people import write
from interlock.incident.trims import HouseTrim
from interlock.showfile.load import load_show, parse_show


def write_trims(path: Path, houses: Sequence[HouseTrim]) -> list[str]:
    """Set ``start_delay`` and ``start_scatter`` of every house with a measured scatter; what was written, in words.

    The file is read as a show before and after: nothing is written that could not be loaded. Only differences
    between houses matter to a start, so where a delay is negative all of them are moved together.
    """
    show = load_show(path)
    known = {h.house: h.delay for h in houses if h.delay is not None and h.delay.scatter is not None}
    missing = sorted({h.id for h in show.houses} - set(known))
    if missing:
        raise UsageError(
            f"{path}: nothing was written: of house {', '.join(missing)} there are too few starts for a scatter; "
            "give more records"
        )
    least = min(e.mean for h, e in known.items() if h in {x.id for x in show.houses})
    up_s = -least if least < 0.0 else 0.0
    try:
        # Bytes, not text: so that the ends of the lines stay what they are.
        document = tomlkit.parse(path.read_bytes().decode("utf-8"))
    except (OSError, TOMLKitError, UnicodeDecodeError) as error:
        raise UsageError(f"{path}: cannot be read: {error}") from error
    said: list[str] = []
    for table in document["house"]:
        house = str(table["id"])
        e = known[house]
        delay, scatter = f"{e.mean + up_s:.3f} s", f"{e.scatter:.3f} s"
        table["start_delay"] = delay
        table["start_scatter"] = scatter
        said.append(f"house {house}: start_delay {delay}, start_scatter {scatter}")
    text = tomlkit.dumps(document)
    parse_show(text, str(path))
    write(path, text)
    if up_s:
        said.append(
            f"all delays were moved by {up_s:.3f} s so that none is negative: only their differences matter"
        )
    return said
