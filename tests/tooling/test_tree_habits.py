"""Habits of the tree that no linter knows: how long a file gets, what is caught, what is never named."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGES = ("interlock", "drivers", "tui", "configs")
FOLDERS = (*PACKAGES, "tests", "benchmarks")
MOST_LINES = 249
"""A file that grows is split along a seam before it is longer."""
LONGER = {"tests/tui/snapshot_cases.py": 300}  # a table of cases, and one program that draws them all

# Whoever catches everything supervises somebody else's work, and is named here with what it keeps alive.
SUPERVISORS = {
    "drivers/serial_port.py": "a port of any kind may raise anything; the show needs it back",
    "interlock/bus/mailbox.py": "the key function is the subscriber's; the publisher must not hear of its faults",
    "interlock/journal/writer.py": "whatever the disk or a listener does, the show goes on and record-failing is raised",
    "interlock/incident/recorded.py": "a show that outlived a fault of the desk can be read to its end",
    "interlock/service/folding.py": "one reading that cannot be judged must not end the watch over all the others",
}

# Put together from their parts, so that this file does not name them either.
REGISTRY_HOSTS = [
    ".".join(parts)
    for parts in (
        ("py" + "pi", "org"),
        ("files", "python" + "hosted", "org"),
        ("registry", "npm" + "js", "org"),
        ("deb", "debian", "org"),
        ("crates", "io"),
    )
]
MACHINE_PATH = re.compile(r"(?<![\w.])/(?:work|root|farm|home|Users)/[\w.-]")


def committed() -> list[Path]:
    """Every file that git keeps or would keep, as it stands in the tree."""
    try:
        listed = subprocess.run(
            ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        )
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("not a git checkout")
    return [ROOT / name for name in listed.stdout.splitlines() if (ROOT / name).is_file()]


def text_of(path: Path) -> str:
    """The file's text; nothing for one that is not text."""
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return ""


def python_files(*folders: str) -> list[Path]:
    """Python files of these folders."""
    return sorted(p for folder in folders for p in (ROOT / folder).rglob("*.py"))


def catches_everything(path: Path) -> list[int]:
    """Lines of handlers that catch Exception, BaseException or anything at all, and keep it.

    One that puts something away and lets the fault go on (its last word is ``raise``) keeps nothing.
    """
    found = []
    for node in ast.walk(ast.parse(text_of(path))):
        if isinstance(node, ast.ExceptHandler):
            last = node.body[-1]
            if isinstance(last, ast.Raise) and last.exc is None:
                continue
            caught = node.type.elts if isinstance(node.type, ast.Tuple) else [node.type]
            if any(c is None or getattr(c, "id", "") in {"Exception", "BaseException"} for c in caught):
                found.append(node.lineno)
    return found


@pytest.mark.parametrize("folder", FOLDERS)
def test_no_file_is_too_long(folder: str) -> None:
    lengths = {str(p.relative_to(ROOT)): len(text_of(p).splitlines()) for p in python_files(folder)}
    assert lengths, "no Python files were found: the test looks in the wrong place"
    assert {name: n for name, n in lengths.items() if n > LONGER.get(name, MOST_LINES)} == {}


def test_only_the_named_supervisors_catch_everything() -> None:
    found = {str(p.relative_to(ROOT)) for p in python_files(*PACKAGES, "benchmarks") if catches_everything(p)}
    assert found == set(SUPERVISORS), "catch what you expect; a supervisor is listed here with its reason"


def test_the_search_for_handlers_finds_every_form(tmp_path: Path) -> None:
    forms = tmp_path / "forms.py"
    handlers = ("except Exception", "except (OSError, BaseException)", "except", "except OSError")
    forms.write_text("".join(f"try:\n    pass\n{handler}:\n    pass\n" for handler in handlers))
    assert catches_everything(forms) == [3, 7, 11]
    forms.write_text("try:\n    pass\nexcept BaseException:\n    put_away()\n    raise\n")
    assert catches_everything(forms) == []


def test_no_file_names_a_package_registry() -> None:
    named = {
        str(p.relative_to(ROOT)): host
        for p in committed()
        for host in REGISTRY_HOSTS
        if host in text_of(p).lower()
    }
    assert named == {}


def test_no_file_names_a_folder_of_one_machine() -> None:
    named = {
        str(p.relative_to(ROOT)): found.group()
        for p in committed()
        if (found := MACHINE_PATH.search(text_of(p)))
    }
    assert named == {}


@pytest.mark.parametrize("name", [f"requirements{part}.txt" for part in ("", "-build", "-dev", "-bench")])
def test_requirements_are_pinned_and_hashed_and_name_no_address(name: str) -> None:
    text = (ROOT / name).read_text()
    entries = re.split(r"\n(?=[a-z0-9])", text.strip())
    assert len(entries) > 5
    for entry in entries:
        assert re.match(r"[a-z0-9.\[\]-]+==\S+", entry), entry
        assert "--hash=sha256:" in entry, entry
    assert "://" not in text
    assert "--index" not in text
