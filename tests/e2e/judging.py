"""What the shows are judged with: their own lines against the machine room's truth."""

from __future__ import annotations

import math
from typing import Any

from scenes import Scene

THRESHOLD_S = 0.050
DRIFT_FR = 0.5
HEARD_AFTER_S = (
    0.05  # from when a line leaves until the desk has judged it, on a computer that does other things as well
)
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


def untold(scene: Scene, link: str) -> list[tuple[float, float]]:
    """When the adapters of that link's houses had told of a change, and the line did not arrive."""
    ids = set(link.split(">"))
    return [span for a in scene.adapters if ids & {h.id for h in a.houses} for span in a.untold]


def check_drift(scene: Scene, restart_s: float = math.inf, restarted: tuple[str, ...] = ()) -> None:
    """Every drift that was said is the true one of that moment, as far as the adapters had told it."""
    judged = 0
    for line in scene.lines:
        if line["kind"] != "link" or line["drift_fr"] is None or line["show_s"] is None:
            continue
        at_s = scene.at(line["show_s"])
        if any(from_s <= at_s < to_s + HEARD_AFTER_S for from_s, to_s in untold(scene, line["link"])):
            continue  # nobody could know: a contact had changed, and the line that told it was damaged
        truth_fr = scene.link(line["link"]).drift_fr(at_s)
        after_restart = line["show_s"] > restart_s and line["link"] in restarted
        allowed_fr = DRIFT_AFTER_RESTART_FR if after_restart else DRIFT_FR
        assert abs(line["drift_fr"] - truth_fr) <= allowed_fr, f"truth {truth_fr:.2f}: {line}"
        judged += 1
    assert judged > 2 * scene.ends_s, "hardly a drift was said"
