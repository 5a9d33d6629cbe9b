"""From the report alone it must be plain what happened, to which film, and what is not known."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from incident_records import cut, folded_again

from interlock.cli import run
from interlock.incident.recorded import read_record, refold_seconds, show_of
from interlock.incident.report import Report, make_report
from interlock.journal import Record
from interlock.watch.inputs import Action

Make = Callable[[str], Path]


def report_of(path: Path) -> Report:
    with Record.open(path) as record:
        return make_report(read_record(record))[0]


def test_a_trip_is_told_with_its_first_out_what_followed_and_the_film_in_every_gate(recorded: Make) -> None:
    """The scenario trips house 3 at 0:05:00; the crew stops all 1.5 s later and starts again after two minutes."""
    report = report_of(recorded("trip-in-mid-run"))
    assert len(report.sentences) == 3
    detail = report.details[0]
    assert detail.title == "run-lost on 3"
    assert detail.first_out.first_out
    assert detail.began_show_s is not None
    assert 300.0 <= detail.began_show_s <= 301.0
    followed = {(a.code, a.subject) for a in detail.followed}
    assert {("run-lost", "4"), ("run-lost", "1"), ("run-lost", "2"), ("slack-lost", "1>2")} <= followed
    # [D] House 3's gate holds, 300 s after show zero, what it ran less what was threaded before the first picture.
    gate = {g.house: g for g in detail.gates}
    with Record.open(recorded("trip-in-mid-run")) as record:
        show = read_record(record, course=False).show
    k = [h.id for h in show.houses].index("3")
    house = show.houses[k]
    earliest = 24.0 * (detail.began_show_s - house.ramp_s / 2.0 - 2.0) - show.first_picture_at_fr[k]
    assert gate["3"].frame is not None
    assert earliest <= gate["3"].frame <= earliest + 24.0 * 2.5
    assert gate["3"].part == "Lantern Weather, part one"
    feet, frames = divmod(int(gate["3"].frame), 16)
    assert gate["3"].footage == f"{feet}+{frames:02d}"
    stood = [i for i in detail.inspect if "gate of 3" in i.why]
    assert stood
    assert stood[0].from_frame <= gate["3"].frame <= stood[0].to_frame
    # The two loops between three gates hold the film between them.
    loops = {k.link: k for k in detail.loops}
    assert loops["4>3"].from_frame == gate["3"].frame
    assert loops["4>3"].to_frame == gate["4"].frame
    assert detail.answered.stopped is not None
    assert 1.5 <= detail.answered.stopped <= 5.0
    assert detail.answered.running is not None
    assert detail.answered.running > 120.0


def test_the_time_line_shows_the_contact_before_the_alarm_that_it_raised(recorded: Make) -> None:
    detail = report_of(recorded("trip-in-mid-run")).details[0]
    texts = [m.text for m in detail.moments]
    stands = texts.index("house 3: motor contact: stands")
    first_out = next(i for i, m in enumerate(detail.moments) if m.first_out)
    assert stands < first_out
    assert detail.moments[stands].kind == "reading"
    assert [m.at_s for m in detail.moments] == sorted(m.at_s for m in detail.moments)


def test_a_lamp_out_says_which_picture_was_without_light_and_for_how_long(recorded: Make) -> None:
    """The scenario puts house 1's lamp out at 0:06:00 for 30 s: 720 frames go by in the dark."""
    report = report_of(recorded("lamp-out"))
    detail = next(d for d in report.details if d.title == "lamp-out on 1")
    dark = detail.inspect[0]
    assert "without light" in dark.why
    assert dark.to_frame - dark.from_frame == pytest.approx(30 * 24, abs=24)
    assert detail.answered.gone == pytest.approx(30.0, abs=1.0)
    shut = next(d for d in report.details if d.title == "dowser-shut on 2")
    assert shut.inspect[0].from_frame >= 0


def test_a_creep_names_the_machine_and_how_far_off_it_was_measured(recorded: Make) -> None:
    """The scenario makes house 3 run 0.15 % fast: on 4>3 the film goes tight, on 3>1 the loop grows."""
    report = report_of(recorded("creep"))
    detail = next(d for d in report.details if "3" in d.title)
    facts = " ".join(detail.facts)
    assert "machine 3" in facts.lower()
    links = {k.link: k for k in report.links}
    assert links["4>3"].widest_fr is not None
    assert links["4>3"].widest_fr < 0
    assert links["3>1"].widest_fr is not None
    assert links["3>1"].widest_fr > 0


def test_a_lost_adapter_leaves_gaps_that_the_report_names(recorded: Make) -> None:
    """North (houses 4 and 3) is silent for 20 s from 0:02:00: that long nothing of it is known, and nothing is guessed."""
    report = report_of(recorded("adapter-lost"))
    lost = next(
        d for d in report.details if any(a.code == "adapter-lost" for a in (d.first_out, *d.followed))
    )
    assert any("house 4" in x and "run" in x for x in lost.unknown)
    spans = [(s.to_s or 0.0) - s.from_s for s in report.unknown if s.subject == "link 4>3"]
    assert spans
    assert spans[0] == pytest.approx(20.0, abs=2.5)
    assert any("began anew" in row for row in report.adapters)
    assert not lost.inspect


