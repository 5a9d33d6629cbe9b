"""A house's or link's line for a moment of a record: its newest one, or the figures of its second, or nothing."""

from __future__ import annotations

import msgspec

from interlock.watch.seconds import LinkRow
from interlock.watch.state import (
    HouseLine,
    LinkLayout,
    LinkLine,
)


def no_house(name: str, at: str, show_s: float | None) -> HouseLine:
    """A house of which nothing is known."""
    return HouseLine(
        seq=0, at=at, show_s=show_s, house=name, phase="threaded", run=None, lamp=None, dowser=None, film=None, frame=None,
        expected_frame=None, sigma_fr=None, speed_fps=None, part=None, dark=False,
    )  # fmt: skip


def no_link(name: str, at: str, show_s: float | None) -> LinkLine:
    """A link of which nothing is known."""
    return LinkLine(
        seq=0, at=at, show_s=show_s, link=name, state="threaded", drift_fr=None, sigma_fr=None, toward=None, used=None,
        left_fr=None, rate_fps=None, to_limit_s=None,
    )  # fmt: skip


def link_then(
    line: LinkLine, lay: LinkLayout, row: LinkRow | None, at: str, show_s: float | None
) -> LinkLine:
    """A link's newest line with the second's figures, where these are newer. The time to the limit is kept of a change
    of state only.
    """
    if row is None or line.at > at:
        return line
    drift, sigma, rate = row
    if drift is None:
        return msgspec.structs.replace(
            line, at=at, show_s=show_s, drift_fr=None, sigma_fr=sigma, rate_fps=rate, toward=None, used=None,
            left_fr=None, to_limit_s=None,
        )  # fmt: skip
    used = drift / lay.spill_fr if drift >= 0 else -drift / lay.tight_fr
    return msgspec.structs.replace(
        line, at=at, show_s=show_s, drift_fr=drift, sigma_fr=sigma, rate_fps=rate, used=used,
        toward="spill" if drift >= 0 else "tight",
        left_fr=min(lay.spill_fr - drift, drift + lay.tight_fr), to_limit_s=None,
    )  # fmt: skip
