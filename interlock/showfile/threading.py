"""What a show file may say of threading and of the decks: ``[threading]``, ``[deck]``, and a link's details.

Every default stands here with where it comes from; docs/plan-threading.md argues them. [P] published,
[M] from memory, [CP] common practice without a source, [D] derived, [A] an assumption that nobody has
measured: what a booth has measured belongs in the show file.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Any

from pydantic import Field

from interlock.film import FilmFormat
from interlock.showfile import fields as f
from interlock.showfile import fields_threading as ft
from interlock.showfile.quantities import FilmLength, found, frames_from_mm
from interlock.showfile.section import Section, Source
from interlock.showfile.settings import DeckSettings, Lift, ThreadingSettings

MOST_REACH_MM = 8 * Fraction("304.8")


def _by_default(text: str, description: str) -> Any:
    return Field(text, description=description)


class ThreadingSection(Section):
    """``[threading]``: what hands, splices and rollers are like, and who threads."""

    hand: ft.Force = _by_default("22 N", "what one hand pulls again and again; EN 1005-3 [M]")
    splice: ft.Force = _by_default(
        "25 N", "what a tape splice bears for long; a third of its tape's yield [D]"
    )
    running: ft.Force = _by_default("16 ozf", "what a sprocket should have to pull in use [P]")
    hold_back: ft.Force = _by_default("1 N", "pull at a stretch's tail, and of a loop in use [A]")
    friction: Annotated[float, Field(ge=0, le=2, allow_inf_nan=False)] = Field(
        0.15, description="of a roller on its pin: dry plain bearings 0.1 to 0.2 [P]"
    )
    pin: ft.Size = _by_default("6 mm", "diameter of a roller's pin")
    roller: ft.Size = _by_default("50 mm", "diameter of a roller where the film runs")
    roller_drag: ft.Force = _by_default("0.1 N", "a turning roller's own, whatever the pull [A]")
    stuck_friction: Annotated[float, Field(ge=0, le=2, allow_inf_nan=False)] = Field(
        0.2, description="of film on a roller that does not turn"
    )
    machine_drag: ft.Force = _by_default("0.5 N", "past an open machine, not laced [A]")
    crew: Annotated[int, Field(ge=1, le=100)] = Field(2, description="people who thread")
    pace: ft.Speed = _by_default("0.5 m/s", "of whoever walks with the leader's head [CP]")
    roller_time: f.Time = _by_default("3 s", "to lay the film over one roller [CP]")
    machine_time: f.Time = _by_default("90 s", "to lace one machine [CP]")
    join_time: f.Time = _by_default("2 min", "to make one join [CP]")
    allowance: f.PathLength = _by_default(
        "10 ft", "of leader lost to each stretch: ends, joins, the core [A]"
    )
    tail_margin: f.FilmLengthFromZero = _by_default(
        "10 ft", "of tail beyond the longest link and its loop [A]"
    )
    gate_height: f.PathLength = _by_default("4 ft", "of the gates above the floor [CP]")
    reach: f.PathLength = _by_default("6.5 ft", "how high a person on the floor lays film over a roller [CP]")


class DeckSection(Section):
    """``[deck]``: what the platters can hold, and how thick the film winds."""

    diameter: ft.Size | None = Field(
        None, description='the largest roll, as in "52 in"; default: not checked'
    )
    core: ft.Size = _by_default("12 in", "diameter on which the roll begins [CP]")
    weight: ft.Weight | None = Field(
        None, description='the heaviest roll, as in "125 lb"; default: not checked'
    )
    thickness: ft.Size = _by_default("0.0053 in", "of the film as it winds; a reel table [P]")


class PathDetails(Section):
    """What a ``[[link]]`` may say besides of its path."""

    stuck: list[Annotated[int, Field(ge=1)]] = Field(
        [], max_length=1000, description="which rollers do not turn, counted from 1 in film order"
    )
    rollers_at: list[f.PathLength] | None = Field(
        None,
        max_length=1000,
        description="where each roller is, from the upstream gate; default: evenly spaced",
    )
    crosses_at: list[f.PathLength] | None = Field(
        None, max_length=100, description="where each of crosses is, from the upstream gate"
    )
    lifts: list[ft.Lift] | None = Field(
        None, max_length=100, description='ups and downs, as in { at = "4 ft", by = "9 ft" }; instead of rise'
    )


def check_details(source: Source, section: PathDetails, rollers: int | None, path: Fraction | None) -> None:
    """Note what a link's details get wrong about each other. ``rollers``, ``path``: None if unread."""
    if section.has("stuck") and rollers is not None:
        for i, number in enumerate(section.stuck):
            if number > rollers:
                source.mistake(
                    (*section.place, "stuck", i), f"found roller {number}, but the link has {rollers} of them"
                )
    counts = {"rollers_at": rollers}
    crosses = getattr(section, "crosses", None) if section.has("crosses") else None
    counts["crosses_at"] = None if crosses is None else len(crosses)
    for name, wanted in counts.items():
        places = getattr(section, name) if section.has(name) else None
        if places is None:
            continue
        if wanted is not None and len(places) != wanted:
            source.mistake(
                (*section.place, name), f"found {len(places)} places, expected {wanted}, one for each"
            )
        if name == "rollers_at" and places != sorted(places):
            source.mistake(
                (*section.place, name), "found places out of order, expected the order of the film"
            )
        for i, at in enumerate(places):
            if path is not None and at > path:
                source.mistake((*section.place, name, i), "found a place beyond the end of the path")
    if section.has("lifts") and section.lifts is not None:
        if section.written("rise"):
            source.mistake((*section.place, "lifts"), "found lifts beside rise, expected one of the two")
        for i, (at, _) in enumerate(section.lifts):
            if path is not None and at > path:
                source.mistake((*section.place, "lifts", i), "found a lift beyond the end of the path")


