"""How fast it is, as tables: ``python -m benchmarks [NAME…]``, all without names. 1 if one of them fails."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path


def main(names: list[str]) -> int:
    """Each in a process of its own, so that none is measured with another's memory."""
    here = Path(__file__).parent
    known = sorted(p.stem for p in here.glob("*.py") if not p.stem.startswith("_"))
    if unknown := [name for name in names if name not in known]:
        print(f"no benchmark {', '.join(unknown)}; there are: {', '.join(known)}", file=sys.stderr)
        return 2
    failed = []
    for name in names or known:
        print(f"\n== {name}", flush=True)
        if subprocess.run(
            [sys.executable, "-m", f"benchmarks.{name}"], cwd=here.parent, check=False
        ).returncode:
            failed.append(name)
    if failed:
        print(f"\nfailed: {', '.join(failed)}", file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
