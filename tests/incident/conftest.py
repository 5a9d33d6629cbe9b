"""Rehearsed incidents as records, made once: each is a whole show on simulated machines."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from incident_records import rehearse

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="session")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """The record of the demo show with a scenario of configs/scenarios; ``none``: a show in which nothing happens."""
    folder = tmp_path_factory.mktemp("records")
    made: dict[str, Path] = {}

    def make(scenario: str) -> Path:
        if scenario not in made:
            made[scenario] = folder / f"{scenario}.record"
            rehearse(
                ROOT / "configs" / "demo.toml",
                made[scenario],
                scenario=ROOT / "configs" / "scenarios" / f"{scenario}.toml" if scenario != "none" else None,
                seed=5,
            )
        return made[scenario]

    return make
