"""What the desk says: frozen lines, and the newest state made of them.

A *line* is one object of ``--plain`` (contract.md has the words); an event is a line with its
``seq``. :class:`State` holds the newest line of everything: it is the snapshot with which a screen
that attaches later begins, and what the board is painted from four times a second. :class:`Layout`
is what does not change during a show and is sent to a screen once.

Encode with :func:`encode`; every line becomes one JSON object whose ``kind`` is its tag.
"""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from interlock.watch.lines import (
    AdapterLine,
    AdapterPhase,
    AlarmLine,
    AlarmPhase,
    CueLine,
    CuePhase,
    ErrorLine,
    HouseLine,
    HousePhase,
    Line,
    LinkLine,
    LinkPhase,
    OperatorLine,
    Priority,
    ShowLine,
    ShowPhase,
)

__all__ = [
    "AdapterLine",
    "AdapterPhase",
    "AlarmLine",
    "AlarmPhase",
    "CueLine",
    "CuePhase",
    "ErrorLine",
    "Farewell",
    "FloodState",
    "Frame",
    "Fresh",
    "Happened",
    "Hello",
    "HouseLayout",
    "HouseLine",
    "HousePhase",
    "Layout",
    "Line",
    "LinkLayout",
    "LinkLine",
    "LinkPhase",
    "OperatorLine",
    "PartLayout",
    "Priority",
    "ShowLine",
    "ShowPhase",
    "State",
    "decode_frame",
    "decode_line",
    "encode",
]


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


class FloodState(msgspec.Struct, frozen=True, kw_only=True):
    """More alarms come than anybody can work through (ISA-18.2: above 10 new ones in 10 min, until below 5): fold the list.

    ``since_at``, ``since_s`` (show time): the first alarm of the flood; ``alarms``: how many since then; ``recent``: in the
    last 10 min; ``ends_at``: if no more come.
    """

    since_at: str
    since_s: float | None
    alarms: int
    recent: int
    ends_at: str


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
    flood: FloodState | None = None
    """The flood of alarms that stands; None without one (``interlock.watch.flood.fold_alarms`` folds the list)."""


class Hello(msgspec.Struct, frozen=True, tag_field="frame", tag="hello"):
    """The first thing that a screen gets. ``past``: what had happened before it came, newest last, as far back as is kept."""

    layout: Layout
    state: State
    past: tuple[Line, ...] = ()


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
