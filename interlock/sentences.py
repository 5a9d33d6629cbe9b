"""One sentence for one event: what ``attach --lines`` prints, and a rehearsal's summary is made of.

Pure: a line in, words out, None for what is no event (the once-a-second lines). Every text that was
written by somebody else has been cleaned where it came in.
"""

from __future__ import annotations

from interlock.done import ALARM_STATES, did
from interlock.watch.state import (
    AdapterLine,
    AlarmLine,
    CueLine,
    ErrorLine,
    HouseLine,
    Line,
    LinkLine,
    OperatorLine,
    ShowLine,
)

_SHOW = {
    "waiting": "the show waits to be armed",
    "armed": "armed",
    "starting": "the first motor turns: show zero",
    "running": "all machines run at speed",
    "stopped": "the show has stopped",
    "running-out": "the film runs out",
    "ended": "the show has ended",
}
_CUES = {
    "strike-lamp": "strike the lamp",
    "open-dowser": "open the dowser",
    "close-dowser": "close the dowser",
    "lamp-off": "lamp off",
    "motor-off": "motor off",
}
_ADAPTERS = {"up": "speaks", "stale": "is silent", "lost": "is lost", "restarted": "began anew"}


def sentence(line: Line) -> str | None:
    """The event in words, without its time; None for a line that is only a figure."""
    if isinstance(line, AlarmLine):
        return _alarm(line)
    if isinstance(line, OperatorLine):
        return did(line)
    if isinstance(line, ShowLine):
        return f"{line.title}: {_SHOW[line.phase]}"
    if isinstance(line, CueLine):
        cue = _CUES.get(line.cue, line.cue)
        return f"house {line.house}: {cue} ({line.state})" if line.state != "coming" else None
    if isinstance(line, HouseLine):
        return None if line.periodic else _house(line)
    if isinstance(line, LinkLine):
        return None if line.periodic else _link(line)
    if isinstance(line, AdapterLine):
        return (
            None if line.periodic else f"adapter {line.adapter} {_ADAPTERS[line.state]}{_because(line.text)}"
        )
    assert isinstance(line, ErrorLine)
    return f"not understood: {line.text}"


def timed(line: Line) -> str | None:
    """The same with the time before it: of the show where it has begun, else of the day (UTC)."""
    words = sentence(line)
    return None if words is None else f"{when(line)}  {words}"


def when(line: Line) -> str:
    """``0:12:30.4`` after show zero, or ``19:24:30Z`` before it."""
    if line.show_s is None:
        return f"{line.at[11:19]}Z"
    tenths = round(line.show_s * 10)
    seconds, tenth = divmod(abs(tenths), 10)
    minutes, second = divmod(seconds, 60)
    hour, minute = divmod(minutes, 60)
    return f"{'-' if tenths < 0 else ''}{hour}:{minute:02}:{second:02}.{tenth}"


def _alarm(line: AlarmLine) -> str:
    what = f"{line.priority} alarm {line.code} on {line.subject}"
    if line.state == "unacknowledged":
        first = " (first-out)" if line.first_out else ""
        return f"{what}{first}: {line.text}"
    return f"{what}: {ALARM_STATES[line.state]}"


def _house(line: HouseLine) -> str:
    run = {True: "turns", False: "stands", None: "turns or not, nobody knows"}[line.run]
    lamp = {True: "lamp lit", False: "lamp out", None: "lamp unknown"}[line.lamp]
    dowser = {True: "dowser open", False: "dowser shut", None: "dowser unknown"}[line.dowser]
    film = {True: "film present", False: "film absent", None: "film unknown"}[line.film]
    part = f"; {line.part}" if line.part else ""  # often all that has changed
    return f"house {line.house}: {line.phase}; {run}, {lamp}, {dowser}, {film}{', dark' if line.dark else ''}{part}"


def _link(line: LinkLine) -> str:
    if line.drift_fr is None:
        return f"link {line.link}: {line.state}, drift unknown"
    return f"link {line.link}: {line.state}, drift {line.drift_fr:+.1f} frames"


def _because(text: str) -> str:
    return f": {text}" if text else ""
