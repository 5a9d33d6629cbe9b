"""contract.md: in JSON keys carry their unit: `_fr` frames, `_s` seconds, `_fps`, `_ft` tape feet, `_n` newtons."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from incident_records import rehearse, small_show

from interlock.cli import run

UNITS = ("_fr", "_s", "_fps", "_ft", "_n")
NAMED = {
    *("fps", "frame", "from_frame", "to_frame", "frames"),  # are their unit
    *("used", "widest_used", "high", "low", "medium", "confidence"),  # shares
    *("odds_file", "odds_measured", "odds_cautious", "odds_corrected"),
    *("start_holds", "run_holds", "0.99", "0.999", "before", "after"),  # contract.md's own
    *("per_10_min", "switches"),  # alarms in so long; pairs of which and show_s
}
"""Numbers that may be fractions and bear no unit."""


def fractions(found: object, key: str = "") -> Iterator[str]:
    """The keys of all numbers that are no counts."""
    if isinstance(found, dict):
        for name, value in found.items():
            yield from fractions(value, name)
    elif isinstance(found, list):
        for value in found:
            yield from fractions(value, key)
    elif isinstance(found, float):
        yield key


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    folder: Path = tmp_path_factory.mktemp("units")
    show = small_show(folder / "small.toml")
    trip = folder / "trip.toml"
    trip.write_text('crew_stops_after = "3 s"\n[[fault]]\nat = "8 s"\nkind = "trip"\nhouse = "b"\n')
    found = [str(folder / f"{seed}.record") for seed in (1, 2)]
    for seed, path in enumerate(found, 1):
        rehearse(show, Path(path), seed=seed, scenario=trip)
    return [str(show), *found]


@pytest.mark.parametrize("command", ["report", "trims", "odds", "check"])
def test_every_number_that_is_no_count_has_its_unit_in_its_key(
    records: list[str], command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    show, one, two = records
    of = {"report": [one], "trims": [one, two], "odds": [show], "check": [show]}[command]
    capsys.readouterr()
    assert run([command, *of, "--json"]) == 0
    keys = set(fractions(json.loads(capsys.readouterr().out)))
    if command == "report":
        assert {"raised_s", "stopped_s", "widest_fr"} <= keys, "an incident, and how long it took"
    assert len(keys) > 3
    assert [k for k in sorted(keys) if not k.endswith(UNITS) and k not in NAMED] == []
