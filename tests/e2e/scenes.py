"""What happens in the four shows of the end-to-end test, written down before they begin.

All run at the same time, each with two adapters on ptys of its own and with one line in twenty
damaged. Four houses, film order 4, 3, 2, 1; moments are given in seconds after ``zero_s``, when the
first motor turns.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from emulator import Adapter
from habits import Habits
from page_line import TICKS
from room import FRAMES_PER_TAPE_FT, House, Link
from watching import Watch, show_text

FPS = 24.0
CHAIN = ("4", "3", "2", "1")
FIRST_PICTURE_FR = 96  # 6+00 of film, 16 frames to the foot, [P] footage tables
PATH_FT = 4.5
SURVEY_ERRORS = (0.003, -0.002, 0.002)  # how much longer each path is than its tape measure says
STARTS_S = (0.06, 0.0, 0.03, 0.08)
LAMP_LEAD_S = 3.0
DAMAGED = 0.05
NORTH_PPM, SOUTH_PPM = 80.0, -60.0


@dataclass(repr=False)
class Scene:
    """One show: the truth, and what was said about it."""

    name: str
    zero_s: float
    houses: list[House]
    links: list[Link]
    adapters: list[Adapter]
    ends_s: float
    """Seconds after zero at which the watch is ended."""
    picture_fr: int
    tail_fr: int
    watch: Watch | None = None
    exit_code: int | None = None
    lines: list[dict[str, Any]] = field(default_factory=list)

    def at(self, show_s: float) -> float:
        """That moment of the show on the monotonic clock."""
        return self.zero_s + show_s

    def link(self, link_id: str) -> Link:
        """The link of that name."""
        return next(link for link in self.links if link.id == link_id)

    def house(self, house_id: str) -> House:
        """The house of that number."""
        return next(house for house in self.houses if house.id == house_id)

    def begin(self, folder: Path) -> None:
        """Start the adapters and the watch; the motors wait for their time."""
        for adapter in self.adapters:
            adapter.start()
        plan = {
            "path_ft": PATH_FT,
            "first_picture": f"{FIRST_PICTURE_FR // 16}+00",
            "picture_fr": self.picture_fr,
            "tail_fr": self.tail_fr,
            "lamp_lead_s": LAMP_LEAD_S,
        }
        motor_start_wall_s = self.zero_s - time.monotonic() + time.time()
        self.watch = Watch(folder, show_text(self.name, motor_start_wall_s, plan, self.links, self.adapters))

    def finish(self) -> None:
        """Wait for the end, end the watch, take the adapters away."""
        assert self.watch is not None
        try:
            time.sleep(max(0.0, self.at(self.ends_s) - time.monotonic()))
        finally:
            self.exit_code = self.watch.end()
            for adapter in self.adapters:
                adapter.close()
        self.lines = self.watch.lines()


def make_scene(
    name: str,
    zero_s: float,
    ends_s: float,
    *,
    starts_s: tuple[float, ...] = STARTS_S,
    limits_fr: tuple[tuple[float, float], ...] = ((48, 48), (48, 48), (48, 48)),
    picture_s: float = 8.0,
    north: Habits | None = None,
    south: Habits | None = None,
) -> Scene:
    """Four houses at a stand, film threaded, motors due; ``limits_fr``: (tight, spill) of each link."""
    houses = []
    first_picture_fr = float(FIRST_PICTURE_FR)
    for house_id, error in zip(CHAIN, (0.0, *SURVEY_ERRORS), strict=True):
        if houses:
            first_picture_fr += PATH_FT * FRAMES_PER_TAPE_FT * (1 + error)
        houses.append(House(house_id, first_picture_fr, ramp_s=0.4, coast_s=0.3))
    for house, start_s in zip(houses, starts_s, strict=True):
        house.start(zero_s + start_s, FPS)
    links = [
        Link(up, down, tight, spill)
        for up, down, (tight, spill) in zip(houses, houses[1:], limits_fr, strict=False)
    ]
    powered_s = zero_s - 1000.0
    north = north or Habits(ppm=NORTH_PPM, up_since_s=powered_s, pulses_before=1234)
    south = south or Habits(ppm=SOUTH_PPM, up_since_s=powered_s - 77.7, pulses_before=77)
    north.damaged = south.damaged = DAMAGED
    adapters = [
        Adapter("north", houses[:2], north, inverted=frozenset({"3.dowser"}), seed=hash_of(name, 1)),
        Adapter("south", houses[2:], south, seed=hash_of(name, 2)),
    ]
    return Scene(name, zero_s, houses, links, adapters, ends_s, round(picture_s * FPS), 160)


def hash_of(name: str, n: int) -> int:
    """A seed that is the same in every run."""
    return sum(name.encode()) * 10 + n


def crew_lights(scene: Scene, until_s: float = 1e9) -> None:
    """The crew strikes and opens for picture, shuts and darkens after it; nothing of that later than ``until_s``."""
    for house in scene.houses:
        picture_s = house.motion.when(house.first_picture_fr) - scene.zero_s
        last_s = house.motion.when(house.first_picture_fr + scene.picture_fr) - scene.zero_s
        for at_s, kind, state in (
            (picture_s - LAMP_LEAD_S, "lamp", True),
            (picture_s - 1.0, "dowser", True),
            (last_s, "dowser", False),
            (last_s + 1.0, "lamp", False),
        ):
            if at_s < until_s:
                house.signal(kind).set(scene.at(at_s), state)


def late_start(zero_s: float) -> Scene:
    """The last house of the chain turns 1.35 s late, and then all is well."""
    first, second, third, _ = STARTS_S
    scene = make_scene("Late", zero_s, 10.0, starts_s=(first, second, third, third + 1.35))
    crew_lights(scene)
    return scene


TRIP_S = 9.0
STOP_ALL_S = TRIP_S + 3.2


def trip(zero_s: float) -> Scene:
    """House 3 trips in mid-run; the others run on until the crew stops them."""
    scene = make_scene("Trip", zero_s, 15.0, limits_fr=((48, 40), (44, 48), (48, 48)))
    crew_lights(scene, until_s=STOP_ALL_S)
    for house in scene.houses:
        house.cut(scene.at(TRIP_S if house.id == "3" else STOP_ALL_S))
    # The film stands in an open gate until somebody has reacted; the other gates are shut with the stop.
    scene.house("3").dowser.set(scene.at(TRIP_S + 1.5), False)
    for house in scene.houses:
        if house.dowser.state(scene.at(STOP_ALL_S)):
            house.dowser.set(scene.at(STOP_ALL_S), False)
    return scene


SILENCE_S = (8.0, 11.5)
RESTART_S = (16.0, 16.6)
WRAP_S = 7.0


def rough_line(zero_s: float) -> Scene:
    """Nothing is wrong with the machines; the north adapter's ticks and counts wrap, the south one falls silent and
    later restarts."""
    wrapping = Habits(
        ppm=NORTH_PPM,
        up_since_s=zero_s + WRAP_S - TICKS / 1000 / (1 + NORTH_PPM * 1e-6),
        pulses_before=TICKS - 150,
    )
    ailing = Habits(
        ppm=SOUTH_PPM,
        up_since_s=zero_s - 500.0,
        pulses_before=77,
        silent=((zero_s + SILENCE_S[0], zero_s + SILENCE_S[1]),),
        restarts=((zero_s + RESTART_S[0], zero_s + RESTART_S[1]),),
    )
    scene = make_scene("Rough", zero_s, 24.0, picture_s=16.0, north=wrapping, south=ailing)
    crew_lights(scene)
    return scene


def run_out(zero_s: float) -> Scene:
    """A show from start to end: each house is cleared, released and stopped in turn."""
    scene = make_scene("Run-out", zero_s, 31.0)
    crew_lights(scene)
    for house in scene.houses:
        clear_s = house.motion.when(house.first_picture_fr + scene.picture_fr + scene.tail_fr)
        house.film.set(clear_s, False)
        house.cut(clear_s + 1.0)
    return scene


SCENES: dict[str, Callable[[float], Scene]] = {
    "late": late_start,
    "trip": trip,
    "rough": rough_line,
    "run-out": run_out,
}
