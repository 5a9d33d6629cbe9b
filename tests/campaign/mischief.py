"""What goes wrong in a show of a seed, as a scenario; some shows have nothing wrong at all."""

from __future__ import annotations

import random

from drivers.simulator.faults import parse_fault
from drivers.simulator.scenario import Scenario
from interlock.showfile.show import Show

KINDS = (
    "start-late", "no-start", "trip", "trip", "creep", "creep", "wander", "mains", "lamp-fails", "lamp-late",
    "lamp-out", "dowser-stuck", "dowser-late", "platter-stops", "splice-parts", "dropped", "doubled", "delayed",
    "damaged", "jitter", "restart", "restart-on-strike", "silence", "unplug", "clock-step", "stuck-contact",
    "dead-counter", "stop-all", "jog",
)  # fmt: skip


NEW_KINDS = ("chatter", "pass-film", "when-tight", "speed", "stop-all", "stop-all")
THIRD_KINDS = ("start-early", "jog-armed")
NEWEST = 3
"""Version of the mischief. A seed that is kept as a test names the one under which it found something."""


def make_scenario(rng: random.Random, show: Show, version: int = NEWEST) -> Scenario:
    """Up to four faults, at moments of the show."""
    until_s = (show.length_fr + show.first_picture_at_fr[-1]) / show.fps
    kinds = (*KINDS, *(NEW_KINDS if version > 1 else ()), *(THIRD_KINDS if version > 2 else ()))
    picked = [rng.choice(kinds) for _ in range(rng.choice((0, 1, 1, 1, 2, 2, 3, 4)))]
    entries = [e for kind in picked for e in _entries(rng, show, kind, until_s)]
    if "stop-all" in picked and rng.random() < 0.7:
        stop = next(e for e in entries if e["kind"] == "stop-all")
        at_s = float(str(stop["at"]).removesuffix(" s")) + rng.uniform(8.0, 15.0)
        entries.append({"kind": "restart-all", "at": f"{at_s:.3f} s"})
    faults = tuple(parse_fault(e) for e in entries)
    return Scenario(title="mischief", faults=faults, crew_stops_after_s=rng.choice((2.0, 3.0, 5.0)))


def _entries(rng: random.Random, show: Show, kind: str, until_s: float) -> list[dict[str, object]]:
    if kind in THIRD_KINDS:
        return [_before_the_start(rng, rng.choice(show.houses).id, kind)]
    if kind not in NEW_KINDS or kind == "stop-all":
        return [_entry(rng, show, kind, until_s)]
    house, link = rng.choice(show.houses).id, rng.choice(show.links).id
    at_s = rng.uniform(4.0, max(5.0, until_s * 0.8))
    at, span = f"{at_s:.3f} s", f"{rng.uniform(0.5, 8.0):.2f} s"
    if kind == "chatter":
        signal = f"{house}.{rng.choice(('run', 'lamp', 'dowser', 'film'))}"
        every = f"{rng.uniform(0.03, 0.5):.3f} s"
        return [{"kind": kind, "signal": signal, "at": at, "for": span, "every": every}]
    if kind == "speed":
        return [{"kind": kind, "house": house, "at": at, "fps": f"{rng.uniform(21.0, 27.0):.2f} fps"}]
    if kind == "when-tight":
        # Somebody has to pull it tight.
        then = rng.choice(("stalls", "parts"))
        trip = {"kind": "trip", "house": link.split(">")[0], "at": at}
        return [{"kind": kind, "link": link, "then": then}, trip]
    # Film is passed by hand where all machines stand, and the crew says so.
    last_s = at_s
    passes: list[dict[str, object]] = []
    for _ in range(rng.choice((1, 1, 2))):
        last_s += rng.uniform(8.0, 10.0) if last_s == at_s else rng.uniform(1.0, 2.0)
        n = rng.choice((-1, 1, 1)) * rng.randrange(2, 13)
        passes.append({"kind": kind, "house": house, "at": f"{last_s:.3f} s", "n": f"{n} fr"})
    restart = f"{last_s + rng.uniform(1.0, 5.0):.3f} s"
    return [{"kind": "stop-all", "at": at}, *passes, {"kind": "restart-all", "at": restart}]


