"""What can go wrong in the booth itself: machines, film, lamps and dowsers, the crew."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from drivers.simulator.fault_model import FaultModel, House, Link, Standing, span
from drivers.simulator.quantity import Frames, Portion, Share, Span, Speed, Time


class Trip(FaultModel):
    """A house's motor stops."""

    kind: Literal["trip"] = "trip"
    house: House


class NoStart(Standing):
    """A house's motor does not start with the others."""

    kind: Literal["no-start"] = "no-start"
    house: House


class StartLate(Standing):
    """A house's motor starts later than its timer says."""

    kind: Literal["start-late"] = "start-late"
    house: House
    by_s: Time = Field(
        alias="by", description="how much later (before the start: how much earlier, with a minus)"
    )


class Creep(Standing):
    """A house's machine runs off its speed by a share."""

    kind: Literal["creep"] = "creep"
    house: House
    by: Share = Field(description='how much, as in "+0.15 %"')
    for_s: Span | None = span("for how long; without it until the end")


class SpeedFault(Standing):
    """A house's machine runs at another speed altogether."""

    kind: Literal["speed"] = "speed"
    house: House
    fps: Speed = Field(description='the speed, as in "22 fps"')
    for_s: Span | None = span()


class Wander(Standing):
    """A house's machine hunts: its speed swings at random."""

    kind: Literal["wander"] = "wander"
    house: House
    by: Portion = Field(description="1-sigma of the swing, as a share of the speed")
    for_s: Span | None = span()


class Mains(Standing):
    """The mains of a supply run off: every machine but the crystal ones follows."""

    kind: Literal["mains"] = "mains"
    supply: Annotated[str, Field(description="the supply", max_length=32)] = "mains"
    by: Share = Field(description='how much, as in "-0.5 %"')
    for_s: Span | None = span()


class Jog(FaultModel):
    """A house's motor is jogged: it runs for a moment, and stops again."""

    kind: Literal["jog"] = "jog"
    house: House
    for_s: Span = Field(default=2.0, alias="for", description="how long the motor is on")


class PassFilm(FaultModel):
    """Film is passed by hand through the gate of a standing machine."""

    kind: Literal["pass-film"] = "pass-film"
    house: House
    n_fr: Frames = Field(alias="n", description="how many frames; with a minus back again")


class WhenTight(Standing):
    """What happens when a link's film goes tight; otherwise chance decides."""

    kind: Literal["when-tight"] = "when-tight"
    link: Link
    then: Literal["stalls", "parts"] = Field(description="the machine that pulls stalls, or a splice parts")


class SpliceParts(FaultModel):
    """A splice parts somewhere between two gates."""

    kind: Literal["splice-parts"] = "splice-parts"
    link: Link


class PlatterStops(FaultModel):
    """A platter stops turning."""

    kind: Literal["platter-stops"] = "platter-stops"
    platter: Literal["feed", "take-up"] = Field(description="feed or take-up")
    for_s: Span | None = span()


class LampFails(Standing):
    """A house's lamp does not strike."""

    kind: Literal["lamp-fails"] = "lamp-fails"
    house: House
    tries: int | None = Field(
        default=None, ge=1, le=99, description="how many strikes fail; without it all of them"
    )
    retry_s: Span = Field(default=15.0, alias="retry", description="after what time the crew strikes again")


class LampLate(Standing):
    """A house's lamp is struck later than its cue."""

    kind: Literal["lamp-late"] = "lamp-late"
    house: House
    by_s: Span = Field(alias="by", description="how much later")


class LampOut(FaultModel):
    """A house's lamp goes out."""

    kind: Literal["lamp-out"] = "lamp-out"
    house: House
    for_s: Span | None = span("after what time the crew has it lit again; without it never")


class DowserStuck(FaultModel):
    """A house's dowser does not move from where it is."""

    kind: Literal["dowser-stuck"] = "dowser-stuck"
    house: House
    for_s: Span | None = span()


class DowserLate(Standing):
    """A house's dowser is opened later than its cue."""

    kind: Literal["dowser-late"] = "dowser-late"
    house: House
    by_s: Span = Field(alias="by", description="how much later")


class StopAll(FaultModel):
    """The crew stops all machines and shuts the dowsers."""

    kind: Literal["stop-all"] = "stop-all"


class RestartAll(FaultModel):
    """The crew starts all machines again after a stop; film that has parted keeps them standing."""

    kind: Literal["restart-all"] = "restart-all"


class ClockStep(FaultModel):
    """The computer's wall clock is set."""

    kind: Literal["clock-step"] = "clock-step"
    by_s: Time = Field(alias="by", description="by how much, forward or (with a minus) back")
