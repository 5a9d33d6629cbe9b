"""What somebody did, and how an alarm stands, in the words that the screens and ``attach --lines`` share."""

from __future__ import annotations

from typing import Any

import msgspec

from interlock.text import clean
from interlock.watch.state import OperatorLine

ALARM_STATES = {
    "unacknowledged": "not acknowledged",
    "acknowledged": "acknowledged",
    "returned-unacknowledged": "gone, not acknowledged",
    "latched-unacknowledged": "gone, held, not acknowledged",
    "latched-acknowledged": "gone, held until reset",
    "shelved": "shelved",
    "suppressed": "suppressed",
    "out-of-service": "out of service",
    "normal": "normal",
}

_PLAIN = {
    "silence": "silenced the bell",
    "arm": "armed: the first motor that turns is the start",
    "disarm": "disarmed",
    "stop-all": "said that all is being stopped",
    "restart": "said that the show goes on",
    "handover": "leads from now on",
}
_ON_ALARM = {"ack": "acknowledged", "shelve": "shelved", "unshelve": "took back", "reset": "reset"}


def alarm_words(code: str) -> str:
    """An alarm's code, said rather than spelled. Codes are plain ASCII; what is not has no business here."""
    return clean(code.replace("-", " ").encode("ascii", "replace").decode())[:40]


def did(line: OperatorLine) -> str:
    """Who did what; an action that is not known here with its keys as they came. Not yet safe for a terminal."""
    who = line.by or "somebody"
    where = f" ({line.booth})" if line.booth else ""
    if line.refused is not None:  # it was not done: the word that was sent, not the sentence of what was done
        return f"{who}{where}: REFUSED: {line.action}: {line.refused}"
    return f"{who}{where}: {_what(line)}"


def _what(line: OperatorLine) -> str:
    keys = line.keys
    action = line.action
    if action in _PLAIN:
        return _PLAIN[action]
    if action in _ON_ALARM:
        if keys.get("group") is not None:
            return "let go of the first-out mark"
        on = f"{_ON_ALARM[action]} {alarm_words(str(keys.get('code', '')))} {keys.get('subject', '')}"
        return f"{on} for {_number(keys.get('for_s'), 60)} min" if "for_s" in keys else on
    house, link = keys.get("house"), keys.get("link")
    if action == "note":
        subject = keys.get("subject")
        return f"note{f' on {subject}' if subject else ''}: {keys.get('text', '')}"
    if action == "mark" and house is not None:
        return f"marked frame {_number(keys.get('frame'))} in the gate of house {house}"
    if action == "relace" and house is not None:
        return f"passed {_number(keys.get('n_fr'))} frames by hand through house {house}"
    if action == "rezero" and link is not None:
        return f"measured loop {link}: its drift is {_number(keys.get('drift_fr'))} frames"
    if action == "parted" and link is not None:
        return f"said that the film {link} is apart"
    if action in ("dark", "light") and house is not None:
        return (
            f"no picture wanted in house {house}"
            if action == "dark"
            else f"picture wanted again in house {house}"
        )
    if action == "speed" and "x" in keys:
        return f"set the rehearsal to x{_number(keys['x'])}"
    if action == "fault" and "fault" in keys:
        return f"threw a fault: {_fault(str(keys['fault']))}"
    rest = " ".join(f"{k}={v}" for k, v in keys.items() if v is not None and k != "text")
    text = keys.get("text")
    return f"{action}{' ' + rest if rest else ''}{': ' + str(text) if text else ''}"


def _fault(text: str) -> str:
    """``trip, house 4``: a scenario's line, its kind first; what is none of it as it came."""
    try:
        found = msgspec.json.decode(text, type=dict[str, Any])
    except msgspec.MsgspecError:
        return text
    kind = str(found.pop("kind", "?")).replace("-", " ")
    return ", ".join([kind, *(f"{k} {v}" for k, v in found.items())])


def _number(value: float | str | bool | None, divided_by: float = 1) -> str:
    if isinstance(value, float | int) and not isinstance(value, bool):
        return f"{value / divided_by:.10g}"
    return "0" if value is None else str(value)
