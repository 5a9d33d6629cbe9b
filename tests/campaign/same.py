"""Another Python gives the same lines to the last digit: ``python -m tests.campaign.same python3.12 python3.13``.

For each interpreter named, an environment is made with the program's own requirements, and the same seeds are run in
it and here. Without a name it prints this Python's digests.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.campaign.drive import run

TREE = Path(__file__).parents[2]
SEEDS = range(400, 420)


def digests() -> str:
    """A line a seed."""
    return "".join(f"{seed} {run(seed).digest()}\n" for seed in SEEDS)


def _elsewhere(python: str) -> str:
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([python, "-m", "venv", folder], check=True)
        its = Path(folder) / "bin" / "python"
        requirements = TREE / "requirements.txt"
        subprocess.run(
            [its, "-m", "pip", "install", "-qq", "--require-hashes", "-r", requirements], check=True
        )
        told = subprocess.run(
            [its, "-m", "tests.campaign.same"], cwd=TREE, env=os.environ | {"PYTHONPATH": str(TREE)},
            capture_output=True, text=True, check=True,
        )  # fmt: skip
    return told.stdout


def main(pythons: list[str]) -> int:
    mine = digests()
    if not pythons:
        sys.stdout.write(mine)
        return 0
    differ = 0
    for python in pythons:
        theirs = _elsewhere(python)
        other = [a for a, b in zip(mine.splitlines(), theirs.splitlines(), strict=True) if a != b]
        differ += bool(other)
        print(f"{python}: {len(SEEDS) - len(other)} of {len(SEEDS)} shows are the same to the last digit")
        for line in other:
            print(f"    here {line}")
    return 1 if differ else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
