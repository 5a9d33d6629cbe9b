"""The cue sheets: one for whoever stands in a house, one for the booth lead with all of them in time order."""

from __future__ import annotations

import math

from interlock.film import format_time
from interlock.plan.cautions import running_cautions
from interlock.plan.sheets.document import Block, Cautions, Facts, Para, Sheet, Table
from interlock.plan.threading_ends import run_out
from interlock.plan.timeline import PlannedCue, house_cues
from interlock.plan.times import clock_text, clocks, local
from interlock.showfile.show import House, Link, Show

IF_IT_GOES_WRONG = (
    "If a machine stops or a loop goes tight or spills: STOP ALL, dowsers shut. By hand first the downstream neighbour "
    "and onward, then the upstream ones: tight film wrecks machines, spill only costs film."
)
_WORDS = {
    "strike-lamp": "strike the lamp, dowser shut",
    "open-dowser": "open the dowser",
    "close-dowser": "shut the dowser",
    "lamp-off": "lamp off",
}


def house_sheet(show: Show, k: int) -> Sheet:
    """The cue sheet of the house at place ``k`` in film order."""
    house, clock = show.houses[k], clocks(show)[k]
    rows = tuple(
        ("☐", clock_text(show, cue.plan_s), format_time(cue.plan_s), _gate(show, cue), what)
        for cue, what in _cues(show, k)
    )
    blocks: list[Block] = [
        Facts(
            tuple(
                (what, clock_text(show, time_s))
                for what, time_s in clock.times()
                if what in {"doors", "motor", "first picture", "feature", "last picture", "clear"}
            )
        ),
        *_dark(house),
        Table(("☐", "time", "after motor start", "in the gate", "do"), "<>>><", rows),
        _neighbours(show, k),
        Para(IF_IT_GOES_WRONG, strong=True),
        Cautions(tuple(running_cautions())),
    ]
    booth = f", booth {house.booth}" if house.booth else ""
    return Sheet(f"cues-{house.id}", f"{house.name}{booth}", show.title, _when(show), tuple(blocks))


def lead_sheet(show: Show) -> Sheet:
    """The booth lead's: every cue of every house, in the order of their times."""
    every = [(cue, what) for k in range(len(show.houses)) for cue, what in _cues(show, k)]
    every.sort(key=lambda pair: pair[0].plan_s)
    rows = tuple(("☐", clock_text(show, cue.plan_s), cue.house, what) for cue, what in every)
    times = clocks(show)
    blocks: list[Block] = [
        Facts(
            (
                ("motors", clock_text(show, 0.0)),
                ("first picture anywhere", clock_text(show, min(t.first_picture_s for t in times))),
                ("last picture anywhere", clock_text(show, max(t.last_picture_s for t in times))),
                ("all clear", clock_text(show, max(t.clear_s for t in times))),
            )
        ),
        Table(
            ("☐", "time", "house", "do"), "<><<", rows, 1 if len(rows) <= 36 else 2 if len(rows) <= 110 else 3
        ),
        Para(
            "Machines may stop in film order only: "
            + ", ".join(f"{step.house} from {clock_text(show, step.plan_s)}" for step in run_out(show))
            + ". A wired stop is bypassed before the machine upstream of it stops, not earlier.",
        ),
        Para(IF_IT_GOES_WRONG, strong=True),
        Cautions(tuple(running_cautions())),
    ]
    return Sheet("cues", "Booth lead's cues", show.title, _when(show), tuple(blocks))


def _cues(show: Show, k: int) -> list[tuple[PlannedCue, str]]:
    """The house's cues with their words; the stop says what must be bypassed before it."""
    step = run_out(show)[k]
    before = f"bypass the wired stop {step.bypass}, then " if step.bypass else ""
    words = _WORDS | {"motor-off": f"film's end is through: {before}motor off"}
    return [(cue, words.get(cue.cue, cue.cue)) for cue in house_cues(show, k)]


def _gate(show: Show, cue: PlannedCue) -> str:
    """What is in the gate, in film feet and frames from the first picture frame."""
    return show.film.format_footage(math.floor(cue.frame + 0.5))


def _dark(house: House) -> list[Para]:
    if house.lit:
        return []
    return [
        Para(
            "No picture is wanted in this house: the film runs, the lamp stays off, the dowser shut.",
            strong=True,
        )
    ]


def _neighbours(show: Show, k: int) -> Table:
    """The loops on both sides: what they give, and whether a wired stop watches them."""
    rows: list[tuple[str, ...]] = []
    if k > 0:
        rows.append(_loop(show, show.links[k - 1], "loop before this machine"))
    if k < len(show.links):
        rows.append(_loop(show, show.links[k], "loop behind this machine"))
    return Table(("", "link", "tight after", "spill after", "wired stop"), "<<>><", tuple(rows))


def _loop(show: Show, link: Link, where: str) -> tuple[str, ...]:
    return (
        where,
        link.id,
        f"{link.tight_fr / show.fps:.1f} s ({link.tight_fr:.0f} fr)",
        f"{link.spill_fr / show.fps:.1f} s ({link.spill_fr:.0f} fr)",
        "yes" if link.wired else "NONE",
    )


def _when(show: Show) -> str:
    return f"motors start {local(show, 0.0):%Y-%m-%d %H:%M:%S %z}, {show.timezone}"
