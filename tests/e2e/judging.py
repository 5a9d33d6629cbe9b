"""What the shows are judged with: their own lines against the machine room's truth."""

from __future__ import annotations

import math
from typing import Any

from scenes import CHAIN, Scene

THRESHOLD_S = 0.050
DRIFT_FR = 0.5
COUNTED_AFTER_S = 0.3  # until counts, said each tenth of a second, have put right what was believed in a gap
DRIFT_AFTER_RESTART_FR = 2.5


def alarms(scene: Scene, **wanted: str) -> list[dict[str, Any]]:
    """Alarm lines with these values, in order."""
    return [
        line
        for line in scene.lines
        if line["kind"] == "alarm" and all(line[key] == value for key, value in wanted.items())
    ]


def raised(scene: Scene) -> dict[tuple[str, str], dict[str, Any]]:
    """The first line of each alarm that was raised, by code and subject."""
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for line in alarms(scene, state="unacknowledged"):
        found.setdefault((line["code"], line["subject"]), line)
    return found


def crossed(scene: Scene, code: str, subject: str) -> float:
    """When that alarm says that it became true, on the monotonic clock."""
    line = raised(scene)[code, subject]
    assert line["show_s"] - line["values"]["crossed_s"] < 0.5, "said long after it was true"
    return scene.at(line["values"]["crossed_s"])


def gaps(scene: Scene, houses: set[str]) -> list[tuple[float, float]]:
    """Times in which a contact there changed and a line was damaged, so that nobody knows when it was."""
    return [gap for a in scene.adapters if houses & {h.id for h in a.houses} for gap in a.gaps]


def within_s(scene: Scene, *changes_s: float) -> float:
    """How well a moment can be dated that follows from these true changes: half of each gap that one is in comes to it."""
    everywhere = gaps(scene, set(CHAIN))
    halves = [max((b - a for a, b in everywhere if a <= at_s <= b), default=0.0) / 2 for at_s in changes_s]
    return THRESHOLD_S + sum(halves)


def check_drift(scene: Scene, restart_s: float = math.inf, restarted: tuple[str, ...] = ()) -> None:
    """Every drift that was said is the true one of that moment, as far as the adapters had told it."""
    judged = 0
    for line in scene.lines:
        if line["kind"] != "link" or line["drift_fr"] is None or line["show_s"] is None:
            continue
        at_s = scene.at(line["show_s"])
        ids = set(line["link"].split(">"))
        if any(from_s <= at_s < to_s + COUNTED_AFTER_S for from_s, to_s in gaps(scene, ids)):
            continue  # nobody could know
        truth_fr = scene.link(line["link"]).drift_fr(at_s)
        after_restart = line["show_s"] > restart_s and line["link"] in restarted
        allowed_fr = DRIFT_AFTER_RESTART_FR if after_restart else DRIFT_FR
        assert abs(line["drift_fr"] - truth_fr) <= allowed_fr, f"truth {truth_fr:.2f}: {line}"
        judged += 1
    assert judged > 2 * scene.ends_s, "hardly a drift was said"
