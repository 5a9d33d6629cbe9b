"""kill -9 of a real rehearsal at random moments: its record is readable, verified and replayable (``make kills``)."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.incident.kills import kills, summary


@pytest.mark.realtime
def test_three_killed_rehearsals_leave_records_that_are_readable_verified_and_replayable(
    tmp_path: Path,
) -> None:
    found = kills(3, 2, tmp_path, 1)
    print(summary(found))
    assert not [f for k in found for f in k.findings]
    assert any(k.inputs for k in found)


@pytest.mark.long
def test_two_hundred_killed_rehearsals_leave_records_that_are_readable_verified_and_replayable(
    tmp_path: Path,
) -> None:
    found = kills(200, 1, tmp_path, 2)
    print(summary(found))
    assert not [f"{k.what}: {f}" for k in found for f in k.findings]
    # Of a kill in the middle of a rehearsal there must be many, or nothing has been shown.
    assert sum(k.state == "cut off" for k in found) > 100
