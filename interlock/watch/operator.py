"""What people say and do, folded. Whatever is refused changes nothing and is said with the reason."""

from __future__ import annotations

import math
from collections.abc import Callable

import msgspec

from interlock.watch.house import HouseWatch
from interlock.watch.inputs import Action
from interlock.watch.marks import Marks
from interlock.watch.operator_alarms import ack, reset, shelve, unshelve
from interlock.watch.phases import arm, disarm, plan_arming, restart, stop_all
from interlock.watch.say import operator_line
from interlock.watch.world import World

MARK_SIGMA_S = 0.5
"""1-sigma of a person's key on a picture that is seen in the gate."""


def operate(w: World, a: Action) -> None:
    """Fold one operator action, and say it."""
    # The action comes first and then what it brought about, but it is said with what became of it:
    # so its number is taken before, and its line made after.
    place, seq = len(w.lines), w.seq
    w.seq += 1
    act = _ACTIONS.get(a.action)
    refused = f"there is no action {a.action!r}" if act is None else act(w, a)
    keys = {k: v for k, v in msgspec.structs.asdict(a).items() if v is not None and k not in _OWN}
    if not a.until_clear:
        del keys["until_clear"]
    w.lines.insert(place, operator_line(w, seq, a.action, keys, a.by, a.booth, refused))


_OWN = frozenset({"at_s", "action", "by", "booth"})


def _silence(w: World, _: Action) -> str | None:
    w.silenced = True
    return None


def _note(_: World, a: Action) -> str | None:
    return None if a.text else "a note needs text"


def _house(w: World, a: Action) -> HouseWatch | str:
    k = w.house_index.get(a.house or "")
    return w.houses[k] if k is not None else f"there is no house {a.house!r}"


def _mark(w: World, a: Action) -> str | None:
    h = _house(w, a)
    if isinstance(h, str):
        return h
    if h.phase == "clear":
        return f"house {h.id} is clear: no picture can be in its gate"
    frame = a.frame or 0.0
    if not -h.first_picture_at_fr <= frame <= w.show.length_fr:
        # One digit too many would have the house run out, and its loops released.
        least = math.ceil(-h.first_picture_at_fr)
        return f"found frame {frame:.10g}, but in house {h.id} there can be {least} to {w.show.length_fr}"
    if not h.mark(w.t_s, frame, MARK_SIGMA_S * w.show.fps):
        return f"where house {h.id} is cannot be known now: nothing to correct"
    # One splice, marked in two neighbouring gates, measures what lies between them.
    for i in (h.index, h.index - 1):
        if 0 <= i < len(w.loops):
            loop = w.loops[i]
            loop.marks = loop.marks or Marks()
            (loop.marks.upstream if i == h.index else loop.marks.downstream)(w.t_s, frame, loop)
    return None


def _relace(w: World, a: Action) -> str | None:
    h = _house(w, a)
    if isinstance(h, str):
        return h
    if a.n_fr is None:
        return "relace needs n_fr"
    if h.machine.turning is True:
        return f"house {h.id} is turning: relace only a standing machine"
    if not h.machine.tracking:
        return "not armed: what is passed by hand before arming is threading"
    h.machine.carry(a.n_fr)
    return None


def _rezero(w: World, a: Action) -> str | None:
    i = w.link_index.get(a.link or "")
    if i is None:
        return f"there is no link {a.link!r}"
    loop = w.loops[i]
    if loop.phase == "released":
        return f"link {a.link} is released: nothing is judged there any more"
    if loop.phase == "parted":
        loop.phase = "running" if loop.up.ran or loop.down.ran else "threaded"
    if not loop.rezero(w.t_s, a.drift_fr or 0.0):
        return f"where the machines of {a.link} are cannot be known now"
    return None


def _parted(w: World, a: Action) -> str | None:
    i = w.link_index.get(a.link or "")
    if i is None:
        return f"there is no link {a.link!r}"
    if not w.loops[i].judged:
        return f"link {a.link} is {w.loops[i].phase} already"
    w.loops[i].phase = "parted"
    return None


def _dark(w: World, a: Action) -> str | None:
    h = _house(w, a)
    if isinstance(h, str):
        return h
    dark = a.action == "dark"
    if h.dark == dark:
        return f"house {h.id} is {a.action} already"
    h.dark = dark
    return None


def _arm(w: World, _: Action) -> str | None:
    if w.phase != "waiting":
        return f"the show is {w.phase}: it can be armed only while it waits"
    arm(w)
    return None


def _disarm(w: World, _: Action) -> str | None:
    if w.phase == "waiting" and w.auto_arm:
        w.auto_arm = False
        plan_arming(w)
        return None
    # A motor that was jogged on an armed desk was no start. Once there was picture, what was counted is the show's own.
    no_start = w.phase == "stopped" and all(h.phase in ("threaded", "leader") for h in w.houses)
    if w.phase not in ("armed", "starting") and not no_start:
        return f"the show is {w.phase}: there is nothing to disarm"
    disarm(w)
    return None


def _stop_all(w: World, _: Action) -> str | None:
    if w.phase not in ("starting", "running", "running-out"):
        return f"the show is {w.phase}: nothing runs"
    stop_all(w)
    return None


def _restart(w: World, _: Action) -> str | None:
    if w.phase != "stopped":
        return f"the show is {w.phase}: restart is for a show that has stopped"
    restart(w)
    return None


def _handover(w: World, a: Action) -> str | None:
    if not a.by:
        return "handover needs by: who leads from now on"
    w.leads, w.booth = a.by, a.booth
    return None


def _rehearsal(w: World, a: Action) -> str | None:
    if not w.rehearsal:
        return f"{a.action} is for rehearsals only"
    if a.action == "speed":
        if a.x is None or a.x <= 0.0:
            return "speed needs x, above 0"
        w.speed = a.x
    return None


_ACTIONS: dict[str, Callable[[World, Action], str | None]] = {
    "ack": ack,
    "reset": reset,
    "shelve": shelve,
    "unshelve": unshelve,
    "silence": _silence,
    "note": _note,
    "mark": _mark,
    "relace": _relace,
    "rezero": _rezero,
    "parted": _parted,
    "dark": _dark,
    "light": _dark,
    "arm": _arm,
    "disarm": _disarm,
    "stop-all": _stop_all,
    "restart": _restart,
    "handover": _handover,
    "speed": _rehearsal,
    "fault": _rehearsal,
}
