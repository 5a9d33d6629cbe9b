"""kill -9 of a rehearsing desk, at random moments: what is left is readable, verified and replayable, or said not to be.

``python -m tests.incident.kills [--times 200] [--seed 1] [--keep DIR]``: the real command in a process of its own,
killed, its record then looked at as a user would. Prints how many were in which state, and every finding.
"""

from __future__ import annotations

import argparse
import io
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import redirect_stderr, redirect_stdout, suppress
from pathlib import Path

import msgspec

from interlock.cli import run
from interlock.errors import NotARecord
from interlock.incident.replay import replay
from interlock.journal import Record
from interlock.watch.state import Line

ROOT = Path(__file__).parents[2]
SHOWS = (("demo", "trip-in-mid-run"), ("demo", "tear"), ("demo", "adapter-lost"), ("two-house", None))
SPEEDS = ("30", "200", "1000", "max")
LONGEST_S = 2.5
"""Each is killed within this of its first line, some (a share of ``EARLY``) within a tenth of it of their record's file; a
show at full speed is over by then."""
EARLY = 0.15
SLOWEST_S = 2.0
"""A batch is sealed every 100 ms of life; beyond this it is no busy computer any more. The figures are printed."""


class Killed(msgspec.Struct, frozen=True):
    """One kill. ``state``: none, empty, begun (no input yet), cut off, ended. ``lost_s``: from the last sealed batch to the
    kill, seconds of life; ``unkept``: events that had been said and are not in the record."""

    n: int
    what: str
    state: str
    inputs: int
    events: int
    unkept: int
    lost_s: float | None
    findings: tuple[str, ...]


def kill_once(n: int, seed: int, folder: Path) -> Killed:
    """Start a rehearsal, kill it at its random moment, and look at what it left."""
    chance = random.Random(f"{seed}/{n}")
    show, scenario = chance.choice(SHOWS)
    speed, after_s = chance.choice(SPEEDS), chance.uniform(0.0, LONGEST_S)
    begins = chance.random() < EARLY
    record, said = folder / f"{n}.record", folder / f"{n}.lines"
    given = ["--scenario", str(ROOT / "configs" / "scenarios" / f"{scenario}.toml")] if scenario else []
    words = folder / f"{n}.words"
    with said.open("wb") as out, words.open("wb") as err:
        process = subprocess.Popen(
            [
                sys.executable, "-m", "interlock.cli", "rehearse", str(ROOT / "configs" / f"{show}.toml"), *given,
                "--plain", "--speed", speed, "--seed", str(n), "--journal", str(record),
            ],
            stdin=subprocess.DEVNULL, stdout=out, stderr=err, cwd=ROOT,
        )  # fmt: skip
        # From when on: Python's own start, which takes as long as the computer is busy, is no moment of a rehearsal.
        while process.poll() is None and not (record.exists() if begins else said.stat().st_size):
            _wait(process, 0.002 if begins else 0.02)
        _wait(process, after_s / 10.0 if begins else after_s)
        process.kill()
        killed_s = time.time()
        code = process.wait()
    since = "its file was there" if begins else "its first line"
    what = f"{show} {scenario or ''} at speed {speed}, seed {n}, killed {after_s:.2f} s after {since}"
    if code not in (0, -signal.SIGKILL):
        return Killed(
            n, what, "failed", 0, 0, 0, None, (f"the rehearsal left with {code}: {words.read_text()[-300:]}",)
        )
    return look(n, what, record, said, killed_s if code else None)


def _wait(process: subprocess.Popen[bytes], for_s: float) -> None:
    with suppress(subprocess.TimeoutExpired):
        process.wait(for_s)


