"""What a person may write in a show file: the sections, their keys and their defaults.

The reference of the format: :func:`json_schema` is made from these models, and a key that does not
stand here does not exist. Defaults are written as a person would write them. What a value means in
frames and seconds, and what the sections must be to each other, is ``resolve.py``'s.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field

from interlock.showfile import fields as f
from interlock.showfile.distances import DistanceSection
from interlock.showfile.section import Section
from interlock.showfile.show import Motor, PartKind
from interlock.showfile.threading import DeckSection, PathDetails, ThreadingSection


def _by_default(text: str, description: str) -> Any:
    """A default as a person would write it; it is read like what stands in the file."""
    return Field(text, description=description)


class ShowSection(Section):
    """``[show]``: the print and the evening."""

    title: f.Name = Field(description="the show's title")
    film: Literal["35mm-4p", "35mm-3p", "35mm-2p", "16mm", "65mm-5p", "super8"] = Field(
        description='the film format, as in "35mm-4p"'
    )
    fps: f.Fps = Field(description="frames a second, as in 24")
    motor_start: f.LocalDateTime = Field(
        description="when every start timer fires, local time, as in 2026-12-05T19:25:00"
    )
    timezone: f.Name | None = Field(None, description="IANA name; default: the computer's")
    chain: list[f.HouseId] = Field(description="the houses in the order in which the film runs")
    first_picture: f.FilmLengthFromZero = Field(
        description='film from the first gate up to the first picture frame, as in "18+00"'
    )


class PartSection(Section):
    """``[[part]]``: a part of the print, with exactly one of its three lengths."""

    name: f.Name = Field(description="the part's name")
    kind: PartKind = Field(description='what it is, as in "feature"')
    length: f.FilmLengthFromZero | None = Field(None, description="length of film")
    runtime: f.PositiveTime | None = Field(None, description="time at fps, to the nearest frame")
    frames: Annotated[int, Field(gt=0)] | None = Field(None, description="number of frames")


class CueSection(Section):
    """``[[cue]]``: something that a person does at a frame, in every house at its own time."""

    at: f.FrameOrName = Field(description="a part's name or a frame number of the print")
    do: f.Words = Field(description="what to do")


class HouseSection(Section):
    """``[[house]]``: one house and its machine."""

    id: f.HouseId = Field(description="1 to 8 of letters, digits, - and _")
    name: f.Name | None = Field(None, description="default: House and its id")
    booth: f.Name | None = Field(None, description="where its machine stands")
    lit: bool = Field(True, description="false: film runs, no picture wanted here")
    motor: Motor = Field("synchronous", description="what keeps its speed")
    supply: f.Name = Field("mains", description="synchronous machines of one supply do not drift apart")
    speed_tolerance: f.Share | None = Field(
        None, description="1-sigma share of fps; default 0 synchronous, 0.005 % crystal, 0.5 % induction"
    )
    start_delay: f.Time = _by_default("0 s", "mean from motor_start to the motor turning")
    start_scatter: f.Time = _by_default("0.25 s", "1-sigma of that")
    ramp: f.Time = _by_default("1 s", "standstill to speed, linear")
    ramp_scatter: f.Time = _by_default("0.1 s", "1-sigma of that")
    coast: f.Time = _by_default("0.3 s", "speed to standstill, linear")
    lamp_lead: f.Time = _by_default("45 s", "strike this long before the first picture frame")
    dowser_lead: f.Time = _by_default("1 s", "open this long before it")
    shut_dowser_limit: f.Time = _by_default("10 min", "how long a lit lamp may burn against it")
    film_sensor: f.FilmLength = _by_default("0 ft", "where the film contact sits; - is before the gate")
    threads_from: bool = Field(True, description="a person can stand here and pull a leader through")
    doors: f.Time = _by_default("30 min", "open the house this long before its first picture")
    turnaround: f.Time = _by_default("20 min", "from the last picture until another show can begin here")
    next_show: f.LocalDateTime | None = Field(None, description="when the next show here begins, local time")


class LinkSection(PathDetails):
    """``[[link]]``: the film between two neighbouring gates, or between a platter and its gate."""

    upstream: f.HouseId = Field(alias="from", description='a house, or "feed"')
    downstream: f.HouseId = Field(alias="to", description='a house, or "take-up"')
    path: f.PositivePathLength = Field(
        description='film between the two gates by tape measure, as in "74 ft"'
    )
    path_tolerance: f.Share = _by_default("1 %", "1-sigma of the survey")
    rollers: f.Rollers | None = Field(None, description="how many, or a list of their wraps in degrees")
    wrap: f.Angle = _by_default("90 deg", "of each roller, where they are only counted")
    tight: f.Limit | None = Field(None, description="drift until the loop is pulled tight")
    spill: f.Limit | None = Field(None, description="drift until the loop no longer holds the film")
    rise: f.PathLength = _by_default("0 ft", "highest point above the gates")
    crosses: list[f.Name] = Field([], max_length=100, description="hazards that the path crosses, in words")
    tables: list[f.PositivePathLength] = Field(
        [], max_length=100, description="make-up tables, from the upstream gate"
    )
    wired: bool = Field(False, description="a hard-wired stop: if one of the two stops so does the other")


class CounterSection(Section):
    """A frame counter of an adapter."""

    signal: f.Name = Field(description='a signal, as in "4.frames"')
    frames_per_pulse: Annotated[float, Field(gt=0, le=10_000, allow_inf_nan=False)] = Field(
        1.0, description="as the wheel or the sprocket has it"
    )


class AnalogSection(Section):
    """An accumulator arm on an adapter."""

    signal: f.Name = Field(description='a signal, as in "4>3.arm"')
    tight_at: Annotated[float, Field(allow_inf_nan=False)] = Field(
        description="the raw value at the tight limit"
    )
    spill_at: Annotated[float, Field(allow_inf_nan=False)] = Field(
        description="the raw value at the spill limit"
    )


class AdapterSection(Section):
    """``[[adapter]]``: hardware wired to contacts. Further keys are its driver's own."""

    model_config = ConfigDict(extra="allow")

    name: f.Name = Field(description="the adapter's name")
    driver: f.Name = Field(description='its kind, as in "serial"')
    levels: dict[f.InputNumber, f.Name] = Field(
        {}, description='input number = signal; "!" for closed-means-false'
    )
    counters: dict[f.InputNumber, CounterSection] = Field({}, description="counter number = frame counter")
    analogs: dict[f.InputNumber, AnalogSection] = Field({}, description="analog number = accumulator arm")


class AlarmsSection(Section):
    """``[alarms]``: limits of the alarm catalogue that a show may set."""

    slack_low: f.Share = _by_default("50 %", "of the limit used")
    slack_critical: f.Share = _by_default("75 %", "of the limit used")
    forecast: f.PositiveTime = _by_default("10 min", "warn of a limit that will be reached within it")


class ShowFile(Section):
    """A whole show file."""

    show: ShowSection = Field(description="the print and the evening")
    part: list[PartSection] = Field(description="[[part]], the print from head to tail")
    cue: list[CueSection] = Field([], description="[[cue]], what else a person does")
    house: list[HouseSection] = Field(description="[[house]], one for each in chain")
    link: list[LinkSection] = Field(description="[[link]], one for each pair of neighbours")
    distance: list[DistanceSection] = Field([], description="[[distance]], for the choice of another order")
    adapter: list[AdapterSection] = Field([], description="[[adapter]], what the contacts are wired to")
    alarms: AlarmsSection | None = None
    threading: ThreadingSection | None = None
    deck: DeckSection | None = None


def json_schema() -> dict[str, object]:
    """The JSON Schema of a show file, once it has been read from TOML."""
    schema = ShowFile.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Longlace show file"} | schema
