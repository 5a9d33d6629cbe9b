"""An invented show of any number of houses, and its state at any second. Pure: the same second, the same state."""

from __future__ import annotations

import itertools
import math
from datetime import UTC, datetime, timedelta

from interlock.watch.state import (
    AdapterLine,
    CueLine,
    CuePhase,
    HouseLayout,
    HouseLine,
    HousePhase,
    Layout,
    LinkLayout,
    LinkLine,
    LinkPhase,
    PartLayout,
    ShowPhase,
    State,
)

FPS = 24.0
START = datetime(2026, 12, 5, 20, 25, tzinfo=UTC)
_BOOTHS = ("north", "south", "attic", "cellar")
_PARTS = (
    ("Trailer: The Salt Ladder", "trailer", 1896),
    ("Please mind the step", "policy", 480),
    ("Lantern Weather, part one", "feature", 62_000),
    ("intermission", "intermission", 9_000),
    ("Lantern Weather, part two", "feature", 74_000),
    ("end credits", "credits", 3_600),
    ("tail leader", "tail", 2_406),
)


def layout(houses: int = 6, *, rehearsal: bool = False) -> Layout:
    """Houses are numbered as in a real building: not in the order in which the film runs."""
    ids = [str(n) for n in (*range(4, 0, -1), *range(houses, 4, -1))][-houses:] if houses > 4 else [
        str(n) for n in range(houses, 0, -1)
    ]  # fmt: skip
    parts = []
    at = 0
    for name, kind, frames in _PARTS:
        parts.append(PartLayout(name, kind, at, frames))
        at += frames
    path = 0.0
    lays = []
    for k, house in enumerate(ids):
        booth = _BOOTHS[k * min(4, max(1, (houses + 3) // 4)) // houses]
        wired = tuple(
            (f"{house}.{s}", booth, f"level {k * 4 + n}")
            for n, s in enumerate(("run", "lamp", "dowser", "film"))
        )
        lays.append(HouseLayout(house, f"House {house}", booth, True, 288.0 + path, wired))
        path += _path_fr(k)
    links = tuple(
        LinkLayout(f"{a}>{b}", a, b, _path_fr(k), 48.0, 48.0, k % 3 == 1)
        for k, (a, b) in enumerate(itertools.pairwise(ids))
    )
    return Layout(
        title="Lantern Weather", film="35 mm, 4 perforations", fps=FPS, frames_per_ft=16.0,
        motor_start_at=START.isoformat(), timezone="Atlantic/Azores", parts=tuple(parts), houses=tuple(lays), links=links,
        feed=True, take_up=True, rehearsal=rehearsal, length_fr=at, record="lantern-weather.longlace",
    )  # fmt: skip


def _path_fr(k: int) -> float:
    return 1187.0 + 700.0 * (k % 3)


def state_at(lay: Layout, show_s: float, *, seq: int = 0) -> State:
    """Everything as it is ``show_s`` seconds after show zero (negative: before it) with nothing wrong."""
    at = rfc3339(show_s)
    zero = show_s >= 0
    shown_s = show_s if zero else None
    lines = tuple(_house(lay, k, show_s, at, seq) for k in range(len(lay.houses)))
    drifts = [_drift_fr(k, show_s) for k in range(len(lay.links))]
    links = tuple(_link(lay, k, lines, drifts[k], show_s, at, seq) for k in range(len(lay.links)))
    booths = list(dict.fromkeys(h.booth for h in lay.houses))
    adapters = tuple(
        AdapterLine(seq=seq, at=at, show_s=shown_s, adapter=b, state="up", lines=max(0, int((show_s + 1200) * 14)),
                    bad_lines=3 if n else 0, lost_lines=0, age_s=0.06)
        for n, b in enumerate(booths)
    )  # fmt: skip
    return State(
        seq=seq, at=at, show_s=shown_s, phase=_phase(lay, lines, show_s), beat=max(0, math.floor(show_s + 1200)),
        plan_s=show_s, age_s=0.06, houses=lines, links=links, alarms=(), cues=_cues(lay, show_s, at, seq), adapters=adapters,
        leads="A. Blyth", booth=booths[0], speed=4.0 if lay.rehearsal else None,
    )  # fmt: skip


def rfc3339(show_s: float) -> str:
    """The wall clock ``show_s`` seconds after show zero."""
    return (START + timedelta(seconds=show_s)).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def run_frames(show_s: float) -> float:
    """Frames that a machine with a ramp of one second has run."""
    if show_s <= 0:
        return 0.0
    return FPS * show_s**2 / 2 if show_s < 1 else FPS * (show_s - 0.5)


def _drift_fr(k: int, show_s: float) -> float:
    if show_s < 1:
        return 0.0
    return round(9 * math.sin(1.7 * k + 0.4) + 2 * math.sin(show_s / 97 + k), 2)


def _frame(lay: Layout, k: int, show_s: float) -> float:
    early = sum(_drift_fr(n, show_s) for n in range(k))
    return run_frames(show_s) - lay.houses[k].first_picture_fr - early


def _house(lay: Layout, k: int, show_s: float, at: str, seq: int) -> HouseLine:
    frame = _frame(lay, k, show_s)
    picture = [p for p in lay.parts if p.kind != "tail"]
    last = picture[-1].start_fr + picture[-1].frames
    phase: HousePhase = "threaded"
    if show_s > 0:
        phase = (
            "leader"
            if frame < 0
            else "picture"
            if frame < last
            else "tail"
            if frame < lay.length_fr
            else "clear"
        )
    run = show_s > 0 and frame < lay.length_fr + 100
    part = next((p for p in lay.parts if p.start_fr <= frame < p.start_fr + p.frames), None)
    shut = part is not None and part.kind == "intermission"
    return HouseLine(
        seq=seq, at=at, show_s=show_s if show_s >= 0 else None, house=lay.houses[k].house, phase=phase, run=run,
        lamp=-45 * FPS < frame < last + 10 * FPS and show_s > 0,
        dowser=-1.0 * FPS < frame < last and not shut and show_s > 0,
        film=phase != "clear", frame=frame, expected_frame=run_frames(show_s) - lay.houses[k].first_picture_fr, sigma_fr=6.0,
        speed_fps=FPS + 0.004 * math.sin(k) if run and show_s > 1 else 0.0, part=None if part is None else part.name, dark=False,
    )  # fmt: skip


def _link(
    lay: Layout, k: int, lines: tuple[HouseLine, ...], drift_fr: float, show_s: float, at: str, seq: int
) -> LinkLine:
    gone = lines[k].phase == "clear"
    return link_line(lay, k, None if gone else drift_fr, show_s, at, seq, released=gone, moving=show_s > 0)


def link_line(
    lay: Layout, k: int, drift_fr: float | None, show_s: float, at: str, seq: int, *,
    released: bool = False, moving: bool = True, rate_fps: float = 0.0,
) -> LinkLine:  # fmt: skip
    """A link with this drift, its derived values reckoned; None: not known."""
    shown_s = show_s if show_s >= 0 else None
    phase: LinkPhase = "released" if released else ("running" if moving else "threaded")
    if drift_fr is None:
        return LinkLine(
            seq=seq, at=at, show_s=shown_s, link=lay.links[k].link, state=phase, drift_fr=None, sigma_fr=None, toward=None,
            used=None, left_fr=None, rate_fps=None, to_limit_s=None,
        )  # fmt: skip
    spill = drift_fr > 0
    limit = lay.links[k].spill_fr if spill else lay.links[k].tight_fr
    left = limit - abs(drift_fr)
    to_limit = None
    if rate_fps and left > 0:
        middle = left / abs(rate_fps)
        to_limit = (middle * 0.8, middle, middle * 1.3)
    return LinkLine(
        seq=seq, at=at, show_s=shown_s, link=lay.links[k].link, state=phase, drift_fr=drift_fr, sigma_fr=0.2,
        toward="spill" if spill else "tight", used=abs(drift_fr) / limit, left_fr=left, rate_fps=rate_fps, to_limit_s=to_limit,
    )  # fmt: skip


def _phase(lay: Layout, lines: tuple[HouseLine, ...], show_s: float) -> ShowPhase:
    if show_s < 0:
        return "armed" if show_s > -30 else "waiting"
    if show_s < 4.2:
        return "starting"
    if all(h.phase == "clear" for h in lines):
        return "ended"
    return "running-out" if lines[0].phase == "clear" else "running"


def _cues(lay: Layout, show_s: float, at: str, seq: int) -> tuple[CueLine, ...]:
    found = []
    picture_end = next(p.start_fr for p in lay.parts if p.kind == "tail")
    for house in lay.houses:
        first_s = house.first_picture_fr / FPS + 0.5
        for due_s, cue in (
            (first_s - 45, "strike-lamp"),
            (first_s - 1, "open-dowser"),
            (first_s + lay.parts[2].start_fr / FPS, "masking wide, house lights out"),
            (first_s + lay.parts[3].start_fr / FPS, "close-dowser"),
            (first_s + lay.parts[4].start_fr / FPS, "open-dowser"),
            (first_s + picture_end / FPS, "close-dowser"),
            (first_s + picture_end / FPS + 5, "lamp-off"),
            (first_s + lay.length_fr / FPS + 5, "motor-off"),
        ):
            if due_s > show_s - 2:
                phase: CuePhase = "due" if due_s <= show_s else "coming"
                found.append((due_s, CueLine(
                    seq=seq, at=at, show_s=show_s if show_s >= 0 else None, house=house.house, cue=cue, due_s=due_s,
                    state=phase,
                )))  # fmt: skip
    return tuple(c for _, c in sorted(found, key=lambda f: f[0])[:64])
