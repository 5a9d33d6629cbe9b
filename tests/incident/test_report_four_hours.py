"""A four-hour show in sixteen houses: the report in under 2 s, the page under 500 KB."""

from __future__ import annotations

import os
import re
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from incident_records import rehearse

from interlock.journal import Record

ROOT = Path(__file__).parents[2]


@pytest.mark.long
def test_the_report_of_four_hours_in_sixteen_houses_is_quick_and_small(tmp_path: Path) -> None:
    text = (ROOT / "configs" / "sixteen-house.toml").read_text("utf-8")
    longer = re.sub(r'runtime = "0:[12]\d:(\d\d)"', r'runtime = "0:41:\1"', text)
    assert longer != text
    show, record_path, out = tmp_path / "show.toml", tmp_path / "show.record", tmp_path / "show.html"
    show.write_text(longer, "utf-8")
    rehearse(show, record_path, scenario=ROOT / "configs" / "scenarios" / "lamp-out.toml", seed=3)
    with Record.open(record_path) as record:
        hours = len(list(record.seconds())) / 3600
    assert hours > 3.9
    # As it is after its installation: its modules are compiled once, not for every report.
    env = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    env["PYTHONPYCACHEPREFIX"] = str(tmp_path / "compiled")
    took = []
    for _ in range(4):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(
            [sys.executable, "-m", "interlock.cli", "report", str(record_path), "--out", str(out)],
            check=True,
            env=env,
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        took.append(after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime)
    print(f"{hours:.2f} h: {min(took):.2f} s of a processor, {out.stat().st_size / 1000:.0f} kB")
    # Processor time, the least of four: what else runs on this computer is not the report's. 2 s is promised.
    assert min(took) < 1.5
    assert out.stat().st_size < 500_000
