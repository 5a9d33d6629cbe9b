"""How fast it is, in one table: ``python -m benchmarks [NAME…]``; a name may be a pattern, as ``'bus_*'``.

Without names everything is measured and docs/benchmarks.md written anew; with names it is only printed, and the plots of
those are drawn. Exit code 1 if a benchmark fails to run; a target that is not reached is said, and fails nothing.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from fnmatch import fnmatch
from pathlib import Path

from benchmarks._page import draw, write_page
from benchmarks._row import Growth, Result, Row, growth_text, held_back, results_of, table

HERE = Path(__file__).parent
ROOT = HERE.parent
PAGE = ROOT / "docs" / "benchmarks.md"
SUBJECTS = (
    "bus", "desk", "wire", "driver", "parse", "rehearse", "campaign", "journal", "odds", "route", "four", "screen", "alarm",
    "start", "growth",
)  # fmt: skip
"""The order of the table."""
LONGEST_S = 600.0
"""A benchmark that takes longer hangs."""


def known() -> list[str]:
    """All benchmarks, in the order of the table."""
    names = [p.stem for p in HERE.glob("*.py") if not p.stem.startswith("_")]
    order = {subject: n for n, subject in enumerate(SUBJECTS)}
    return sorted(names, key=lambda name: (order.get(name.split("_")[0], len(order)), name))


def measured(name: str) -> list[Result] | None:
    """Its results, from a process of its own, so that none is measured with another's memory; None if it failed."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "rows.json"
        command = [sys.executable, "-m", f"benchmarks.{name}", "--json", str(path)]
        # What the screens and the desk keep for a person stays out of that person's folders.
        homes = {
            f"XDG_{kind}_HOME": f"{folder}/{kind.lower()}" for kind in ("CONFIG", "DATA", "STATE", "CACHE")
        }
        began_s = time.monotonic()
        child = subprocess.Popen(
            command, cwd=ROOT, env={**os.environ, **homes}, stdout=sys.stderr, start_new_session=True
        )
        try:
            code = child.wait(LONGEST_S)
        except subprocess.TimeoutExpired:
            print(f"{name}: stopped after {LONGEST_S:.0f} s", file=sys.stderr)
            return None
        finally:
            end(child)
        print(f"{name}: {time.monotonic() - began_s:.0f} s", file=sys.stderr, flush=True)
        if code or not path.exists():
            print(f"{name}: failed with exit code {code}", file=sys.stderr)
            return None
        return results_of(path.read_bytes())


def end(child: subprocess.Popen[bytes]) -> None:
    """Nothing of a benchmark is left running, whatever ended it: first it may put away its own, then all of it is stopped."""
    if child.poll() is None:
        child.terminate()
        with suppress(subprocess.TimeoutExpired):
            child.wait(10.0)
    with suppress(ProcessLookupError):
        os.killpg(child.pid, signal.SIGKILL)
    child.wait()


def main(patterns: list[str]) -> int:
    names = [n for n in known() if not patterns or any(fnmatch(n, p) for p in patterns)]
    if nothing := [p for p in patterns if not any(fnmatch(n, p) for n in names)]:
        print(f"no benchmark {', '.join(nothing)}; there are: {', '.join(known())}", file=sys.stderr)
        return 2
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    began_s = time.monotonic()
    results: list[Result] = []
    failed: list[str] = []
    for name in names:
        found = measured(name)
        if found is None:
            failed.append(name)
        else:
            results += found
    rows = [r for r in results if isinstance(r, Row)]
    grown = [r for r in results if isinstance(r, Growth)]
    if rows:
        print(table(rows))
    for text in held_back(rows):
        print(f"not reached: {text}")
    for each in grown:
        print(growth_text(each))
        draw(each, PAGE.parent / PAGE.stem)
    print(f"{(time.monotonic() - began_s) / 60.0:.1f} min", file=sys.stderr)
    if failed:
        print(f"failed to run: {', '.join(failed)}", file=sys.stderr)
    if not patterns:
        write_page(PAGE, rows, grown, failed)
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
