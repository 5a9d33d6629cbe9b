"""Rehearsed incidents with a report each, to be read with fresh eyes: ``python -m tests.incident.stories DIR [--pictures]``.

With ``--pictures`` (needs chromium and pdftoppm) each report is also drawn as a screen, and printed on A4 and on Letter.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

from interlock.cli import run
from interlock.incident.recorded import read_record
from interlock.incident.report import make_report
from interlock.journal import Record
from interlock.watch.inputs import Action

sys.path.insert(0, str(Path(__file__).parent))  # the tests' own folder, as pytest has it
from incident_records import folded_again, rehearse

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "configs" / "demo.toml"
SCENARIOS = ROOT / "configs" / "scenarios"

Did = tuple[float, dict[str, Any]]
"""Seconds after the first incident began, and what a person told the desk then."""

STORIES: dict[str, tuple[str | None, tuple[Did, ...]]] = {
    "no-incident": (None, ()),
    "trip-in-mid-run": (
        "trip-in-mid-run",
        (
            (4.0, {"action": "ack", "subject": "3", "code": "run-lost", "by": "Ines"}),
            (40.0, {"action": "note", "text": "overload relay of 3 was out; set it again by hand", "by": "Ines"}),
            (95.0, {"action": "relace", "house": "1", "n_fr": -30, "by": "Duarte"}),
        ),
    ),
    "lamp-out": ("lamp-out", ((292.5, {"action": "ack", "subject": "1", "code": "lamp-out", "by": "Ines"}),)),
    "creep": ("creep", ()),
    "adapter-lost": ("adapter-lost", ()),
    "tear": (
        "tear",
        (
            (9.0, {"action": "parted", "link": "4>3", "by": "Duarte"}),
            (30.0, {"action": "note", "text": "film on the floor between 4 and 3", "by": "Duarte"}),
        ),
    ),
}  # fmt: skip


def story(name: str, folder: Path) -> Path:
    """The record of one of them."""
    scenario, people = STORIES[name]
    path = folder / f"{name}.record"
    alone = folder / f"{name}-alone.record" if people else path
    rehearse(DEMO, alone, scenario=SCENARIOS / f"{scenario}.toml" if scenario else None, seed=5)
    if people:
        with Record.open(alone) as record:
            began_s = make_report(read_record(record))[1].stories[0].began_s
            first = next(record.inputs())[1]
        # A desk's first input ties its seconds to the wall clock's.
        zero_s = began_s - getattr(first, "wall_s", 0.0) + first.at_s
        folded_again(alone, path, [Action(zero_s + after_s, **what) for after_s, what in people])
        alone.unlink()
    return path


def pictures(page: Path) -> None:
    """A screen of 1100 pixels, and every printed sheet on both papers."""
    chromium = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"]
    stem = page.with_suffix("")
    _quietly(*chromium, "--window-size=1100,6000", f"--screenshot={stem}.png", page.as_uri())
    for paper in ("A4", "Letter"):
        sheet = stem.with_name(f"{stem.name}-{paper}.html")
        sheet.write_text(
            page.read_text("utf-8").replace("<style>", f"<style>@page{{size:{paper}}}", 1), "utf-8"
        )
        pdf = sheet.with_suffix(".pdf")
        _quietly(*chromium, "--no-pdf-header-footer", f"--print-to-pdf={pdf}", sheet.as_uri())
        _quietly("pdftoppm", "-r", "60", "-png", str(pdf), str(sheet.with_suffix("")))
        sheet.unlink()


def _quietly(*words: str) -> None:
    subprocess.run(words, check=True, capture_output=True, timeout=120)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.incident.stories", description=__doc__)
    parser.add_argument("folder", type=Path, metavar="DIR")
    parser.add_argument("--only", choices=STORIES)
    parser.add_argument("--pictures", action="store_true")
    args = parser.parse_args()
    if args.pictures and not (shutil.which("chromium") and shutil.which("pdftoppm")):
        parser.error("--pictures needs chromium and pdftoppm")
    args.folder.mkdir(parents=True, exist_ok=True)
    for name in [args.only] if args.only else STORIES:
        record = args.folder / f"{name}.record"
        if not record.exists():
            story(name, args.folder)
        for sort in ("html", "md"):
            code = run(["report", str(record), "--out", str(record.with_suffix(f".{sort}"))])
            if code:
                return code
        if args.pictures:
            pictures(record.with_suffix(".html").resolve())
    return 0


if __name__ == "__main__":
    sys.exit(main())
