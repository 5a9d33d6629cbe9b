"""Every screen at three sizes in every moment of the invented show, as pictures of what the running program shows.

    python tests/tui/snapshot_cases.py       writes tests/tui/snapshots anew, and build/snapshots.html to look at

The page shows first what has changed, before and after, and then all the rest.
"""

from __future__ import annotations

import asyncio
import math
import os
import sys
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from pathlib import Path

import msgspec
from rich.segment import Segment
from rich.style import Style
from screen_running import FAULTS, Hands, Running
from textual.widgets import Input

from interlock.watch.state import (
    AlarmLine,
    CueLine,
    Farewell,
    Happened,
    Hello,
    Layout,
    Line,
    OperatorLine,
    ShowLine,
    State,
)
from tui.app import LonglaceApp
from tui.draw.words import seconds_between
from tui.example.moments import MOMENTS
from tui.example.show import layout, rfc3339
from tui.example.source import Scripted
from tui.look.glyphs import ASCII, FULL
from tui.look.palette import Ink
from tui.look.svg import draw_svg
from tui.recording import AlarmMark, Moment
from tui.review import ReviewApp

SNAPSHOTS = Path(__file__).parent / "snapshots"
KEYS = {
    "board": "f2",
    "house": "f3",
    "alarms": "f4",
    "cues": "f5",
    "record": "f6",
    "faults": "f7",
    "help": "f1",
}


@dataclass(frozen=True)
class Case:
    """One program running at one size in one moment. ``desk-lost`` is a moment too: the desk says farewell in the middle."""

    width: int
    height: int
    houses: int
    moment: str
    look: str = "booth"
    screens: tuple[str, ...] = tuple(KEYS)
    ascii: bool = False
    no_color: bool = False

    @property
    def name(self) -> str:
        """As in the names of its files."""
        own = [
            x
            for x, there in (
                (self.look, self.look != "booth"),
                ("ascii", self.ascii),
                ("no-color", self.no_color),
            )
            if there
        ]
        return "-".join([f"{self.width}x{self.height}", str(self.houses), self.moment, *own])

    @property
    def drawn(self) -> tuple[str, ...]:
        """Its screens, the list of faults in rehearsals only."""
        return tuple(s for s in self.screens if s != "faults" or self.rehearsal)

    @property
    def rehearsal(self) -> bool:
        """The list of faults is there in rehearsals only."""
        return self.moment in ("start", "flood", "power-dip")


ALL_MOMENTS = (*MOMENTS, "desk-lost")
CASES = (
    *(Case(w, h, n, m) for w, h, n in ((80, 24, 16), (120, 30, 6), (240, 60, 16)) for m in ALL_MOMENTS),
    *(Case(200, 60, 16, m, screens=("board",)) for m in ("well", "flood")),
    Case(80, 24, 2, "start", screens=("board",)),
    Case(80, 24, 64, "flood", screens=("board",)),
    Case(240, 60, 64, "one-alarm", screens=("board",)),
    *(Case(120, 30, 6, "flood", look=look, screens=("board", "alarms", "record", "ask")) for look in ("light", "dimmer")),
    Case(80, 24, 16, "one-alarm", screens=("ask",)),
    Case(120, 30, 6, "one-alarm", look="poor", ascii=True, screens=("record", "ask")),
    *(Case(w, h, n, "flood", look="poor", ascii=True, screens=("board", "house"))
      for w, h, n in ((80, 24, 16), (120, 30, 6))),
    Case(120, 30, 6, "adapter-lost", look="poor", ascii=True, screens=("board",)),
    Case(80, 24, 16, "flood", no_color=True, screens=("board", "alarms")),
    *(Case(w, h, n, m, screens=("review",)) for w, h, n in ((80, 24, 16), (120, 30, 6), (240, 60, 16)) for m in MOMENTS),
)  # fmt: skip


