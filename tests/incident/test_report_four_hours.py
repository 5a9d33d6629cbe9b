"""A four-hour show in sixteen houses: the report in under 2 s, the page under 500 KB."""

from __future__ import annotations

import re
import subprocess
import sys
import time
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
    took = []
    for _ in range(3):
        began = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "interlock.cli", "report", str(record_path), "--out", str(out)], check=True
        )
        took.append(time.perf_counter() - began)
    print(f"{hours:.2f} h: {min(took):.2f} s at best of 3, {out.stat().st_size / 1000:.0f} kB")
    assert min(took) < 2.0  # the best of three: what else runs on this machine is not the report's
    assert out.stat().st_size < 500_000
