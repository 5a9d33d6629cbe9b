"""The wheel is the whole program: it runs from another folder, with its shows and its styles, without the checkout."""

from __future__ import annotations

import json
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built as a packager builds it, with the tools that are there and without a network."""
    folder = tmp_path_factory.mktemp("wheel")
    build = ["-m", "pip", "wheel", "-qq", "--no-deps", "--no-build-isolation", "--no-index", "--wheel-dir"]
    subprocess.run([sys.executable, *build, folder, ROOT], check=True)
    [built] = folder.glob("longlace-*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment of its own that has the wheel; what the program needs it borrows from the one of the tests."""
    venv = tmp_path_factory.mktemp("installed") / "venv"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", venv], check=True)
    [site] = venv.glob("lib/python*/site-packages")
    # A folder named in a .pth file is searched, but its own .pth files are not read: so the checkout, which is
    # installed in place over there, stays out of reach.
    (site / "borrowed.pth").write_text(sysconfig.get_path("purelib") + "\n")
    install = ["-m", "pip", "--python", venv / "bin" / "python", "install", "-qq", "--no-deps", "--no-index"]
    subprocess.run([sys.executable, *install, wheel], check=True)
    return venv


def run(venv: Path, cwd: Path, *args: str) -> subprocess.CompletedProcess[str]:
    """A command of that environment, from another folder."""
    return subprocess.run(
        [venv / "bin" / args[0], *args[1:]], cwd=cwd, capture_output=True, text=True, check=False, timeout=60
    )


def test_the_wheel_holds_every_package_and_everything_in_it_that_is_not_code(wheel: Path) -> None:
    held = set(zipfile.ZipFile(wheel).namelist())
    wanted = {
        str(p.relative_to(ROOT))
        for package in ("interlock", "drivers", "tui", "configs")
        for p in (ROOT / package).rglob("*")
        if p.is_file() and p.suffix != ".pyc"
    }
    assert {name for name in wanted if name.endswith(".toml")}, "the shows that come with it are missing"
    assert {name for name in wanted if name.endswith(".tcss")}, "the screens' styles are missing"
    assert wanted <= held
    assert not [name for name in held if name.startswith(("tests/", "benchmarks/"))]


def test_the_installed_program_checks_a_show_that_came_with_it_from_another_folder(
    installed: Path, tmp_path: Path
) -> None:
    where = run(
        installed,
        tmp_path,
        "python",
        "-c",
        "import configs, interlock, drivers, tui, importlib.resources as r;"
        "print(interlock.__path__[0], drivers.__path__[0], tui.__path__[0], r.files('configs'), sep='\\n')",
    )
    assert where.returncode == 0, where.stderr
    *packages, shows = where.stdout.splitlines()
    for package in (*packages, shows):
        assert Path(package).is_relative_to(installed), "the checkout answers, not the wheel"
    checked = run(installed, tmp_path, "longlace", "check", f"{shows}/six-house.toml", "--json")
    assert checked.returncode == 0, checked.stderr
    plan = json.loads(checked.stdout)
    assert len(plan["houses"]) == 6
    assert len(plan["links"]) == 5


def test_the_installed_program_finds_its_drivers_and_its_styles(installed: Path, tmp_path: Path) -> None:
    found = run(
        installed,
        tmp_path,
        "python",
        "-c",
        "import drivers.driver as d\n"
        "for name in d.names(): print(name, d.find(name).__module__)\n"
        "from tui.app import LonglaceApp as App\n"
        "from pathlib import Path\n"
        "import inspect\n"
        "base = next(c for c in App.__mro__ if 'CSS_PATH' in vars(c))\n"
        "style = Path(inspect.getfile(base)).parent / base.CSS_PATH\n"
        "print(style, style.read_text().count('{'))",
    )
    assert found.returncode == 0, found.stderr
    *drivers, style = found.stdout.splitlines()
    assert {"serial drivers.serial_line", "simulator drivers.simulator.driver"} <= set(drivers)
    path, rules = style.split()
    assert Path(path).is_relative_to(installed)
    assert int(rules) > 0


def test_the_installed_program_rehearses_the_built_in_demo(installed: Path, tmp_path: Path) -> None:
    rehearsed = run(installed, tmp_path, "longlace", "rehearse", "--speed", "max", "--plain", "--seed", "1")
    assert rehearsed.returncode == 0, rehearsed.stderr
    lines = [json.loads(line) for line in rehearsed.stdout.splitlines()]
    assert [line["seq"] for line in lines] == list(range(len(lines)))
    phases = [line["phase"] for line in lines if line["kind"] == "show"]
    assert phases[-1] == "ended"