def history(lay: Layout, state: State) -> list[Line]:
    """What had happened until then, for the record's screen: the start, who leads, cues done, alarms, a note."""
    now_s = state.show_s if state.show_s is not None else -1.0
    n = iter(range(1, 1000))

    def show(phase: str, t_s: float) -> ShowLine:
        return ShowLine(
            seq=next(n), at=rfc3339(t_s), show_s=t_s if t_s >= 0 else None, phase=phase, title=lay.title
        )  # type: ignore[arg-type]

    def said(action: str, t_s: float, **keys: str | float) -> OperatorLine:
        return OperatorLine(seq=next(n), at=rfc3339(t_s), show_s=t_s if t_s >= 0 else None, action=action, keys=keys,
                            by="A. Blyth", booth="north")  # fmt: skip

    first, last = lay.houses[0].house, lay.houses[-1].house
    lines: list[Line] = [show("waiting", -600.0), said("handover", -540.0), show("armed", -30.0), show("starting", 0.0),
        said("note", 2.0, text="loop of the second house threaded a hand fuller than the sheet says"), show("running", 4.2),
        *(CueLine(seq=next(n), at=rfc3339(t_s), show_s=t_s, house=h, cue=c, due_s=t_s, state="done")  # type: ignore[arg-type]
          for t_s, h, c in ((12.1, first, "strike-lamp"), (40.0, first, "open-dowser"), (161.4, last, "strike-lamp"))),
        said("mark", 170.0, house=last, frame=0.0)]  # fmt: skip
    lines = [line for line in lines if line.show_s is None or line.show_s <= now_s]
    alarms = sorted(state.alarms, key=lambda a: a.since_at or "")
    return [
        *lines,
        *(msgspec.structs.replace(a, at=a.since_at or a.at, show_s=_since_s(a, state)) for a in alarms),
    ]


def _since_s(a: AlarmLine, state: State) -> float | None:
    ago_s = seconds_between(a.since_at, state.at)
    return None if state.show_s is None or ago_s is None else state.show_s - ago_s


def drifts(
    lay: Layout, state: State
) -> Iterator[tuple[str, deque[tuple[float, float | None, float | None]]]]:
    """The last ten minutes of every loop, up to where it is now; for half a minute nothing was known."""
    end_s = state.show_s
    if end_s is None:
        return
    for n, link in enumerate(state.links):
        points: deque[tuple[float, float | None, float | None]] = deque()
        for t_s in range(max(0, math.ceil(end_s) - 600), math.ceil(end_s)):
            back_s = end_s - t_s
            known = not (370 < back_s <= 400) and link.drift_fr is not None
            now_fr = (link.drift_fr or 0.0) * math.exp(-back_s / 60)
            drift = now_fr + 9 * math.sin(back_s / 95.0 + n) * (1 - math.exp(-back_s / 60))
            points.append((float(t_s), drift if known else None, 0.4 + back_s / 300 if known else None))
        yield lay.links[n].link, points


class Kept:
    """A record of one moment, for the review."""

    remark = ""
    length_s, zero_s = 6900.0, 1200.0

    def __init__(self, lay: Layout, state: State) -> None:
        self.layout = lay
        self._moment = Moment(
            msgspec.structs.replace(state, age_s=None), tuple(history(lay, state)), dict(drifts(lay, state))
        )
        self.t_s = self.zero_s + (state.show_s if state.show_s is not None else state.plan_s or 0.0)
        self.alarms = [
            AlarmMark(t, p, "slack-low", "4>3")
            for t, p in ((1300.0, "low"), (2705.0, "high"), (4100.0, "medium"))
        ]

    def at(self, t_s: float) -> Moment:
        """Always the same."""
        return self._moment


