"""Bugs planted in the desk and on the way to it, each of which the campaign must find: ``python -m tests.campaign.mutants``.

Every mutant is one changed line in a copy of the tree. The campaign runs on the copy until a seed finds something;
the seed is printed. A mutant that lives is a hole in the oracle, and makes the exit code 1.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from rich.progress import track

from tests.campaign.mutants_light import LIGHT_MUTANTS
from tests.campaign.mutants_speed import SPEED_MUTANTS

TREE = Path(__file__).parents[2]
WATCH = "interlock/watch/"
WRAPS = "51"
"""A seed with few houses whose ticks and counts both wrap: where the whole begins to look."""

# (what is wrong, file of the desk or path from the tree's root, the line's text, what it becomes)
# ruff: noqa: E501 - a planted line stands beside the one that it replaces
MUTANTS: tuple[tuple[str, str, str, str], ...] = (
    ("drift has the wrong sign", "loop.py", "return u[0] - d[0], var, u[1] - d[1]", "return d[0] - u[0], var, d[1] - u[1]"),
    ("the rate has the wrong sign", "loop.py", "return u[0] - d[0], var, u[1] - d[1]", "return u[0] - d[0], var, d[1] - u[1]"),
    ("tight and spill are exchanged", "loop.py",
     "return self.link.tight_fr if drift_fr < 0.0 else self.link.spill_fr", "return self.link.spill_fr if drift_fr < 0.0 else self.link.tight_fr"),
    ("slack-lost is never judged", "world.py", '("slack-lost", 1.0)', '("slack-lost", 1e9)'),
    ("slack-lost trips a tenth too late", "world.py", '("slack-lost", 1.0)', '("slack-lost", 1.1)'),
    ("slack-low trips at a third", "world.py", '("slack-low", show.alarms.slack_low)', '("slack-low", 0.33)'),
    ("a threshold waits for the next second", "judge_link.py", "w.due(RANK_LINK, i, again_s)", "w.due(RANK_LINK, i, None)"),
    ("the ramp costs nothing", "profile.py", "self.x1 = x0 + 0.5 * (v0 + v1) * change_s", "self.x1 = x0 + v1 * change_s"),
    ("a start is taken a quarter of a second late", "machine.py", "self.motion.edge(t_s, turning, sigma_s)", "self.motion.edge(t_s + 0.25 * turning, turning, sigma_s)"),
    ("a pulse is dated when it is heard", "counted.py", "self.motion.pulse(pulse_s, frames - c.base_fr)", "self.motion.pulse(fact_s, frames - c.base_fr)"),
    ("one frame is lost with each base", "machine.py", "self.counter.base_fr = self.counter.last_fr", "self.counter.base_fr = self.counter.last_fr + 4.0 * (self.counter.last_fr > 0.0)"),
    ("a restart's counts are taken as they come", "counted.py", "c.base_fr = frames - x", "c.base_fr = 0.0"),
    ("a restart is carried a third of a second too far", "counted.py", "x, _, var = self.motion.at(pulse_s)", "x, _, var = self.motion.at(pulse_s + 0.3)"),
    ("a silent adapter's last word goes on holding", "presence.py", "signal.known = False", "signal.known = True"),
    ("a silent adapter's counts go on holding", "machine.py", "        self.counter.known = False\n        self.motion.uncounted()", "        self.motion.uncounted()"),
    ("a contact's change is dated when it is heard, a second late", "readings.py", "    return r.fact_s, 0.0", "    return r.at_s + 1.0, 0.0"),
    ("an adapter is stale after seven seconds only", "presence.py", "STALE_S = 0.75", "STALE_S = 7.5"),
    ("a stop is judged only while film has not come", "judge_house.py", "stopped = run is False and m.ran and film_to_run(w, h, frame)", "stopped = run is False and m.ran and h.phase == 'leader'"),
    ("a house that never turned has stopped", "judge_house.py", "stopped = run is False and m.ran and film_to_run(w, h, frame)", "stopped = run is False and w.zero_s is not None"),
    ("a late start is not looked for", "judge_house.py", 'judge(w, "start-late", h.id, condition=True', 'judge(w, "start-late", h.id, condition=None'),
    ("a cleared alarm is never said", "raising.py", "    a.clear()\n", "    a.clear()\n    a.latched = True\n"),
    ("a second stop after the show has stopped is not dated", "judge_house.py", "crossed_s=m.stop_s,", "crossed_s=m.start_s,"),
    ("a link is released one house too early", "judge_link.py", 'if w.houses[i].phase == "clear":', 'if w.houses[i].phase in ("tail", "clear"):'),
    ("an arm is read about its middle", "loop.py", "0.5 * (position + 1.0) * self.span_fr - self.link.tight_fr", "position * self.link.spill_fr"),
    ("sigma is a tenth of what it is", "say.py", "sigma_fr=None if d is None else math.sqrt(d.var),", "sigma_fr=None if d is None else 0.1 * math.sqrt(d.var),"),
    # What only the whole can find: these are run with --whole.
    ("a counter's wrap is one off", "drivers/serial_counts.py", "(raw - counter.raw) & TICK_MASK", "(raw - counter.raw) % TICK_MASK"),
    ("a counter that wraps is taken as one that restarts", "drivers/serial_counts.py", "signed_ms(raw, counter.raw) < 0", "raw < counter.raw"),
    ("ticks that wrap go back", "drivers/ticks.py", "    return (later - earlier + (TICK_MODULUS >> 1)) % TICK_MODULUS - (TICK_MODULUS >> 1)", "    return later - earlier"),
    ("a pulse is dated by its line", "drivers/serial_counts.py", "        return min(at_s, ticks.to_s(pulse_tick))", "        return min(at_s, ticks.to_s(tick))"),
    ("what a piece of bytes leaves over is forgotten", "drivers/wire_parser.py", "        self._tail = tail\n", '        self._tail = b""\n'),
    ("of several that wait together the record lacks one", "interlock/service/folding.py", "        if self._journal is not None:\n", "        if self._journal is not None and (lines or self.folded % 97):\n"),
    ("a mailbox gives its first thing twice, now and then", "interlock/bus/mailbox.py", "        items = list(self._items)\n", "        items = list(self._items) + list(self._items)[:1] * (len(self._items) > 3)\n"),
    *LIGHT_MUTANTS,
    *SPEED_MUTANTS,
)  # fmt: skip


def hunt(number: int, most: int) -> tuple[int, str]:
    """The words of what the campaign finds in mutant ``number``; empty if it lives."""
    _, name, old, new = MUTANTS[number]
    with tempfile.TemporaryDirectory() as folder:
        for part in ("interlock", "drivers", "configs", "tests/campaign"):
            shutil.copytree(TREE / part, Path(folder) / part, ignore=shutil.ignore_patterns("__pycache__"))
        whole = "/" in name
        how = ["--whole", "--first", WRAPS] if whole else ["--marked"] if name == "marks.py" else []
        file = Path(folder) / (name if whole else WATCH + name)
        text = file.read_text(encoding="utf-8")
        if text.count(old) < 1:
            raise SystemExit(f"mutant {number}: {name} has no line {old!r} any more: mend the list")
        file.write_text(text.replace(old, new, 1), encoding="utf-8")
        found = subprocess.run(
            [sys.executable, "-m", "tests.campaign", "--until-found", "--shows", str(most), *how],
            cwd=folder, env=os.environ | {"PYTHONPATH": folder}, capture_output=True, text=True, check=False,
        )  # fmt: skip
    seed = re.search(r"^seed (\d+): (.*)$", found.stdout, re.MULTILINE)
    return number, f"seed {seed[1]}: {seed[2]}" if seed else ""


def _results(numbers: list[int], most: int) -> Iterator[tuple[int, str]]:
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        yield from pool.map(lambda n: hunt(n, most), numbers)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.campaign.mutants")
    parser.add_argument("--shows", type=int, default=400, help="how many shows a mutant may live through")
    parser.add_argument("only", nargs="*", type=int, help="numbers of mutants; without any all of them")
    args = parser.parse_args()
    most, numbers = args.shows, [n - 1 for n in args.only] or list(range(len(MUTANTS)))
    alive = 0
    quiet = not sys.stderr.isatty()
    for number, words in track(
        _results(numbers, most), description="mutants", total=len(numbers), disable=quiet
    ):
        alive += not words
        print(f"{number + 1:2} {MUTANTS[number][0]}: {words or f'LIVES through {most} shows'}", flush=True)
    print(f"{len(numbers)} mutants, {alive} alive")
    return 1 if alive else 0


if __name__ == "__main__":
    sys.exit(main())
