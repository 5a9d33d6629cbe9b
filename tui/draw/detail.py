"""What is known about an alarm's subject besides the alarm: an adapter's houses and its own complaint, a loop's figures."""

from __future__ import annotations

from interlock.watch.state import AdapterLine, AlarmLine, LinkLine
from tui.draw.runs import safe
from tui.draw.view import View
from tui.draw.words import duration

ADAPTERS = {"up": "speaks", "stale": "is silent", "lost": "LOST", "restarted": "began anew"}


def adapter_of(view: View, name: str) -> AdapterLine | None:
    """The newest line of an adapter."""
    return next((a for a in view.state.adapters if a.adapter == name), None)


def complaint(view: View, a: AlarmLine) -> str:
    """What the driver itself says of an adapter that an alarm is about: a port that is gone, inputs that are not there."""
    line = adapter_of(view, a.subject) if a.code.startswith("adapter") else None
    return "" if line is None else safe(line.text, view.g)


def details(view: View, a: AlarmLine) -> list[str]:
    """Sentences about the alarm's subject, the most wanted first; none where everything has been said."""
    if a.code.startswith("adapter"):
        line = adapter_of(view, a.subject)
        return [] if line is None else _adapter(view, line)
    if a.code == "record-failing":
        return [] if view.layout.record is None else [f"the record is {safe(view.layout.record, view.g)}"]
    link = next((x for x in view.state.links if x.link == a.subject), None)
    return [] if link is None else _link(view, link)


def adapter_state(line: AdapterLine) -> str:
    """``speaks``, ``LOST, last word 0:06 ago``."""
    word = ADAPTERS[line.state]
    if line.state in ("up", "restarted"):
        return word
    return f"{word}, no word yet" if line.age_s is None else f"{word}, last word {duration(line.age_s)} ago"


def _adapter(view: View, line: AdapterLine) -> list[str]:
    g = view.g
    told = []
    if line.text:
        told.append(f"it says: {safe(line.text, g)}")
    houses = [safe(h.house, g) for h in view.layout.houses if any(s[1] == line.adapter for s in h.signals)]
    if houses:
        told.append(f"{'house' if len(houses) == 1 else 'houses'} {' '.join(houses)}; {adapter_state(line)}")
    if line.bad_lines or line.lost_lines:
        told.append(
            f"of {line.lines} lines {line.bad_lines} were damaged and {line.lost_lines} lost since the desk started"
        )
    return told


def _link(view: View, line: LinkLine) -> list[str]:
    if line.drift_fr is None:
        return ["its drift is not known"]
    side = "fuller" if line.drift_fr > 0 else "tighter"
    words = f"{abs(line.drift_fr):.0f} frames {side} than threaded"
    lay = next((x for x in view.layout.links if x.link == line.link), None)
    if lay is not None:
        limit = lay.spill_fr if line.drift_fr > 0 else lay.tight_fr
        words += f", limit {limit:.0f}"
    rate = rate_words(line.rate_fps)
    return [f"{words}; {rate}" if rate else words]


def rate_words(rate_fps: float | None) -> str:
    """How fast a loop changes: ``steady``, ``fills 3.6 frames a minute``, ``tightens 24 frames a second``."""
    if rate_fps is None:
        return ""
    if abs(rate_fps) < 0.0005:
        return "steady"
    verb = "fills" if rate_fps > 0 else "tightens"
    size = abs(rate_fps)
    return f"{verb} {size:.0f} frames a second" if size >= 1 else f"{verb} {size * 60:.1f} frames a minute"