async def pictures(case: Case) -> dict[str, str]:
    """Name of the file: the picture, for every screen of the case; ``ask``: the panel that asks, over the board."""
    lay = layout(case.houses, rehearsal=case.rehearsal)
    lost = case.moment == "desk-lost"
    state = MOMENTS["well" if lost else case.moment](lay)
    clock, glyphs = Hands(), ASCII if case.ascii else FULL
    source = Scripted(Hello(lay, state), *(Happened(line) for line in history(lay, state)))
    kept = Kept(lay, state) if "review" in case.screens else None
    environ = dict(os.environ)
    os.environ.pop("NO_COLOR", None)
    if case.no_color:
        os.environ["NO_COLOR"] = "1"
    try:
        app = (
            LonglaceApp(source, clock=clock, by="A. Blyth", booth="north", faults=FAULTS if case.houses == 2 else (),
                        glyphs=glyphs, look=case.look)
            if kept is None
            else ReviewApp(kept, clock=clock, glyphs=glyphs, look=case.look)
        )  # fmt: skip
        async with app.run_test(size=(case.width, case.height)) as pilot:
            run = Running(app, source, clock, pilot)  # type: ignore[arg-type]
            for box in app.query(Input):
                box.cursor_blink = False  # it blinks by a real clock
            await run.settle()
            if isinstance(app, ReviewApp) and kept is not None:
                app.jump(kept.t_s)
            else:
                app.model.drifts.update(drifts(lay, state))
            app.house = case.houses - 1 if case.moment == "adapter-lost" else 1  # one whose adapter it is
            clock.now += 0.25
            if lost:
                source.put(Farewell("the connection is broken"))
                await run.settle()
                clock.now += 12.0
            made = {}
            for screen in case.drawn:
                await run.press(KEYS.get(screen, "f2"), *(["o"] if screen == "ask" else []))
                # Not when the framework comes round to it: a picture must not depend on how quick this computer is.
                app.screen._refresh_layout()
                app.tick()
                made[f"{screen}-{case.name}.svg"] = picture(app, f"Longlace, {screen}: {case.name}")
            return made
    finally:
        os.environ.clear()
        os.environ.update(environ)


def picture(app: LonglaceApp, title: str) -> str:
    """What is on the screen of a running program."""
    ground = app.palette.ground
    # Reaches into the framework: what its compositor would send to the terminal.
    rows = [
        [(s.text, _ink(s.style or Style(), ground)) for s in Segment.simplify(strip)]
        for strip in app.screen._compositor.render_strips()
    ]
    return draw_svg(rows, ground, title)


def _ink(style: Style, ground: str) -> Ink:
    def colour(c: object, default: str) -> str:
        triplet = getattr(c, "triplet", None)
        return default if triplet is None else str(triplet.hex)

    return Ink(
        colour(style.color, "#ffffff"), colour(style.bgcolor, ground).upper() if style.bgcolor else ground,
        bold=bool(style.bold), reverse=bool(style.reverse), underline=bool(style.underline),
    )  # fmt: skip


def main() -> int:
    """Write every picture anew; say which have changed, and make a page of them."""
    SNAPSHOTS.mkdir(exist_ok=True)
    before = {p.name: p.read_text(encoding="utf-8") for p in SNAPSHOTS.glob("*.svg")}
    now: dict[str, str] = {}
    for case in CASES:
        now.update(asyncio.run(pictures(case)))
    for name in before.keys() - now.keys():
        (SNAPSHOTS / name).unlink()
    for name, text in now.items():
        (SNAPSHOTS / name).write_text(text, encoding="utf-8")
    changed = [name for name in now if before.get(name) != now[name]]
    page = Path("build") / "snapshots.html"
    page.parent.mkdir(exist_ok=True)
    page.write_text(_page(before, now, changed), encoding="utf-8")
    for name in changed:
        sys.stdout.write(f"{'changed' if name in before else 'new'}: {name}\n")
    sys.stdout.write(f"{len(now)} pictures, {len(changed)} changed; to look at: {page}\n")
    return 0


def _page(before: dict[str, str], now: dict[str, str], changed: list[str]) -> str:
    out = [
        "<!doctype html><meta charset=utf-8><title>Snapshots</title><body style='background:#555;font-family:sans-serif'>"
    ]
    for name in [*changed, *(n for n in sorted(now) if n not in changed)]:
        out.append(f"<h3>{escape(name)}{' (changed: before, after)' if name in changed else ''}</h3>")
        out += [before.get(name, "") if name in changed else "", now[name]]
    return "\n".join(out)


if __name__ == "__main__":
    sys.exit(main())
