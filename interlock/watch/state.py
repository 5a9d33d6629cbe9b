"""What the desk says: frozen lines, and the newest state made of them.

A *line* is one object of ``--plain`` (contract.md has the words); an event is a line with its
``seq``. :class:`State` holds the newest line of everything: it is the snapshot with which a screen
that attaches later begins, and what the board is painted from four times a second. :class:`Layout`
is what does not change during a show and is sent to a screen once.

Encode with :func:`encode`; every line becomes one JSON object whose ``kind`` is its tag.
"""

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


class _Line(msgspec.Struct, frozen=True, kw_only=True):
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
    ``until_at``: when a shelved alarm comes back."""

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


class PartLayout(msgspec.Struct, frozen=True):
    """A part of the print, for the ribbon."""

    name: str
    kind: str
    start_fr: int
    frames: int


class HouseLayout(msgspec.Struct, frozen=True):
    """What does not change of a house. ``first_picture_fr``: frames to run until the first picture frame is in its gate."""

    house: str
    name: str
    booth: str
    lit: bool
    first_picture_fr: float
    signals: tuple[tuple[str, str, str], ...] = ()
    """(signal, adapter, input in words) of everything that is wired to this house."""


class LinkLayout(msgspec.Struct, frozen=True):
    """What does not change of a link."""

    link: str
    upstream: str
    downstream: str
    path_fr: float
    tight_fr: float
    spill_fr: float
    wired: bool


class Layout(msgspec.Struct, frozen=True):
    """What does not change during a show; houses and links in film order."""

    title: str
    film: str
    fps: float
    frames_per_ft: float
    motor_start_at: str
    timezone: str
    parts: tuple[PartLayout, ...]
    houses: tuple[HouseLayout, ...]
    links: tuple[LinkLayout, ...]
    feed: bool
    take_up: bool
    rehearsal: bool
    length_fr: int
    record: str | None = None
    """Where the record of this show is kept, for people; None if none is kept."""


class State(msgspec.Struct, frozen=True, kw_only=True):
    """The newest of everything, in film order. ``age_s``: of the newest reading; ``beat``: counts up while the desk lives."""

    seq: int
    at: str
    show_s: float | None
    phase: ShowPhase
    beat: int
    plan_s: float | None
    """Plan time now (seconds from the planned motor_start, before and after show zero)."""
    age_s: float | None
    houses: tuple[HouseLine, ...]
    links: tuple[LinkLine, ...]
    alarms: tuple[AlarmLine, ...]
    """Every alarm that is not normal, worst first: by priority, first-out before its group, newest first."""
    cues: tuple[CueLine, ...]
    """Coming, due and lately missed ones, by due time."""
    adapters: tuple[AdapterLine, ...]
    leads: str | None = None
    booth: str | None = None
    silenced: bool = False
    record_ok: bool = True
    speed: float | None = None
    """Rehearsals: seconds of show for one of life."""


class Hello(msgspec.Struct, frozen=True, tag_field="frame", tag="hello"):
    """The first thing that a screen gets."""

    layout: Layout
    state: State


class Fresh(msgspec.Struct, frozen=True, tag_field="frame", tag="state"):
    """The newest state; an older one that was not sent yet has been overtaken."""

    state: State


class Happened(msgspec.Struct, frozen=True, tag_field="frame", tag="line"):
    """One line; a screen gets them all, in order."""

    line: Line


class Farewell(msgspec.Struct, frozen=True, tag_field="frame", tag="farewell"):
    """The desk ends, or cuts this screen off: why, in words."""

    reason: str


Frame: TypeAlias = Hello | Fresh | Happened | Farewell
"""What goes over the screens' socket, one JSON object a line. The other way go operator actions, as in ``--plain``."""

_encoder = msgspec.json.Encoder()


def encode(line: Line | Frame) -> bytes:
    """One JSON object, no newline."""
    return _encoder.encode(line)


_decoder: msgspec.json.Decoder[Line] = msgspec.json.Decoder(Line)


def decode_line(text: bytes | str) -> Line:
    """The line that :func:`encode` wrote."""
    return _decoder.decode(text)


_frame_decoder: msgspec.json.Decoder[Frame] = msgspec.json.Decoder(Frame)


def decode_frame(text: bytes | str) -> Frame:
    """The frame that :func:`encode` wrote; ``msgspec.DecodeError`` for anything else."""
    return _frame_decoder.decode(text)