def _before_the_start(rng: random.Random, house: str, kind: str) -> dict[str, object]:
    """A machine that turns on an armed desk long before it should."""
    if kind == "start-early":
        return {"kind": "start-late", "house": house, "by": f"-{rng.uniform(3.0, 20.0):.3f} s"}
    span = f"{rng.uniform(0.2, 3.0):.2f} s"
    return {"kind": "jog", "house": house, "at": f"{rng.uniform(-29.0, -1.0):.3f} s", "for": span}


def _entry(rng: random.Random, show: Show, kind: str, until_s: float) -> dict[str, object]:
    house = rng.choice(show.houses).id
    adapter = rng.choice(show.adapters).name
    at = f"{rng.uniform(4.0, max(5.0, until_s * 0.8)):.3f} s"
    span = f"{rng.uniform(0.5, 8.0):.2f} s"
    share = f"{rng.uniform(1.0, 10.0):.2f} %"
    table: dict[str, dict[str, object]] = {
        "start-late": {"house": house, "by": f"{rng.uniform(0.2, 2.5):.3f} s"},
        "no-start": {"house": house},
        "trip": {"house": house, "at": at},
        "creep": {"house": house, "at": at, "by": f"{rng.choice((-1, 1)) * rng.uniform(0.1, 4.0):.3f} %"},
        "wander": {"house": house, "at": at, "by": f"{rng.uniform(0.05, 0.5):.3f} %"},
        "mains": {
            "supply": rng.choice(show.houses).supply,
            "at": at,
            "by": f"{rng.uniform(-1.0, 1.0):.3f} %",
            "for": "30 s",
        },
        "lamp-fails": {"house": house, "tries": rng.choice((1, 2))},
        "lamp-late": {"house": house, "by": span},
        "lamp-out": {"house": house, "at": at, "for": span},
        "dowser-stuck": {"house": house, "at": at, "for": span},
        "dowser-late": {"house": house, "by": span},
        "platter-stops": {"platter": "feed" if show.feed is not None else "take-up", "at": at, "for": "5 s"},
        "splice-parts": {"link": rng.choice(show.links).id, "at": at},
        "dropped": {"adapter": adapter, "share": share},
        "doubled": {"adapter": adapter, "share": share},
        "delayed": {"adapter": adapter, "share": share, "by": f"{rng.uniform(0.1, 3.0):.2f} s"},
        "damaged": {"adapter": adapter, "share": share},
        "jitter": {"adapter": adapter, "by": f"{rng.uniform(0.01, 0.3):.3f} s"},
        "restart": {"adapter": adapter, "at": at, "for": span},
        "restart-on-strike": {"adapter": adapter},
        "silence": {"adapter": adapter, "at": at, "for": span},
        "unplug": {"adapter": adapter, "at": at, "for": span},
        "clock-step": {"at": at, "by": f"{rng.uniform(-30.0, 30.0):.3f} s"},
        "stuck-contact": {"signal": f"{house}.{rng.choice(('run', 'lamp', 'dowser'))}", "at": at},
        "dead-counter": {"house": house, "at": at},
        "stop-all": {"at": at},
        "jog": {"house": house, "at": "-45 s", "for": span},
    }
    entry = {"kind": kind, **table[kind]}
    if kind == "dead-counter" and not any(a.wiring.counters for a in show.adapters):
        return {"kind": "dropped", **table["dropped"]}
    if kind == "jog" and any(a.wiring.analogs for a in show.adapters):
        # An arm would see the loop that the jog has made, rightly; the truth here counts from the arming.
        return {"kind": "dropped", **table["dropped"]}
    if kind == "platter-stops" and show.feed is None and show.take_up is None:
        return {"kind": "dropped", **table["dropped"]}
    return entry
