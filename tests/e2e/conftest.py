"""The four shows, run once for all tests of them."""

from __future__ import annotations

import time

import pytest
from scenes import SCENES, Scene

LEAD_S = 9.0  # four desks start at once on two cores before the motors do


@pytest.fixture(scope="session")
def shows(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Scene]:
    """All four shows, run at the same time from start to end."""
    zero_s = time.monotonic() + LEAD_S
    # A tenth apart, so that no two start in one instant.
    made = {name: make(zero_s + 0.1 * n) for n, (name, make) in enumerate(SCENES.items())}
    begun = []
    try:
        for name, scene in made.items():
            begun.append(scene)
            scene.begin(tmp_path_factory.mktemp(name))
    finally:
        for scene in sorted(begun, key=lambda s: s.ends_s):
            scene.finish()
    return made