def test_a_tear_says_what_the_switch_and_the_machines_said_and_where_the_film_was(recorded: Make) -> None:
    report = report_of(recorded("tear"))
    detail = report.details[0]
    assert "4>3" in detail.title
    assert "switch" in " ".join(detail.sentences)
    assert "the film between them is apart" in detail.facts[0]
    assert "cannot tell which" in detail.facts[0]
    assert any("4>3" in i.why for i in detail.inspect)
    assert not detail.ended
    assert "not all of its conditions were over" in detail.sentences[2]
    assert "No action of a person is in the record" in detail.sentences[2]


def test_what_people_did_is_told_with_its_time_and_never_as_a_fault(recorded: Make, tmp_path: Path) -> None:
    source, target = recorded("trip-in-mid-run"), tmp_path / "acted.record"
    before = report_of(source).details[0]
    with Record.open(source) as record:
        anchor = next(x for _, x in record.inputs())
    began = before.first_out.true_s - anchor.wall_s + anchor.at_s  # type: ignore[union-attr]
    folded_again(
        source,
        target,
        [
            Action(began - 30.0, "note", text="belt of 3 squeals", by="Ada", booth="north"),
            Action(began + 4.0, "ack", subject="3", code="run-lost", by="Ada"),
            Action(began + 9.0, "note", text="thermal switch was hot", by="Ada"),
        ],
    )
    detail = report_of(target).details[0]
    assert detail.answered.person == pytest.approx(4.0, abs=0.01)
    assert detail.answered.acknowledged == pytest.approx(4.0, abs=0.01)
    assert "acknowledged after 4.0 s" in detail.sentences[2]
    assert any("belt of 3 squeals" in f for f in detail.facts)
    assert any(m.kind == "operator" and "thermal switch" in m.text for m in detail.moments)
    words = json.dumps([detail.sentences, detail.facts]).lower()
    assert not any(
        w in words for w in ("fault of", "blame", "failed to", "should have", "negligen", "guilty")
    )


def test_the_report_of_a_record_that_was_cut_off_says_so_and_tells_what_there_is(
    recorded: Make, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "cut.record"
    target.write_bytes(recorded("trip-in-mid-run").read_bytes())
    cut(target)
    report = report_of(target)
    assert report.cut
    assert "cut off" in report.sentences[0]
    assert report.details[0].title == "run-lost on 3"
    assert run(["report", str(target)]) == 0
    assert "NO END MARK" in capsys.readouterr().out


def test_a_record_that_was_killed_before_its_first_input_says_that_nothing_is_in_it(
    recorded: Make, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "begun.record"
    target.write_bytes(recorded("tear").read_bytes())
    connection = sqlite3.connect(target)
    with connection:
        connection.execute("DELETE FROM batches WHERE n > 0")
        connection.execute("DELETE FROM lines")
    connection.close()
    report = report_of(target)
    assert "cut off" in report.sentences[0]
    assert report.sentences[1] == "Not one event is in it."
    assert run(["report", str(target)]) == 0
    out = capsys.readouterr().out
    assert "No alarm was raised" not in out
    assert "folded anew" not in out


def test_a_record_with_a_damaged_middle_is_reported_up_to_there(recorded: Make, tmp_path: Path) -> None:
    target = tmp_path / "damaged.record"
    target.write_bytes(recorded("trip-in-mid-run").read_bytes())
    connection = sqlite3.connect(target)
    with connection:
        n = connection.execute("SELECT max(n) FROM lines").fetchone()[0]
        connection.execute("UPDATE lines SET data = '[[' WHERE n = ?", (n,))
    connection.close()
    report = report_of(target)
    assert report.damage is not None
    assert f"batch {n}" in report.damage


def test_the_json_is_one_document_with_null_for_what_is_not_known(
    recorded: Make, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["report", str(recorded("adapter-lost")), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["title"] == "Lantern Weather (short programme)"
    assert found["people"] == {}
    assert len(found["head"]) == 64
    with Record.open(recorded("adapter-lost")) as record:
        assert found["head"] == record.head
    lost = [d for d in found["details"] if "adapter-lost" in json.dumps(d["followed"])]
    assert lost[0]["answered"]["person_s"] is None


def test_the_seconds_that_the_record_keeps_are_those_that_a_fold_gives(recorded: Make) -> None:
    with Record.open(recorded("tear")) as record:
        kept = list(record.seconds())
        again = list(refold_seconds(show_of(record.meta), True, (x for _, x in record.inputs())))
    assert len(kept) > 500
    assert [s.at for s in kept] == [s.at for s in again]
    for a, b in zip(kept, again, strict=True):
        for x, y in zip([*a.houses, *a.links], [*b.houses, *b.links], strict=True):
            assert x == tuple(None if v is None else pytest.approx(v, abs=0.0051) for v in y)
