"""The alarm catalogue: which alarms there are, when they may trip, how urgent they are, what to do.

An alarm asks a person to act; everything else is only recorded. Codes and priorities are contract.md's;
words of ISA-18.2 / IEC 62682. ``docs/alarms.md`` is printed from here and checked against it.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Literal, TypeAlias

import msgspec

from interlock.watch.state import Priority, ShowPhase

SubjectKind: TypeAlias = Literal["link", "house", "platter", "adapter", "desk"]


class AlarmKind(msgspec.Struct, frozen=True):
    """One alarm. ``respond_s``: about how long a person has; ``off_delay_s``: the condition must be gone so long.

    ``stopped``: what is left to do about it when the crew has stopped all; empty where that changes nothing.
    """

    code: str
    subject: SubjectKind
    means: str
    cause: str
    consequence: str
    response: str
    respond_s: float
    priority: Priority
    latching: bool = False
    off_delay_s: float = 0.0
    replaces: str | None = None
    stopped: str = ""


STOP_ALL = (
    "Stop all, dowsers shut. By hand: first the downstream neighbour and onward, then the upstream ones "
    "(tight wrecks machines, spill only costs film)."
)

_RELACE = "Relace the loop {subject} before the restart."

_KINDS = (
    AlarmKind("slack-low", "link", "half of a limit is used", "one of the two machines is off, or started late",
              "the loop goes on filling or tightening",
              "Look at {subject}: {toward}. Find the machine that is off; be ready to stop.",
              60.0, "medium", off_delay_s=1.0, stopped=_RELACE),
    AlarmKind("slack-critical", "link", "three quarters of a limit are used", "a machine is off or stands",
              "the limit is next: film tight, or on the floor", "Hand on the stop: {subject} {toward}. Stop all if it goes on.",
              10.0, "high", off_delay_s=1.0, replaces="slack-low", stopped=_RELACE),
    AlarmKind("slack-lost", "link", "a limit is reached", "a machine stands or crept too long",
              "film pulled tight wrecks a machine; spilled film is scratched and caught", STOP_ALL,
              2.0, "high", latching=True, off_delay_s=1.0, replaces="slack-critical",
              stopped="Look at the film on {subject} and at both machines; relace the loop before the restart."),
    AlarmKind("slack-forecast", "link", "a limit will be reached within the set time with 95 % probability",
              "one of the two machines runs a little off", "the loop will be used up at this rate",
              "{cause} Plan a stop to relace {subject}, or set the speed right.", 300.0, "medium", off_delay_s=5.0),
    AlarmKind("start-late", "house", "not turning although a neighbour's start has used half of a link",
              "start timer, contactor or motor", "the loops on both sides reach their limits within a second or so",
              "Start {subject} by hand now, or stop all.", 1.0, "high",
              stopped="Find out why {subject} did not start; relace its loops before the restart."),
    AlarmKind("run-lost", "house", "the motor stopped with film still to run", "trip, failsafe, thermal switch, a stop pressed",
              "its neighbours pull film tight downstream and pile it up upstream within about 2 s", STOP_ALL, 2.0, "high",
              stopped="Find out why {subject} stopped; relace its loops before the restart."),
    AlarmKind("run-early", "house", "armed, and turning more than 5 s before motor_start",
              "started by hand, or a timer set wrong",
              "its loops are used before the others start", "Stop {subject}; relace it before the start.", 2.0, "high"),
    AlarmKind("count-lost", "house", "contact and counter contradict each other for longer than ramp or coast explain",
              "counter or contact failed, or a belt slips", "where the film is in this house is not known",
              "Look at {subject}: does film run? Trust your eyes, not its frame.", 10.0, "high", off_delay_s=1.0),
    AlarmKind("speed-off", "house",
              "speed differs from the other machines' by more than 3 tolerances, and by 6 sigma (3, asked every second, would "
              "err every few minutes)",
              "belt, motor, supply or drive setting", "its loops are used up bit by bit",
              "{cause} Check its drive; watch the loops on both sides.", 60.0, "medium", off_delay_s=5.0),
    AlarmKind("film-out", "house", "film absent at its sensor where film should be, with 3 sigma to spare",
              "a splice parted, or film left its path", "film runs out on the floor, or tears further",
              "Stop all, dowsers shut. Film is out at {subject}: keep hands out until machines stand.",
              5.0, "high", off_delay_s=1.0, stopped="Film is out at {subject}: mend and thread it before the restart."),
    AlarmKind("deck-stopped", "platter", "its platter does not turn although film runs", "platter drive, payout arm or brake",
              "film pulled tight at the feed, or piled up at the take-up", "Turn the {subject} platter by hand, or stop all.",
              10.0, "high", off_delay_s=1.0),
    AlarmKind("lamp-dark", "house", "10 s after a missed strike; picture within 10 s and no lamp is high",
              "not struck, or failed to strike",
              "picture with no light on the screen", "Strike the lamp of {subject}, dowser shut.", 20.0, "medium"),
    AlarmKind("lamp-out", "house", "the lamp went out on picture", "lamp, rectifier or interlock switch",
              "a dark screen; film runs on",
              "Strike {subject} again, dowser shut; if it stays out, tell the house.", 30.0, "high", off_delay_s=1.0),
    AlarmKind("lamp-against-dowser", "house", "lit against a shut dowser for longer than its limit",
              "struck too early, dowser forgotten",
              "the dowser overheats",
              "Open the dowser of {subject} if picture is there, else put the lamp out.", 120.0, "medium"),
    AlarmKind("lamp-left-on", "house", "still lit 5 min after the last picture", "forgotten", "lamp hours, heat",
              "Put the lamp of {subject} out; leave the blower on.", 600.0, "low"),
    AlarmKind("gate-heat", "house", "lit, dowser open, film not moving", "the machine stopped with its dowser open",
              "the frame in the gate is destroyed within seconds", "Shut the dowser of {subject} now.", 2.0, "high"),
    AlarmKind("dowser-shut", "house", "picture in the gate for 1 s, and the dowser shut", "dowser forgotten or stuck",
              "no picture on the screen", "Open the dowser of {subject}.", 5.0, "high"),
    AlarmKind("dowser-open-early", "house", "open more than 10 s before picture", "opened too early", "leader on the screen",
              "Shut the dowser of {subject} until its countdown ends.", 60.0, "low", off_delay_s=1.0),
    AlarmKind("adapter-stale", "adapter", "no word for 750 ms", "cable, supply or adapter", "what it sees is not known",
              "Nothing yet; if it stays, look at adapter {subject}.", 10.0, "low"),
    AlarmKind("adapter-lost", "adapter", "no word for 2 s", "cable, supply or adapter",
              "its houses are not watched", "Watch its houses by eye; check cable and supply of adapter {subject}.", 30.0, "high",
              replaces="adapter-stale"),
    AlarmKind("adapter-restarted", "adapter", "it began anew during the show", "supply dip, lamp strike, loose plug",
              "counts were carried over the gap; a little less certain",
              "Check supply and earth of adapter {subject}.", 300.0, "low",
              off_delay_s=10.0),
    AlarmKind("blind", "link", "3 sigma of its drift is more than a quarter of the nearer limit for 3 s",
              "no counter, or one that is not heard", "drift on this link is not known well enough to warn",
              "Watch the loop {subject} by eye.", 60.0, "medium", off_delay_s=1.0),
    AlarmKind("record-failing", "desk", "readings do not reach the disk", "disk full, folder gone or read-only",
              "the show goes on; its record may end here",
              "Make room on the disk of the record, or see that its folder can be written; the desk tries again by itself.",
              600.0, "high", off_delay_s=1.0),
)  # fmt: skip

CATALOGUE: MappingProxyType[str, AlarmKind] = MappingProxyType({k.code: k for k in _KINDS})

_WAITING = frozenset({
    "gate-heat", "lamp-against-dowser", "adapter-stale", "adapter-lost", "adapter-restarted", "record-failing",
})  # fmt: skip
_ARMED = _WAITING | {"run-early"}
_STARTING = _ARMED | {
    "start-late", "run-lost", "slack-low", "slack-critical", "slack-lost", "count-lost", "lamp-dark", "lamp-out",
    "lamp-left-on", "dowser-shut", "dowser-open-early", "film-out",
}  # fmt: skip
_ALL = frozenset(CATALOGUE)

LIVE: MappingProxyType[ShowPhase, frozenset[str]] = MappingProxyType(
    {
        "waiting": _WAITING,
        "armed": _ARMED,
        "starting": _STARTING,
        "running": _ALL,
        "stopped": _WAITING | {"lamp-dark", "lamp-out", "lamp-left-on", "film-out"},
        "running-out": _ALL,
        "ended": _WAITING | {"lamp-left-on"},
    }
)
"""What can trip in which phase (contract.md)."""


def replaced_by(code: str) -> str | None:
    """The alarm that replaces this one while it is active."""
    return next((k.code for k in _KINDS if k.replaces == code), None)


def priority_in(code: str, phase: ShowPhase) -> Priority:
    """Adapter alarms are low before the show is armed."""
    if phase == "waiting" and code.startswith("adapter-"):
        return "low"
    return CATALOGUE[code].priority
