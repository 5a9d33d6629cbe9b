"""A show as everything but the loader sees it: frozen, checked, in frames and seconds.

Houses and links stand in film order: ``links[i]`` runs from ``houses[i]`` to ``houses[i + 1]``.
"""

from __future__ import annotations

from functools import cached_property
from typing import Literal, TypeAlias

import msgspec

from interlock.film import FORMATS, FilmFormat
from interlock.showfile.settings import DeckSettings, Lift, ThreadingSettings
from interlock.signals import AdapterSpec

PartKind: TypeAlias = Literal[
    "slide", "trailer", "policy", "feature", "credits", "black", "intermission", "tail", "other"
]
Motor: TypeAlias = Literal["synchronous", "induction", "crystal"]

NEVER_PICTURE: frozenset[str] = frozenset({"tail", "black"})
"""Kinds of part that are never picture. In an intermission the dowser is shut as well."""
DOWSER_SHUT: frozenset[str] = NEVER_PICTURE | {"intermission"}


class Part(msgspec.Struct, frozen=True):
    """A part of the print. ``start_fr``: print frame of its first frame (0 is the first picture frame)."""

    name: str
    kind: PartKind
    frames: int
    start_fr: int

    @property
    def end_fr(self) -> int:
        """The frame after its last one."""
        return self.start_fr + self.frames


class Cue(msgspec.Struct, frozen=True):
    """Something that a person does at a frame of the print, in every house at its own time."""

    frame: int
    do: str


class House(msgspec.Struct, frozen=True):
    """One house and its machine. Shares are parts of one; ``film_sensor_fr`` < 0 is before the gate."""

    id: str
    name: str
    booth: str = ""
    lit: bool = True
    motor: Motor = "synchronous"
    supply: str = "mains"
    speed_tolerance: float = 0.0
    start_delay_s: float = 0.0
    start_scatter_s: float = 0.25
    ramp_s: float = 1.0
    ramp_scatter_s: float = 0.1
    coast_s: float = 0.3
    lamp_lead_s: float = 45.0
    dowser_lead_s: float = 1.0
    shut_dowser_limit_s: float = 600.0
    film_sensor_fr: float = 0.0
    threads_from: bool = True
    doors_lead_s: float = 1800.0
    turnaround_s: float = 1200.0
    next_show_wall_s: float | None = None
    """UTC seconds at which the house's next show begins; None: none is known."""


class Roller(msgspec.Struct, frozen=True):
    """One roller that the film passes: how far it wraps it, in radians.

    ``at_fr``: frames from the upstream gate; None: not surveyed, evenly spaced along the link.
    """

    wrap_rad: float
    stuck: bool = False
    at_fr: float | None = None


class Link(msgspec.Struct, frozen=True):
    """The film between two neighbouring gates (or a platter and the gate next to it, then without limits).

    ``path_fr`` in frames through the pitch; ``tight_fr`` and ``spill_fr`` in frames of drift, both
    positive; ``rise_m`` the highest point above the gates; ``tables_fr`` the make-up tables, in
    frames from the upstream gate. For the feed and take-up links the limits are 0.
    """

    upstream: str
    downstream: str
    path_fr: float
    path_tolerance: float = 0.01
    rollers: tuple[Roller, ...] = ()
    tight_fr: float = 0.0
    spill_fr: float = 0.0
    rise_m: float = 0.0
    crosses: tuple[str, ...] = ()
    tables_fr: tuple[float, ...] = ()
    wired: bool = False
    lifts: tuple[Lift, ...] = ()
    """In film order; where there are none, ``rise_m`` up at the upstream gate and down at the other."""
    crosses_at_fr: tuple[float, ...] = ()
    """Where each of ``crosses`` is; empty: not surveyed."""

    @property
    def id(self) -> str:
        """As everywhere else: ``4>3``."""
        return f"{self.upstream}>{self.downstream}"


class Distance(msgspec.Struct, frozen=True):
    """What was measured between two houses that need be no neighbours; None where it was not counted.

    ``path_fr`` in frames through the pitch; None: this link cannot be made.
    """

    upstream: str
    downstream: str
    path_fr: float | None
    rollers: int | None = None
    crosses: tuple[str, ...] | None = None


class AlarmSettings(msgspec.Struct, frozen=True):
    """What the show file's ``[alarms]`` may set. Shares of a limit, and seconds."""

    slack_low: float = 0.5
    slack_critical: float = 0.75
    forecast_s: float = 600.0


class Show(msgspec.Struct, frozen=True, dict=True):
    """A whole show. ``motor_start_wall_s``: UTC seconds of the epoch; ``timezone``: IANA name."""

    title: str
    film_key: str
    fps: float
    motor_start_wall_s: float
    timezone: str
    first_picture_fr: float
    parts: tuple[Part, ...]
    houses: tuple[House, ...]
    links: tuple[Link, ...]
    feed: Link | None = None
    take_up: Link | None = None
    cues: tuple[Cue, ...] = ()
    adapters: tuple[AdapterSpec, ...] = ()
    alarms: AlarmSettings = AlarmSettings()
    path: str = ""
    source: str = ""
    """The show file's text, word for word, for the record."""
    distances: tuple[Distance, ...] = ()
    """For the choice of another order of houses; nothing else reads them."""
    threading: ThreadingSettings = ThreadingSettings()
    deck: DeckSettings = DeckSettings()

    @property
    def film(self) -> FilmFormat:
        """The film's format."""
        return FORMATS[self.film_key]

    @cached_property
    def path_fr(self) -> tuple[float, ...]:
        """Frames of film from the first gate to each house's gate, in film order."""
        sums = [0.0]
        for link in self.links:
            sums.append(sums[-1] + link.path_fr)
        return tuple(sums)

    @cached_property
    def first_picture_at_fr(self) -> tuple[float, ...]:
        """Frames that each machine must run until the first picture frame is in its gate."""
        return tuple(self.first_picture_fr + p for p in self.path_fr)

    @cached_property
    def length_fr(self) -> int:
        """Frames of the whole print, tail included, from the first picture frame on."""
        return self.parts[-1].end_fr

    @cached_property
    def last_picture_fr(self) -> int:
        """The frame after the last frame of the last part that is picture."""
        return max(p.end_fr for p in self.parts if p.kind not in NEVER_PICTURE)

    @cached_property
    def least_start_delay_s(self) -> float:
        """The least start delay of all houses."""
        return min(h.start_delay_s for h in self.houses)
