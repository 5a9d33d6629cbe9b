"""Every key, once: the bindings, the row at the foot of the screen and the help are all made from this table."""

from __future__ import annotations

from dataclasses import dataclass

from textual.binding import Binding, BindingType


@dataclass(frozen=True, slots=True)
class Key:
    """``keys``: the first is the one that is shown. ``short`` stands at the foot, ``long`` in the help.

    ``rank``: what the foot shows first where there is no room for all. ``rehearsal``: only there.
    """

    keys: str
    action: str
    short: str
    long: str
    group: str
    rank: int = 9
    rehearsal: bool = False

    @property
    def typed(self) -> str:
        """Its first key that acts even where letters are typed; empty if it has none."""
        return next((k for k in self.keys.split(",") if k[0] == "f" and k[1:].isdigit()), "")

    @property
    def shown(self) -> str:
        """The key as people read it."""
        first = self.keys.split(",")[0]
        return first.upper() if first.startswith("f") and first[1:].isdigit() else first


KEYS = (
    Key("f1", "show('help')", "help", "every key and what it does", "Screens", 0),
    Key("f2,escape", "show('board')", "board", "the board: the whole interlock", "Screens", 3),
    Key("f3", "show('house')", "house", "the picked house: loops on both sides, signals", "Screens", 3),
    Key("f4", "show('alarms')", "alarms", "all alarms, and what is known of what they are about", "Screens", 3),
    Key("f5", "show('cues')", "cues", "what is to be done, in the order of time", "Screens", 3),
    Key("f6", "show('record')", "record", "everything that happened; filter as you type", "Screens", 3),
    Key("f7", "show('faults')", "faults", "throw a fault into the rehearsal", "Screens", 4, rehearsal=True),
    Key("f8", "look", "look", "another look: dark booth, dimmer, light, poor console", "Screens", 6),
    Key("j,down", "move(1)", "next house", "pick the next house along the film; on a list its next line", "Picking", 5),
    Key("k,up", "move(-1)", "prev house", "pick the house before it; on a list the line before", "Picking", 5),
    Key("u,pagedown", "alarm(1)", "next alarm", "pick the next alarm", "Picking", 5),
    Key("i,pageup", "alarm(-1)", "prev alarm", "pick the alarm before it", "Picking", 6),
    Key("enter", "open", "open fold", "open or close the fold of the picked alarm, while a flood stands", "Alarms", 6),
    Key("a", "ack", "acknowledge", "I have seen the picked alarm, or else the worst that asks", "Alarms", 1),
    Key("s", "silence", "silence", "the bell only: nothing is acknowledged by it", "Alarms", 1),
    Key("v", "shelve", "shelve", "put the picked alarm aside for a while, or take it back", "Alarms", 4),
    Key("c", "reset", "reset", "let go of the picked alarm that is gone but held", "Alarms", 4),
    Key("g", "reset_group", "first-out reset", "let go of the first-out mark of the picked alarm's group", "Alarms", 6),
    Key("n,f9", "note", "note", "a note into the record", "Record", 2),
    Key("m", "mark", "mark", "this frame is in the gate of the picked house now: corrects position", "The film", 4),
    Key("z", "rezero", "rezero", "the loop behind the picked house was measured: its drift is that", "The film", 6),
    Key("l", "relace", "relace", "film was passed by hand through the picked, standing machine", "The film", 6),
    Key("p", "parted", "parted", "the film behind the picked house is apart", "The film", 6),
    Key("d", "dark", "dark / light", "no picture wanted in the picked house, or wanted again", "The film", 6),
    Key("r", "arm", "arm / disarm", "the motors may start from now on; again: they may not", "The show", 2),
    Key("x", "stop_all", "stop all", "say that all is being stopped: moves no machine, quietens what follows",
        "The show", 1),
    Key("t", "restart", "restart", "say that the stopped show goes on", "The show", 5),
    Key("o", "handover", "hand over", "who leads from now on", "The show", 5),
    Key("w", "who", "who I am", "your name and booth, written beside what you do", "The show", 5),
    Key("f", "throw", "throw fault", "throw the picked fault, on the list of faults", "The show", 6, rehearsal=True),
    Key("e", "speed", "speed", "seconds of show for one of life", "The show", 4, rehearsal=True),
    Key("q,f10", "leave", "quit", "leave the desk watching, or end the watch", "The show", 0),
)  # fmt: skip


WANTED: dict[str, dict[str, int]] = {
    "waiting": {"arm": 1, "stop_all": 6},
    "armed": {"arm": 2},
    "stopped": {"restart": 1, "reset": 2, "stop_all": 6, "arm": 7},
    "ended": {"stop_all": 7, "restart": 7, "arm": 7, "show('record')": 2},
}
"""Phase → action → its rank there: the foot of a narrow screen shows what is wanted now. In mid-run nobody disarms."""
RUNNING = {"arm": 7, "show('alarms')": 2}


_LOOKING = tuple(k for k in KEYS if k.group in ("Screens", "Picking") and not k.rehearsal)
_TIME = (
    Key("p,space", "play", "play", "let the recorded show run, or stand", "Time", 1),
    Key("e", "pace(-1)", "slower", "fewer seconds of show for one of life", "Time", 2),
    Key("f", "pace(1)", "faster", "more seconds of show for one of life", "Time", 2),
    Key(
        "h,left",
        "step(-1)",
        "back",
        "ten seconds back, at x10 a hundred, and so on with the speed",
        "Time",
        2,
    ),
    Key("l,right", "step(1)", "on", "ten seconds on, and so on with the speed", "Time", 2),
    Key("b", "mark(-1)", "alarm before", "to the moment at which the alarm before this one came", "Time", 1),
    Key("y", "mark(1)", "alarm after", "to the moment at which the next alarm came", "Time", 1),
    Key("t", "go", "to a time", "to a time after show zero, as 1:02:33", "Time", 3),
    Key("g,home", "go_to(0)", "beginning", "to the beginning of the record", "Time", 4),
    Key("v,end", "go_to(1)", "end", "to its end", "Time", 4),
    Key("q,f10", "leave", "quit", "leave the review", "Time", 0),
)
_TAKEN = frozenset(name for k in (*_LOOKING, *_TIME) for name in k.keys.split(","))
REVIEW_KEYS = (
    *_LOOKING,
    *_TIME,
    # What acts on a running desk does nothing here, and says so; without a group it is not shown.
    *(
        Key(",".join(free), f"refuse('{k.short}')", k.short, k.long, "")
        for k in KEYS
        if k not in _LOOKING and (free := [name for name in k.keys.split(",") if name not in _TAKEN])
    ),
)


def bindings(keys: tuple[Key, ...] = KEYS) -> list[BindingType]:
    """The table as the framework wants it."""
    return [Binding(k.keys, k.action, k.short, show=False) for k in keys]