def look(n: int, what: str, record: Path, said: Path, killed_s: float | None) -> Killed:
    """What the record is worth. ``killed_s``: wall seconds of the kill; None if the show had ended before."""
    heard = [
        x for x in lines_of(said) if not getattr(x, "periodic", False) and x.__struct_config__.tag != "error"
    ]
    try:
        with Record.open(record) as opened:
            verdict, head = opened.verify(), opened.head
            kept = [x for _, x in opened.lines()]
            again = replay(opened)
            last_s = opened.last_wall_s
    except NotARecord as error:
        state = "empty" if record.exists() else "none"
        findings = [f"{len(heard)} events were said, and then: {error}"] if heard else []
        findings += told(record, {"verify": 2, "report": 2})
        return Killed(n, what, state, 0, 0, len(heard), None, tuple(findings))
    findings = []
    if not verdict.ok:
        findings.append(verdict.sentence)
    if killed_s is None and not verdict.ended:
        findings.append(f"the show ended by itself, and its record did not: {verdict.sentence}")
    if heard[: len(kept)] != kept[: len(heard)]:
        findings.append("what was said and what was kept are not the same")
    if not again.same:
        findings.append(f"replayed it differs: {again.differences[0].text}")
    if verdict.inputs and len(again.lines) != len(kept):
        findings.append(f"replayed it gives {len(again.lines)} events, {len(kept)} were kept")
    lost_s = None if killed_s is None else killed_s - last_s
    if lost_s is not None and lost_s > SLOWEST_S and verdict.inputs and not verdict.ended:
        findings.append(f"the last batch was sealed {lost_s:.3f} s before the kill")
    over = "ended" if killed_s is None else "ended, and killed while closing"
    state = over if verdict.ended else "cut off" if verdict.inputs else "begun"
    findings += told(record, {"verify": 0 if verdict.ended else 1, "report": 0}, head)
    unkept = max(0, len(heard) - len(kept))
    return Killed(n, what, state, verdict.inputs, len(kept), unkept, lost_s, tuple(findings))


def lines_of(said: Path) -> Iterator[Line]:
    """What the desk had said, up to its last whole line."""
    for row in said.read_bytes().splitlines(keepends=True):
        if row.endswith(b"\n"):
            yield msgspec.json.decode(row, type=Line)


def told(record: Path, codes: dict[str, int], head: str = "") -> list[str]:
    """What a user is told by the commands: each leaves with its code, and says what is to be said."""
    findings = []
    for command, wanted in codes.items():
        out, err = io.StringIO(), io.StringIO()
        with redirect_stdout(out), redirect_stderr(err):
            code = run([command, str(record)])
        if code != wanted:
            findings.append(
                f"{command} left with {code}, not {wanted}: {out.getvalue()[-200:]}{err.getvalue()}"
            )
        elif code == 2 and (out.getvalue() or str(record) not in err.getvalue()):
            findings.append(f"{command} refuses without its reason: {err.getvalue()}")
        elif wanted == 1 and "cut off" not in out.getvalue():
            findings.append(f"{command} does not say that the record was cut off: {out.getvalue()[-200:]}")
        elif command == "report" and head and head not in out.getvalue():
            findings.append("the report does not name the head")
    return findings


def _kill(job: tuple[int, int, str]) -> Killed:
    n, seed, folder = job
    return kill_once(n, seed, Path(folder))


def kills(times: int, seed: int, folder: Path, workers: int) -> list[Killed]:
    """So many of them."""
    jobs = [(n, seed, str(folder)) for n in range(times)]
    if workers == 1:
        return [_kill(job) for job in jobs]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(_kill, jobs))


def summary(found: list[Killed]) -> str:
    """The figures."""
    states = Counter(k.state for k in found)
    lost = sorted(round(1_000 * k.lost_s) for k in found if k.lost_s is not None and k.state == "cut off")
    rows = [f"{len(found)} kills: {', '.join(f'{n} {state}' for state, n in states.most_common())}"]
    if lost:
        rows.append(
            f"from the last sealed batch to the kill: median {lost[len(lost) // 2]} ms, "
            f"95 % {lost[int(0.95 * len(lost))]} ms, at most {lost[-1]} ms ({len(lost)} records)"
        )
    rows.append(
        f"{sum(k.inputs for k in found)} inputs and {sum(k.events for k in found)} events verified and replayed; "
        f"{sum(k.unkept for k in found)} events had been said and were not yet on disk"
    )
    rows += [f"FOUND: {k.what}: {f}" for k in found for f in k.findings]
    return "\n".join([*rows, f"{sum(len(k.findings) for k in found)} findings"])


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.incident.kills", description=__doc__)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=min(2, os.cpu_count() or 1))
    parser.add_argument("--keep", type=Path, metavar="DIR", help="keep the records there")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="kills-") as scratch:
        folder = args.keep if args.keep is not None else Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        found = kills(args.times, args.seed, folder, args.workers)
    sys.stdout.write(summary(found) + "\n")
    return 1 if any(k.findings for k in found) else 0


if __name__ == "__main__":
    sys.exit(main())
