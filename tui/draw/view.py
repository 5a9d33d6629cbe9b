"""What a drawing function gets: the frozen state, the layout, and what this screen itself knows."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import msgspec

from interlock.done import alarm_words
from interlock.watch.state import AlarmLine, CueLine, HouseLine, Layout, LinkLine, State
from tui.look.glyphs import FULL, Glyphs
from tui.look.palette import StyleName

_URGENCY: dict[str, int] = {"high": 0, "medium": 1, "low": 2}
AlarmKey = tuple[str, str]
"""(code, subject)"""
ASKING = frozenset({"unacknowledged", "returned-unacknowledged", "latched-unacknowledged"})
GONE = "returned-unacknowledged"
"""It was so, is so no longer, and nothing holds it: it asks only to be seen, and what it said to do need not be done."""
ASIDE = frozenset({"shelved", "suppressed", "out-of-service", "normal"})


@dataclass(frozen=True, slots=True)
class View:
    """``house``: index of the picked house. ``lost_s``: for how long the desk has not been heard, None while it is.

    ``hollow``: the half second in which glyphs that ask are drawn hollow. ``age_s``: of the newest reading.
    """

    layout: Layout
    state: State
    g: Glyphs = FULL
    house: int = 0
    alarm: AlarmKey | None = None
    opened: frozenset[str] = frozenset()
    """The folds that somebody has opened while a flood stands."""
    hollow: bool = False
    lost_s: float | None = None
    why: str = ""
    ended: bool = False
    """It is lost because it was ended, in order: there is nothing to come back to."""
    disarmed: bool = False
    """Somebody has disarmed the desk: it does not arm itself any more."""
    age_s: float | None = None
    by: str = ""
    booth: str = ""
    keys: bool = True
    """Keys act here: a page in a browser only looks on."""
    review: bool = False
    """It is no show that runs, but a moment of a recorded one; ``why`` says why nothing is known of it."""
    worst: dict[str, AlarmLine] = field(default_factory=dict)
    """The worst alarm of each subject that is not put aside."""
    next_cue: dict[str, CueLine] = field(default_factory=dict)
    """What comes next in each house."""

    def house_alarm(self, house: str) -> AlarmLine | None:
        """The worst alarm on this house."""
        return self.worst.get(house)

    def loop_alarm(self, link: str) -> AlarmLine | None:
        """The worst alarm that stands on this loop: how it hangs now is no matter of what is gone."""
        a = self.worst.get(link)
        return None if a is None or a.state == GONE else a

    def loop_after(self, k: int) -> LinkLine | None:
        """The link from house ``k`` (film order) to the next; None behind the last."""
        return self.state.links[k] if k < len(self.state.links) else None


def make_view(layout: Layout, state: State, **own: object) -> View:
    """The view of a state; of a lost desk nothing is shown as known."""
    view = replace(View(layout, state), **own)  # type: ignore[arg-type]
    if view.lost_s is not None:
        state = not_known(state)
    worst: dict[str, AlarmLine] = {}
    for a in (
        state.alarms if view.lost_s is None else ()
    ):  # of a lost desk the list says what was last known, no tile
        if a.state not in ASIDE and (a.subject not in worst or need(a) < need(worst[a.subject])):
            worst[a.subject] = a
    next_cue: dict[str, CueLine] = {}
    for c in state.cues:
        if c.state in ("coming", "due") and c.house not in next_cue:
            next_cue[c.house] = c
    return replace(view, state=state, worst=worst, next_cue=next_cue)


def not_known(state: State) -> State:
    """The state with every value that may no longer hold taken out of it."""
    return msgspec.structs.replace(
        state,
        houses=tuple(_house(h) for h in state.houses),
        links=tuple(_link(link) for link in state.links),
        cues=(),
        age_s=None,
    )


def _house(h: HouseLine) -> HouseLine:
    return msgspec.structs.replace(
        h,
        run=None, lamp=None, dowser=None, film=None, frame=None, expected_frame=None, sigma_fr=None, speed_fps=None,
        part=None,
    )  # fmt: skip


def _link(link: LinkLine) -> LinkLine:
    return msgspec.structs.replace(
        link,
        drift_fr=None, sigma_fr=None, toward=None, used=None, left_fr=None, rate_fps=None, to_limit_s=None,
    )  # fmt: skip


def need(a: AlarmLine) -> tuple[bool, bool, int]:
    """Sorts alarms by how somebody is needed: what stands before what is gone and asks only to be seen, then by priority."""
    return (a.state in ASIDE, a.state == GONE, _URGENCY[a.priority])


def key_of(a: AlarmLine) -> AlarmKey:
    """What names an alarm."""
    return (a.code, a.subject)


def glyph_of(a: AlarmLine, view: View) -> str:
    """The glyph of its priority; hollow in turn while nobody has acknowledged it."""
    g = view.g
    if a.state in ASKING and view.hollow:
        return g.hollow
    return {"high": g.high, "medium": g.medium, "low": g.low}[a.priority]


def told_on_house(a: AlarmLine) -> str:
    """An alarm on its house: ``lamp out``, ``lamp out, gone``, so that nobody reads it as how the house stands now."""
    return alarm_words(a.code) + ("" if a.active or a.state in ASIDE else ", gone")


def style_of(a: AlarmLine) -> StyleName:
    """Filled while it stands and asks, a coloured mark once somebody has taken it or it is gone, grey when put aside."""
    if a.state in ASIDE:
        return "dim"
    return a.priority if a.state in ASKING and a.state != GONE else mark_of(a)


def mark_of(a: AlarmLine) -> StyleName:
    """The mark in the colour of its priority."""
    marks: dict[str, StyleName] = {"high": "high-mark", "medium": "medium-mark", "low": "low-mark"}
    return marks[a.priority]


def alarm_title(layout: Layout, a: AlarmLine) -> tuple[str, str]:
    """What and where: (``run lost``, ``house 3``), (``adapter lost``, ``north``), (``record failing``, ``""``)."""
    words = alarm_words(a.code)
    if a.code.startswith("adapter"):
        return words, a.subject
    return words, "" if a.subject == "desk" else subject_words(layout, a.subject)


def subject_words(layout: Layout, subject: str) -> str:
    """What an alarm is on, said: ``house 3``, ``loop 4>3``, ``adapter north``."""
    if any(h.house == subject for h in layout.houses):
        return f"house {subject}"
    if any(link.link == subject for link in layout.links):
        return f"loop {subject}"
    if subject in ("feed", "take-up"):
        return f"{subject} platter"
    return subject if subject == "desk" else f"adapter {subject}"
