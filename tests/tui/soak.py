"""Four hours of sixteen houses with the real board attached: does the memory of screen and desk stay flat?

``python -m tests.tui.soak [HOURS] [SPEED]``, ``make soak``. The desk rehearses at up to sixty times the speed of life, its
record on; the screen is ``longlace attach`` on a pty of 200 × 60 that is read as a terminal reads. Both beat faster than in life,
once a second of the show: with four beats a second of life the screen's twenty minutes of history would take the whole
soak to fill, and look like a leak. What the screen has not worked off is memory as well, so the speed goes down while it
is behind (a busy computer). Every ten minutes of the show something goes wrong, so that alarms come and go.

Exit code 1 if either grows by 1 MB or more for an hour of the show after the first ten minutes, or the desk takes 100 MB.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchmarks._pty_desk import OnTerminal, RehearsedDesk, drain, now, show_text
from interlock.watch.state import State

HOUSES = 16
HOURS, SPEED = 4.0, 60.0
EVERY_S = 3.0
"""Seconds of life from one look at the memory to the next."""
LONGEST_S = 540.0
BEHIND_BYTES = 200_000
"""A screen that has more to work off is behind: ten states."""
WARM_S = 600.0
GROWTH_MB_H, DESK_MB = 1.0, 100.0


@dataclass
class Memory:
    """One process over the show. ``own_mb``: memory of its own (anonymous); ``all_mb``: with what it shares of files."""

    name: str
    pid: int
    show_s: list[float]
    own_mb: list[float]
    all_mb: list[float]

    def look(self, show_s: float) -> None:
        """One sample more."""
        status = Path(f"/proc/{self.pid}/status").read_text(encoding="utf-8")
        found = {key: value for key, _, value in (line.partition(":") for line in status.splitlines())}
        self.show_s.append(show_s)
        self.own_mb.append(int(found["RssAnon"].split()[0]) / 1024.0)
        self.all_mb.append(int(found["VmRSS"].split()[0]) / 1024.0)

    def growth_mb_h(self, from_s: float = WARM_S) -> float:
        """Megabytes for an hour of the show, by least squares over the samples from then on."""
        points = [(s / 3600.0, mb) for s, mb in zip(self.show_s, self.own_mb, strict=True) if s >= from_s]
        hours, mb = zip(*points, strict=True)
        return float(np.polyfit(hours, mb, 1)[0])


def scenario(hours: float) -> str:
    """Something every ten minutes."""
    kinds = (
        'kind = "lamp-out"\nhouse = "{house}"\nfor = "20 s"',
        'kind = "silence"\nadapter = "booth{booth}"\nfor = "4 s"',
        'kind = "creep"\nhouse = "{house}"\nby = "+0.2 %"\nfor = "2 min"',
    )
    text = ['title = "A long evening"']
    for n, at_s in enumerate(range(480, int(hours * 3600) - 600, 600)):
        fault = kinds[n % len(kinds)].format(house=1 + 5 * n % HOUSES, booth=1 + n % 2)
        text.append(f'[[fault]]\nat = "{at_s // 3600}:{at_s // 60 % 60:02}:{at_s % 60:02}"\n{fault}')
    return "\n".join(text) + "\n"


def soak(hours: float = HOURS, speed: float = SPEED) -> tuple[Memory, Memory, float]:
    """(the desk, the screen, the most megabytes that the screen had not worked off yet). ``speed``: at most.

    On a busy computer it ends after :data:`LONGEST_S`, with fewer hours. ``AssertionError`` if the screen stops painting or
    is cut off.
    """
    with tempfile.TemporaryDirectory() as name:
        folder, here, end_s = Path(name), ("-m", "tests.tui.soak_beats"), now() + LONGEST_S
        told = folder / "behind"
        told.write_text("0", encoding="utf-8")
        with (
            RehearsedDesk(
                folder,
                show_text(HOUSES, hours * 3600.0),
                speed=speed / 4.0,
                scenario=scenario(hours),
                program=(*here, "desk", str(speed)),
            ) as desk,
            OnTerminal([*here, "screen", str(speed), str(desk.show), str(told)], desk.env) as screen,
        ):
            both = (
                Memory("desk", desk.process.pid, [], [], []),
                Memory("screen", screen.process.pid, [], [], []),
            )
            drain([screen], 5.0)
            most, pace, show_s = (
                0,
                speed / 4.0,
                [0.0],
            )  # it begins gently: what falls behind at first is memory taken for good

            def newest(state: State) -> bool:
                show_s[0] = state.plan_s or 0.0
                return True

            while show_s[0] < hours * 3600.0 and now() < end_s:
                behind = int(told.read_text(encoding="utf-8"))
                most = max(most, behind)
                pace = max(1.0, pace * 0.7) if behind > BEHIND_BYTES else min(speed, pace * 1.15)
                desk.until(newest, action="speed", x=pace)
                for memory in both:
                    memory.look(show_s[0])
                drained = screen.drained
                drain([screen], EVERY_S)
                if screen.drained == drained:
                    raise AssertionError(f"the screen paints nothing: {screen.last[-400:]!r}")
        log = (folder / "desk.log").read_text(encoding="utf-8")
        if "cut off" in log:
            raise AssertionError(f"the screen did not keep up: {log[-500:]}")
    return *both, most / 1e6


def main() -> int:
    given = [float(text) for text in sys.argv[1:3]]
    hours, speed = given + [HOURS, SPEED][len(given) :]
    desk, screen, behind_mb = soak(hours, speed)
    print(
        f"{hours:g} hours of {HOUSES} houses at up to {speed:g} times life; "
        f"the screen was at most {behind_mb:.2f} MB behind"
    )
    print(f"{'show':>8} {'desk MB':>9} {'screen MB':>10}")
    for n in range(0, len(desk.show_s), max(1, len(desk.show_s) // 24)):
        print(f"{desk.show_s[n] / 60:5.0f} min {desk.own_mb[n]:9.2f} {screen.own_mb[n]:10.2f}")
    bad = desk.show_s[-1] < (hours - 0.1) * 3600.0
    if bad:
        print(f"a busy computer: only {desk.show_s[-1] / 3600.0:.1f} hours in {LONGEST_S:.0f} s")
    for memory in (desk, screen):
        growth, most = memory.growth_mb_h(), max(memory.all_mb)
        limit = DESK_MB if memory is desk else float("inf")
        print(
            f"{memory.name:7} {growth:+.2f} MB an hour after the first ten minutes (under {GROWTH_MB_H:g}); at most "
            f"{most:.0f} MB in all{f' (under {limit:g})' if memory is desk else ''}"
        )
        bad = bad or growth >= GROWTH_MB_H or most >= limit
    return int(bad)


if __name__ == "__main__":
    sys.exit(main())
