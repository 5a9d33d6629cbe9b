"""The sheets on paper, as a real browser prints them: one side each, on A4 and on Letter."""

from __future__ import annotations

import re
import shutil
import subprocess
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from interlock.plan.sheets.html import Paper, html
from interlock.plan.sheets.write import sheets
from interlock.showfile.load import load_show

ROOT = Path(__file__).parents[2]
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-pdf-header-footer",
]

A4_PT, LETTER_PT = (595.0, 842.0), (612.0, 792.0)


def printed(text: str, folder: Path, name: str) -> tuple[int, tuple[float, float]]:
    """(pages, their size in points) of a page as Chromium prints it."""
    assert CHROMIUM is not None
    page, pdf = folder / f"{name}.html", folder / f"{name}.pdf"
    page.write_text(text, encoding="utf-8")
    subprocess.run(
        [CHROMIUM, *FLAGS, f"--user-data-dir={folder / name}", f"--print-to-pdf={pdf}", page.as_uri()],
        check=True,
        capture_output=True,
        timeout=60,
    )
    raw = pdf.read_bytes()
    sizes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", raw)
    return len(re.findall(rb"/Type /Page\b(?!s)", raw)), (float(sizes[0][0]), float(sizes[0][1]))


@pytest.mark.skipif(CHROMIUM is None, reason="no chromium here")
def test_the_longest_sheets_of_sixteen_houses_print_on_one_side_of_either_paper(tmp_path: Path) -> None:
    """Some 200 rollers on the threading sheet, 110 cues on the lead's; the other sheets are shorter."""
    made = {sheet.file: sheet for sheet in sheets(load_show(ROOT / "configs" / "sixteen-house.toml"))}
    jobs: list[tuple[str, Paper]] = [(name, p) for name in ("threading", "cues") for p in ("a4", "letter")]  # type: ignore[misc]
    with ThreadPoolExecutor(2) as pool:
        found = pool.map(lambda job: printed(html(made[job[0]], job[1]), tmp_path, "-".join(job)), jobs)
    for (name, paper), (pages, size) in zip(jobs, found, strict=True):
        assert pages == 1, f"{name} on {paper} takes {pages} pages"
        assert size == pytest.approx(A4_PT if paper == "a4" else LETTER_PT, abs=1.0)
