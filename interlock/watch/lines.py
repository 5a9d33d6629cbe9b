"""The lines that the desk says: each is one object of ``--plain``; contract.md has the words."""

from __future__ import annotations

from typing import Literal, TypeAlias

import msgspec

ShowPhase: TypeAlias = Literal["waiting", "armed", "starting", "running", "stopped", "running-out", "ended"]
HousePhase: TypeAlias = Literal["threaded", "leader", "picture", "tail", "clear"]
LinkPhase: TypeAlias = Literal["threaded", "running", "parted", "released"]
Priority: TypeAlias = Literal["high", "medium", "low"]
AlarmPhase: TypeAlias = Literal[
    "normal",
    "unacknowledged",
    "acknowledged",
    "returned-unacknowledged",
    "latched-unacknowledged",
    "latched-acknowledged",
    "shelved",
    "suppressed",
    "out-of-service",
]
CuePhase: TypeAlias = Literal["coming", "due", "done", "missed"]
AdapterPhase: TypeAlias = Literal["up", "stale", "lost", "restarted"]


class _Line(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``seq``: the desk's own count from 0. ``at``: RFC 3339 UTC with milliseconds. ``show_s``: seconds after show zero."""

    seq: int
    at: str
    show_s: float | None


class ShowLine(_Line, frozen=True, kw_only=True, tag_field="kind", tag="show"):
    """The show's phase."""

    phase: ShowPhase
    title: str


class HouseLine(_Line, frozen=True, kw_only=True, tag_field="kind", tag="house"):
    """One house. Frames are print frames in the gate now (negative: leader still to come); None is unknown."""

    house: str
    phase: HousePhase
    run: bool | None
    lamp: bool | None
    dowser: bool | None
    film: bool | None
    frame: float | None
    expected_frame: float | None
    sigma_fr: float | None
    speed_fps: float | None
    part: str | None
    dark: bool
    periodic: bool = False
    """The once-a-second line, not a change: it can be recomputed, so the record leaves it out."""


class LinkLine(_Line, frozen=True, kw_only=True, tag_field="kind", tag="link"):
    """One link. ``drift_fr`` upstream minus downstream since threaded: + towards spill, − towards tight."""

    link: str
    state: LinkPhase
    drift_fr: float | None
    sigma_fr: float | None
    toward: Literal["tight", "spill"] | None
    used: float | None
    left_fr: float | None
    rate_fps: float | None
    to_limit_s: tuple[float, float, float] | None
    periodic: bool = False
    """As in :class:`HouseLine`."""


class AlarmLine(_Line, frozen=True, kw_only=True, tag_field="kind", tag="alarm"):
    """One alarm at one transition. ``since_s``: desk clock aside, the show second at which it last became active;
    ``until_at``: when a shelved alarm comes back. ``flood``: a flood of alarms stands (ISA-18.2; flood.py)."""

    code: str
    subject: str
    state: AlarmPhase
    priority: Priority
    first_out: bool
    group: int | None
    text: str
    values: dict[str, float | str | bool | None]
    active: bool = False
    since_at: str | None = None
    until_at: str | None = None
    flood: bool = False


class CueLine(_Line, frozen=True, kw_only=True, tag_field="kind", tag="cue"):
    """A thing that a person does. ``due_s``: show second at which the estimated frame reaches it; None before show zero."""

    house: str
    cue: str
    due_s: float | None
    state: CuePhase


class AdapterLine(_Line, frozen=True, kw_only=True, tag_field="kind", tag="adapter"):
    """One adapter. ``age_s``: since its last word."""

    adapter: str
    state: AdapterPhase
    lines: int
    bad_lines: int
    lost_lines: int
    age_s: float | None = None
    text: str = ""
    """What its driver says of it in words: another's name, fewer inputs than wired, a device that is gone."""
    periodic: bool = False
    """As in :class:`HouseLine`: the ten-second line."""


class OperatorLine(_Line, frozen=True, kw_only=True, tag_field="kind", tag="operator"):
    """Something a person did, as it was folded. ``refused``: why it changed nothing, None if it did what it says."""

    action: str
    keys: dict[str, float | str | bool | None] = {}
    by: str | None = None
    booth: str | None = None
    refused: str | None = None


class ErrorLine(_Line, frozen=True, kw_only=True, tag_field="kind", tag="error"):
    """An input that was not understood. It has changed nothing."""

    text: str


Line: TypeAlias = (
    ShowLine | HouseLine | LinkLine | AlarmLine | CueLine | AdapterLine | OperatorLine | ErrorLine
)
