"""What happens when: the plan's arithmetic, from contract.md and design.md.

*Plan time* is seconds after the planned ``motor_start``. A *print frame* counts from the first
picture frame (0); negative ones are the leader. A machine that starts at s with a linear ramp r has
run fps·(t − s − r/2) frames once it is at speed. Everything here is pure and holds for houses by
their place in film order (0 is the first).
"""

from __future__ import annotations

import math
from bisect import bisect_right

import msgspec

from interlock.showfile.show import DOWSER_SHUT, Part, Show


def frames_run(t_s: float, start_s: float, ramp_s: float, fps: float) -> float:
    """Frames that a machine has run at ``t_s``: 0 before its start, a parabola in the ramp, then a line."""
    run_s = t_s - start_s
    if run_s <= 0:
        return 0.0
    if run_s < ramp_s:
        return fps * run_s * run_s / (2.0 * ramp_s)
    return fps * (run_s - ramp_s / 2.0)


def time_of_frames(frames: float, start_s: float, ramp_s: float, fps: float) -> float:
    """When a machine has run ``frames`` frames (0 or more): the inverse of :func:`frames_run`.

    Zero frames are reached at the start itself. Raises ``ValueError`` for less: no start reaches them.
    """
    if frames < 0:
        raise ValueError(f"a machine runs no {frames} frames")
    if frames < fps * ramp_s / 2.0:
        return start_s + math.sqrt(2.0 * ramp_s * frames / fps)
    return start_s + ramp_s / 2.0 + frames / fps


def expected_frame(show: Show, k: int, plan_s: float) -> float:
    """The print frame that is to be in the gate of house ``k`` at plan time ``plan_s``."""
    house = show.houses[k]
    run = frames_run(plan_s, house.start_delay_s, house.ramp_s, show.fps)
    return run - show.first_picture_at_fr[k]


def time_of_frame(show: Show, k: int, frame: float) -> float:
    """Plan time at which print frame ``frame`` is in the gate of house ``k``, the machine being at speed.

    Frames before what is threaded in the gate come out as the time at which they would have been
    there had the machine always run: that is what "45 s before the first picture" means to a house
    whose first picture is 12 s away.
    """
    house = show.houses[k]
    return house.start_delay_s + house.ramp_s / 2.0 + (show.first_picture_at_fr[k] + frame) / show.fps


def part_at(show: Show, frame: float) -> Part | None:
    """The part that print frame ``frame`` belongs to; None in the leader and after the film's end."""
    i = bisect_right(show.parts, frame, key=lambda p: p.start_fr) - 1
    if i < 0 or frame >= show.parts[i].end_fr:
        return None
    return show.parts[i]


def picture_spans(show: Show) -> list[tuple[int, int]]:
    """(first frame, frame after the last) of each stretch of the print on which the dowser is to be open.

    Black, tail and intermission shut it; neighbouring parts with picture are one stretch.
    """
    spans: list[tuple[int, int]] = []
    for part in show.parts:
        if part.kind in DOWSER_SHUT:
            continue
        if spans and spans[-1][1] == part.start_fr:
            spans[-1] = (spans[-1][0], part.end_fr)
        else:
            spans.append((part.start_fr, part.end_fr))
    return spans


class HouseTimes(msgspec.Struct, frozen=True):
    """The times of one house, as contract.md defines them. ``_s`` are plan time, ``_fr`` frames."""

    house: str
    lit: bool
    path_fr: float
    first_picture_fr: float
    first_picture_s: float
    strike_lamp_s: float
    open_dowser_s: float
    close_dowser_s: float
    last_picture_s: float
    tail_clear_s: float


def house_times(show: Show) -> tuple[HouseTimes, ...]:
    """The times of every house, in film order."""
    times: list[HouseTimes] = []
    for k, house in enumerate(show.houses):
        first_s = time_of_frame(show, k, 0)
        last_s = time_of_frame(show, k, show.last_picture_fr)
        times.append(
            HouseTimes(
                house=house.id,
                lit=house.lit,
                path_fr=show.path_fr[k],
                first_picture_fr=show.first_picture_at_fr[k],
                first_picture_s=first_s,
                strike_lamp_s=first_s - house.lamp_lead_s,
                open_dowser_s=first_s - house.dowser_lead_s,
                close_dowser_s=last_s,
                last_picture_s=last_s,
                tail_clear_s=time_of_frame(show, k, show.length_fr),
            )
        )
    return tuple(times)


class PlannedCue(msgspec.Struct, frozen=True):
    """Something to be done in a house when ``frame`` of the print is in its gate, planned for ``plan_s``."""

    house: str
    cue: str
    frame: float
    plan_s: float


def house_cues(show: Show, k: int) -> list[PlannedCue]:
    """Every cue of house ``k``, by frame: lamp and dowser where a picture is wanted, ``[[cue]]``, motor."""
    house = show.houses[k]
    spans = picture_spans(show)
    frames: list[tuple[float, str]] = [(float(c.frame), c.do) for c in show.cues]
    if house.lit and spans:
        frames.append((spans[0][0] - house.lamp_lead_s * show.fps, "strike-lamp"))
        shut_fr = -math.inf
        for start_fr, end_fr in spans:
            # A lead longer than a short black does not open the dowser before it was shut.
            frames.append((max(start_fr - house.dowser_lead_s * show.fps, shut_fr), "open-dowser"))
            frames.append((float(end_fr), "close-dowser"))
            shut_fr = end_fr
        frames.append((float(spans[-1][1]), "lamp-off"))
    frames.append((float(show.length_fr), "motor-off"))
    frames.sort(key=lambda f: f[0])
    return [PlannedCue(house.id, cue, fr, time_of_frame(show, k, fr)) for fr, cue in frames]


def all_cues(show: Show) -> list[PlannedCue]:
    """The cues of all houses in the order of their planned times."""
    cues = [cue for k in range(len(show.houses)) for cue in house_cues(show, k)]
    cues.sort(key=lambda c: c.plan_s)
    return cues