def lifts_of(section: PathDetails, film: FilmFormat) -> tuple[Lift, ...]:
    """The lifts in film order; none where only ``rise`` is given."""
    lifts = sorted(section.lifts or [], key=lambda lift: lift[0])
    return tuple(Lift(float(frames_from_mm(at, film)), float(by / 1000)) for at, by in lifts)


def resolve_threading(
    source: Source, section: ThreadingSection | None, film: FilmFormat | None, fps: Fraction | None
) -> ThreadingSettings:
    """The settings in newtons, metres and seconds; the defaults' where something could not be read."""
    if section is None or film is None or fps is None or not section.has(*type(section).model_fields):
        return ThreadingSettings()
    # A pin as thick as its roller would make a roller that no pull could turn.
    if section.friction * float(section.pin) >= float(section.roller):
        source.mistake(
            (*section.place, "pin"),
            f"found {found(float(section.pin))} mm, too thick for such a roller to turn",
        )
    # The caution about heights cannot be switched off by a person of any size.
    if section.reach > MOST_REACH_MM:
        source.mistake(
            (*section.place, "reach"), "is higher than anybody reaches from the floor; at most 8 ft"
        )
    margin = section.tail_margin
    margin_fr = 0.0
    if isinstance(margin, FilmLength):
        try:
            margin_fr = float(margin.frames(film, fps))
        except ValueError as e:
            source.mistake((*section.place, "tail_margin"), str(e))
    return ThreadingSettings(
        hand_n=float(section.hand),
        splice_n=float(section.splice),
        running_n=float(section.running),
        hold_back_n=float(section.hold_back),
        friction=section.friction,
        pin_m=float(section.pin) / 1000.0,
        roller_m=float(section.roller) / 1000.0,
        roller_drag_n=float(section.roller_drag),
        stuck_friction=section.stuck_friction,
        machine_drag_n=float(section.machine_drag),
        crew=section.crew,
        pace_mps=float(section.pace),
        roller_s=float(section.roller_time),
        machine_s=float(section.machine_time),
        join_s=float(section.join_time),
        allowance_m=float(section.allowance) / 1000.0,
        tail_margin_fr=margin_fr,
        gate_height_m=float(section.gate_height) / 1000.0,
        reach_m=float(section.reach) / 1000.0,
    )


def resolve_deck(source: Source, section: DeckSection | None) -> DeckSettings:
    """The deck in metres and kilograms."""
    if section is None or not section.has(*type(section).model_fields):
        return DeckSettings()
    if section.diameter is not None and section.diameter <= section.core:
        source.mistake((*section.place, "diameter"), "is not larger than core, so nothing can be wound on it")
    return DeckSettings(
        diameter_m=None if section.diameter is None else float(section.diameter) / 1000.0,
        core_m=float(section.core) / 1000.0,
        weight_kg=None if section.weight is None else float(section.weight),
        thickness_m=float(section.thickness) / 1000.0,
    )
