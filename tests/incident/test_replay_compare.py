"""A record through today's desk: the same events to the last digit, or a difference that can be read."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from interlock.errors import RecordAltered
from interlock.incident import replay as replaying
from interlock.incident.replay import differences_in_words, replay
from interlock.journal import Record, RecordMeta
from interlock.showfile.show import Show
from interlock.watch.state import AlarmLine

Make = Callable[[str], Path]


def another_version(monkeypatch: pytest.MonkeyPatch, slack_low: float) -> None:
    """Today's desk judges slack-low at another share of a limit than the desk that made the record."""
    true_show = replaying.show_of

    def changed(meta: RecordMeta) -> Show:
        show = true_show(meta)
        return msgspec.structs.replace(show, alarms=msgspec.structs.replace(show.alarms, slack_low=slack_low))

    monkeypatch.setattr(replaying, "show_of", changed)


@pytest.mark.parametrize("scenario", ["tear", "adapter-lost"])
def test_the_same_version_says_the_same_to_the_last_digit(recorded: Make, scenario: str) -> None:
    with Record.open(recorded(scenario)) as record:
        again = replay(record)
        events = list(record.lines())
    assert again.same
    assert list(again.lines) == events
    assert len(events) > 50
    assert next(iter(differences_in_words(again))).startswith(
        f"the same {len(events)} events to the last digit"
    )


def test_another_catalogue_gives_a_difference_that_names_the_alarm_and_its_time(
    recorded: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A desk whose slack-low trips at another share is another version."""
    path = recorded("creep")
    another_version(monkeypatch, 0.6)
    with Record.open(path) as record:
        again = replay(record)
    assert not again.same
    words = list(differences_in_words(again))
    assert "differences from what version" in words[0]
    changed = [d for d in again.differences if isinstance(d.then, AlarmLine) and d.then.code == "slack-low"]
    assert changed
    assert any("slack-low 4>3" in w and "→" in w for w in words)


def test_an_alarm_that_is_new_or_gone_is_said_as_such(
    recorded: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = recorded("lamp-out")
    another_version(monkeypatch, 0.3)
    with Record.open(path) as record:
        again = replay(record)
    new = [d for d in again.differences if d.then is None]
    assert new
    assert any(isinstance(d.now, AlarmLine) and d.now.code == "slack-low" for d in new)
    assert all(d.text.startswith("only now: ") for d in new)
    # What follows later is matched again, not reported as one long difference.
    lamp = [d for d in again.differences if "lamp-out" in d.text]
    assert not lamp


def test_an_edited_event_in_the_record_is_found(recorded: Make, tmp_path: Path) -> None:
    target = tmp_path / "edited.record"
    target.write_bytes(recorded("tear").read_bytes())
    connection = sqlite3.connect(target)
    with connection:
        for n, data in connection.execute("SELECT n, data FROM lines").fetchall():
            connection.execute(
                "UPDATE lines SET data = ? WHERE n = ?",
                (data.replace('"switch":"spill"', '"switch":"tight"'), n),
            )
    connection.close()
    with Record.open(target) as record:
        again = replay(record)
    assert not again.same
    assert all("tight" in d.text and "spill" in d.text for d in again.differences)


def test_a_record_without_its_beginning_is_refused(recorded: Make, tmp_path: Path) -> None:
    target = tmp_path / "headless.record"
    target.write_bytes(recorded("tear").read_bytes())
    connection = sqlite3.connect(target)
    with connection:
        connection.execute("DELETE FROM batches WHERE n = 1")
    connection.close()
    with Record.open(target) as record, pytest.raises(RecordAltered, match="anchor"):
        replay(record)
