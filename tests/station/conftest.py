"""The bench of the drivers' tests serves the station's too."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "drivers"))
