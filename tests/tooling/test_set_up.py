"""`make demo` and `make test` begin with a bare Python: what is missing is said with its remedy."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
VENV_SCRIPT = ROOT / ".ci" / "venv"


def fake_python(folder: Path, script: str, name: str = "python3") -> Path:
    """An interpreter that behaves as the shell script says."""
    folder.mkdir(exist_ok=True)
    path = folder / name
    path.write_text(f"#!/bin/sh\n{script}\n")
    path.chmod(0o755)
    return path


def old_python(folder: Path, version: str = "3.9") -> Path:
    """Answers as a Python that is too old: prints its version, and fails to be 3.11."""
    return fake_python(folder, f'case "$2" in *print*) echo {version};; *) exit 1;; esac')


def set_up(python: Path | str, venv: Path, path: Path) -> subprocess.CompletedProcess[str]:
    """Run the script that makes the environment, with nothing on PATH but ``path`` and the system's own tools."""
    tools = path / "tools"
    tools.mkdir(exist_ok=True)
    for tool in ("sh", "rm", "mkdir"):
        if not (tools / tool).exists() and (found := shutil.which(tool)):
            (tools / tool).symlink_to(found)
    return subprocess.run(
        [str(tools / "sh"), str(VENV_SCRIPT), str(python), str(venv)],
        env={"PATH": f"{path}{os.pathsep}{tools}"},
        capture_output=True,
        text=True,
        check=False,
    )


def test_no_python_at_all_is_said_with_its_remedy(tmp_path: Path) -> None:
    ran = set_up("python3", tmp_path / "venv", tmp_path)
    assert ran.returncode == 2
    assert "no Python called 'python3'" in ran.stderr
    assert "apt install python3 python3-venv" in ran.stderr
    assert not (tmp_path / "venv").exists()


def test_a_python_that_is_too_old_is_said_with_its_version(tmp_path: Path) -> None:
    ran = set_up(old_python(tmp_path / "bin"), tmp_path / "venv", tmp_path)
    assert ran.returncode == 2
    assert "is Python 3.9; Longlace needs 3.11 or newer" in ran.stderr
    assert "make PYTHON=/path/to/python3.11" in ran.stderr
    assert ran.stdout == ""


def test_a_newer_python_by_another_name_is_the_remedy_that_is_offered(tmp_path: Path) -> None:
    old = old_python(tmp_path / "old")
    fake_python(tmp_path, f'exec "{sys.executable}" "$@"', "python3.12")
    ran = set_up(old, tmp_path / "venv", tmp_path)
    assert "Remedy: make PYTHON=python3.12" in ran.stderr


def test_a_missing_venv_module_is_said_with_the_package_that_has_it(tmp_path: Path) -> None:
    hole = tmp_path / "hole"
    hole.mkdir()
    (hole / "ensurepip.py").write_text("raise ModuleNotFoundError(\"No module named 'ensurepip'\")\n")
    python = fake_python(tmp_path / "bin", f'PYTHONPATH="{hole}" exec "{sys.executable}" "$@"')
    ran = set_up(python, tmp_path / "venv", tmp_path)
    assert ran.returncode == 2
    assert "venv or ensurepip" in ran.stderr
    version = f"{sys.version_info.major}.{sys.version_info.minor}"
    assert f"apt install python{version}-venv" in ran.stderr


def test_an_environment_that_was_broken_off_is_made_anew_and_a_good_one_stays(tmp_path: Path) -> None:
    venv = tmp_path / "venv"
    broken = fake_python(tmp_path, "exit 1", "broken")
    (venv / "bin").mkdir(parents=True)
    (venv / "bin" / "python").symlink_to(broken)
    assert set_up(sys.executable, venv, tmp_path).returncode == 0
    subprocess.run([venv / "bin" / "python", "-c", "import pip"], check=True)
    kept = venv / "kept"
    kept.touch()
    assert set_up(sys.executable, venv, tmp_path).returncode == 0
    assert kept.exists()


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """What make looks at, with both stamps younger than everything that they are made from."""
    for name in (
        "Makefile",
        "pyproject.toml",
        "requirements.txt",
        "requirements-build.txt",
        "requirements-dev.txt",
        "requirements-bench.txt",
    ):
        shutil.copy(ROOT / name, tmp_path)
    shutil.copytree(ROOT / ".ci", tmp_path / ".ci")
    (tmp_path / ".venv").mkdir()
    an_hour_ago = time.time() - 3600
    for path in (*tmp_path.iterdir(), *(tmp_path / ".ci").iterdir()):
        os.utime(path, (an_hour_ago, an_hour_ago))
    for order, stamp in enumerate((".run", ".dev")):
        (tmp_path / ".venv" / stamp).touch()
        os.utime(tmp_path / ".venv" / stamp, (an_hour_ago + 60 + order,) * 2)
    return tmp_path


def planned(checkout: Path, target: str) -> str:
    """What make would do."""
    ran = subprocess.run(
        ["make", "--dry-run", "--no-print-directory", target],
        cwd=checkout,
        env={k: v for k, v in os.environ.items() if not k.startswith("MAKE")},
        capture_output=True,
        text=True,
        check=True,
    )
    return ran.stdout


def test_nothing_is_installed_again_while_the_requirements_stand(checkout: Path) -> None:
    for target in ("demo", "test"):
        assert "pip install" not in planned(checkout, target)


def test_changed_requirements_are_installed_and_the_demo_needs_none_of_the_tests(checkout: Path) -> None:
    (checkout / "requirements-dev.txt").touch()
    assert "pip install" not in planned(checkout, "demo")
    assert "--require-hashes -r requirements-dev.txt" in planned(checkout, "test")
    (checkout / "requirements.txt").touch()
    demo = planned(checkout, "demo")
    assert "--require-hashes -r requirements-build.txt -r requirements.txt" in demo
    assert "requirements-dev.txt" not in demo


def test_what_is_measured_against_is_installed_by_the_benchmark_alone(checkout: Path) -> None:
    peers = "--require-hashes -r requirements-bench.txt"
    assert peers not in planned(checkout, "test")
    steps = planned(checkout, "bench")
    assert steps.index(peers) < steps.index("-m benchmarks")


def test_the_suite_holds_format_mistakes_types_and_contracts(checkout: Path) -> None:
    steps = planned(checkout, "test")
    wanted = [
        "ruff format --check",
        "ruff check",
        "mypy",
        "lint-imports",
        "not realtime",
        '"realtime and not long"',
    ]
    places = [steps.index(step) for step in wanted]
    assert places == sorted(places)
