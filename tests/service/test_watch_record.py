"""``watch`` with its record: real processes, a real record, an adapter that is not plugged in."""

from __future__ import annotations

import os
import signal
from itertools import pairwise
from pathlib import Path
from typing import Any

from detached import until_gone
from plain_watch import longlace

from interlock.journal import Record
from interlock.service.config import Config
from interlock.service.place import Place
from interlock.service.shows import read_show
from interlock.service.spawn import start_desk
from interlock.watch.desk import Desk
from interlock.watch.inputs import Action, Anchor


def test_a_watch_ended_by_the_keyboard_leaves_a_whole_record_that_folds_again_to_the_same_lines(
    show: Path, watch: Any
) -> None:
    record = show.with_name("one.record")
    w = watch(str(show), "--journal", str(record))
    w.send(action="note", text="seen", by="Ilse")
    lines = w.until("operator")
    code, rest, err = w.end(signal.SIGINT)
    lines += rest
    assert code == 130
    assert [line["seq"] for line in lines] == list(range(len(lines)))
    verified = longlace("verify", str(record))
    assert (verified.returncode, verified.stderr) == (0, "")
    head = err.strip().rsplit(" ", 1)[-1]
    assert longlace("verify", str(record), "--head", head).returncode == 0
    assert longlace("verify", str(record), "--head", "0" * 64).returncode == 1
    with Record.open(record) as r:
        assert r.ended
        assert r.meta.show_source == show.read_text()
        inputs = [x for _, x in r.inputs()]
    assert isinstance(inputs[0], Anchor)
    desk = Desk(read_show(show), inputs[0])
    again = [line for x in inputs for line in desk.step(x)]
    assert [(line.seq, line.at) for line in again] == [(line["seq"], line["at"]) for line in lines]
    assert [x.text for x in inputs if isinstance(x, Action)] == [
        "seen",
        "the watch was ended by the keyboard (SIGINT)",
    ]
    refused = longlace("watch", str(show), "--journal", str(record), "--plain")
    assert refused.returncode == 2
    assert refused.stdout == ""
    assert str(record) in refused.stderr


def test_a_watch_that_was_killed_is_taken_up_with_its_record_where_it_was(show: Path, watch: Any) -> None:
    record = show.with_name("one.record")
    first = watch(str(show), "--journal", str(record))
    first.send(action="handover", by="Ilse", booth="north")
    before = first.until("operator")
    while True:  # what is on the disk has been there for a while: a kill loses at most the last 100 ms
        before.append(first.line())
        if len(before) > 20:
            break
    first.end(signal.SIGKILL)
    assert longlace("verify", str(record)).returncode == 1  # it has no end
    again = watch(str(show), "--journal", str(record))
    again.send(action="note", text="back")
    lines = again.until("operator")
    code, _, _ = again.end(signal.SIGINT)
    assert code == 130
    assert lines[0]["seq"] > before[0]["seq"]
    assert [line["seq"] for line in lines] == list(range(lines[0]["seq"], lines[0]["seq"] + len(lines)))
    assert lines[0]["at"] >= before[-5]["at"]
    assert longlace("verify", str(record)).returncode == 0
    with Record.open(record) as r:
        actions = [x.text or x.by for _, x in r.inputs() if isinstance(x, Action)]
        times = [x.at_s for _, x in r.inputs()]
    assert actions[:2] == ["Ilse", "back"]
    assert all(b >= a - 0.2 for a, b in pairwise(times)), "desk time went back"


def test_a_second_plain_watch_gets_a_snapshot_and_its_end_ends_only_itself(show: Path, watch: Any) -> None:
    first = watch(str(show))
    first.until("adapter")
    second = watch(str(show))
    snapshot = second.line()
    assert (snapshot["kind"], snapshot["phase"]) == ("show", "waiting")
    second.send(action="note", text="from the second")
    assert second.until("operator")[-1]["keys"] == {"text": "from the second"}
    second.send(action="explode")
    assert "explode" in second.until("error")[-1]["text"]
    assert second.end(signal.SIGINT)[0] == 130
    first.send(action="note", text="still here")
    said = [first.until("operator")[-1]["keys"]["text"] for _ in range(2)]
    assert said == ["from the second", "still here"]
    assert first.end(signal.SIGTERM)[0] == 0


def test_a_detached_watch_keeps_its_record_where_records_are_kept(show: Path) -> None:
    place = Place(show)
    start_desk(Config(str(show)), place)
    who = place.running()
    assert who is not None
    os.kill(who.pid, signal.SIGTERM)
    until_gone(place)
    listed = longlace("records")
    assert listed.returncode == 0
    assert "The Salt Ladder" in listed.stdout
    assert "ended" in listed.stdout
    assert len(listed.stdout.splitlines()) == 1


def test_a_folder_that_cannot_be_written_does_not_keep_the_show_from_being_watched(
    show: Path, watch: Any
) -> None:
    in_the_way = show.with_name("file")
    in_the_way.write_text("")
    w = watch(str(show), "--journal", str(in_the_way / "x.record"))
    alarm = next(line for line in iter(w.line, None) if line["kind"] == "alarm")
    assert (alarm["code"], alarm["subject"]) == ("record-failing", "desk")
    code, _, err = w.end(signal.SIGINT)
    assert code == 130
    assert "not on the disk" in err
