"""The pages for people point at what is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_link_and_picture_of_a_page_is_there(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)]+)\)", text):
        if "://" in target:
            continue
        path, _, anchor = target.partition("#")
        there = page.parent / path if path else page
        assert there.exists(), target
        if anchor:
            headings = re.findall(r"^#+ (.+)$", there.read_text(encoding="utf-8"), re.MULTILINE)
            assert anchor in {
                re.sub(r"[^\w -]", "", h).strip().lower().replace(" ", "-") for h in headings
            }, target


def test_the_readme_begins_with_the_job_and_the_two_commands() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    _, job, commands, *_ = text.split("\n\n")
    assert len(job.split()) > 60
    assert [line.split("#")[0].split() for line in commands.splitlines()] == [
        ["make", "demo"],
        ["make", "test"],
    ]
    assert "no safety device" in text


def test_the_functions_that_the_developers_page_names_are_there() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    code = "\n".join(
        p.read_text(encoding="utf-8")
        for f in ("interlock", "drivers", "tui")
        for p in (ROOT / f).rglob("*.py")
    )
    traced = page[page.index("## One pulse") : page.index("## Rules")]
    dotted = re.findall(r"`([A-Z]\w+)\.(\w+)`", traced)
    names = {name for pair in dotted for name in pair} | set(re.findall(r"`(\w+)`", traced))
    assert len(names) > 10
    missing = {n for n in names if not re.search(rf"(def|class) {n}\b|^{n} ?[:=]", code, re.MULTILINE)}
    assert missing == set()
    for path in re.findall(r"`((?:interlock|drivers|tui|tests)/[a-z_/0-9]+\.py)`", page):
        assert (ROOT / path).exists(), path
