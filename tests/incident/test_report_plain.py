"""What fresh eyes missed in the reports, and what is said now: which film, whose clock, what an adapter would have said."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from incident_records import folded_again

from interlock.incident.html import html
from interlock.incident.markdown import markdown
from interlock.incident.recorded import read_record
from interlock.incident.report import Drawn, Report, make_report
from interlock.incident.rows import inspect_rows, link_row, unknown_head, unknown_rows
from interlock.incident.told import plus_minus
from interlock.journal import Record
from interlock.watch.inputs import Action

Make = Callable[[str], Path]


def made(path: Path) -> tuple[Report, Drawn]:
    with Record.open(path) as record:
        return make_report(read_record(record))


def test_the_limit_that_was_reached_first_is_told_although_milder_alarms_came_later(recorded: Make) -> None:
    """On 1>2 the limit is reached 2 s after the trip, and three quarters of it are used again after the restart."""
    detail = made(recorded("trip-in-mid-run"))[0].details[0]
    loops = [i for i in detail.inspect if "gates of 1>2" in i.why]
    assert [i.why for i in loops] == ["was between the gates of 1>2 when its limit was reached"] * len(loops)
    assert loops[0].after_s == pytest.approx(2.0, abs=0.5)
    gate = {g.house: g for g in detail.gates}
    assert gate["2"].frame is not None
    # 2 s later the gate of 2 is 48 frames on; the survey's 1-sigma (24 frames) is taken off the stretch's beginning.
    assert loops[0].from_frame == pytest.approx(gate["2"].frame + 48 - (gate["2"].sigma_fr or 0.0), abs=8)


def test_the_film_is_named_in_the_first_three_sentences_and_in_those_of_the_incident(recorded: Make) -> None:
    report = made(recorded("trip-in-mid-run"))[0]
    detail = report.details[0]
    low = min(i.from_frame for i in detail.inspect)
    lowest = next(i for i in detail.inspect if i.from_frame == low)
    for sentences in (report.sentences, detail.sentences):
        assert len(sentences) == 3
        assert (
            f"film to inspect: {len(detail.inspect)} stretches between {lowest.from_footage}" in sentences[2]
        )
    assert "“Lantern Weather, part one” in that gate" in report.sentences[1]


def test_film_that_passed_in_the_dark_is_parted_from_film_to_inspect(recorded: Make) -> None:
    report, drawn = made(recorded("lamp-out"))
    detail = next(d for d in report.details if d.title == "lamp-out on 1")
    assert inspect_rows(detail, unseen=False) == []
    ((low, high, parts, why, sure),) = inspect_rows(detail, unseen=True)
    assert (parts, why) == (
        "Lantern Weather, part one",
        "passed the gate of 1 without light (at its beginning)",
    )
    assert sure == f"± {detail.inspect[0].sigma_fr:.1f}"
    assert f"passed without its picture being seen: {low} to {high}" in detail.sentences[2]
    for text in (html(report, drawn, {}), markdown(report, {})):
        assert "Film that passed without its picture" in text


def test_a_lamp_is_told_by_its_contacts_and_not_by_loops_that_have_no_part_in_it(recorded: Make) -> None:
    report, drawn = made(recorded("lamp-out"))
    detail = next(d for d in report.details if d.title == "lamp-out on 1")
    assert not any("drift" in f for f in detail.facts)
    page = html(report, drawn, {}).split(f"<h2>{detail.number}. ")[1].split("<h2>")[0]
    assert "House 1: contacts over show time" in page
    assert "drift in frames" not in page
    # The readings are shown to the end of an incident that is over soon, its last word among them.
    readings = [m.text for m in detail.moments if m.kind == "reading"]
    assert [x for x in readings if x.startswith("house 1: lamp")] == [
        "house 1: lamp contact: out",
        "house 1: lamp contact: lit",
    ]


def test_all_times_of_day_are_the_shows_own(recorded: Make) -> None:
    """The Azores are an hour behind UTC in December: north falls silent at 19:27 there, 20:27 in Greenwich."""
    report = made(recorded("adapter-lost"))[0]
    assert "at 19:27:00" in report.sentences[1]
    assert unknown_head(report)[1] == "from (Atlantic/Azores)"
    assert unknown_rows(report)[0][1].startswith("19:27:0")


def test_a_lost_adapter_is_told_with_everything_that_it_would_have_spoken_for(recorded: Make) -> None:
    report, drawn = made(recorded("adapter-lost"))
    detail = report.details[0]
    told = [f for f in detail.facts if f.startswith("Adapter north speaks for")]
    assert len(told) == 1
    assert "houses 4 and 3 and the switches or arms of 4>3 and 3>1" in told[0]
    assert "neither that they were well nor that they were not" in told[0]
    page = html(report, drawn, {}).split(f"<h2>{detail.number}. ")[1].split("<h2>")[0]
    for chart in ("House 4: contacts", "House 3: contacts", "Link 4&gt;3: drift", "Link 3&gt;1: drift"):
        assert chart in page
    assert "House 1: contacts" not in page
    # Two bars with a gap between them: before the silence and after it.
    svg = page.split("House 4: contacts")[1].split("</svg>")[0]
    turns = svg.split("run: turns")[1].split('class="on" d="')[1].split('"')[0]
    assert turns.count("M") == 2
    # Nor do the counters' own lines go on through it, straight as if somebody had counted.
    fine = page.split("Link 4&gt;3: drift")[1].split('class="fine" d="')[1].split('"')[0]
    assert fine.count("M") == 2


def test_a_switch_that_closed_stands_beside_the_drift_that_the_machines_made(recorded: Make) -> None:
    """At the tear the machines alone never use more than 38 % of 4>3, and its spill switch closes all the same."""
    row = next(link_row(k) for k in made(recorded("tear"))[0].links if k.link == "4>3")
    assert "its spill switch closed at 0:04:00.4" in row[2]


def test_what_a_person_said_of_the_film_and_what_was_refused_are_told_as_such(
    recorded: Make, tmp_path: Path
) -> None:
    source, target = recorded("tear"), tmp_path / "said.record"
    before = made(source)[0].details[0]
    with Record.open(source) as record:
        first = next(x for _, x in record.inputs())
    began = before.first_out.true_s - first.wall_s + first.at_s  # type: ignore[union-attr]
    folded_again(
        source,
        target,
        [
            Action(began + 5.0, "ack", subject="2", code="lamp-out", by="Ada"),
            Action(began + 9.0, "parted", link="4>3", by="Ada"),
        ],
    )
    detail = made(target)[0].details[0]
    assert detail.answered.person_did is not None
    assert detail.answered.person_did.startswith("ack lamp-out 2 (refused: ")
    assert any(
        f.startswith("9.0 s after its beginning the film of 4>3 was taken to be apart, by the word of Ada")
        for f in detail.facts
    )
    assert "link 4>3: drift (the film was taken to be apart)" in detail.unknown


def test_the_same_advice_is_written_out_once_and_alarms_bear_the_numbers_of_the_charts(
    recorded: Make,
) -> None:
    detail = made(recorded("trip-in-mid-run"))[0].details[0]
    came = [m.text for m in detail.moments if m.kind == "alarm" and m.text[0].isdigit()]
    assert [x.split(".")[0] for x in came] == [str(n) for n in range(1, len(came) + 1)]
    assert sum("Stop all, dowsers shut. By hand" in x for x in came) == 1
    assert sum(x.endswith("(to do: as above)") for x in came) > 3


def test_what_is_known_well_is_never_said_to_be_known_perfectly() -> None:
    assert [plus_minus(x) for x in (0.8, 0.04, 0.0)] == ["± 0.8", "± 0.04", "± 0.01"]


def test_a_show_without_an_incident_says_so_and_how_near_it_came(recorded: Make) -> None:
    report, drawn = made(recorded("none"))
    assert report.sentences[1] == "No alarm was raised in it."
    assert report.sentences[2].startswith("The link that used most of a limit was 4>3: 38 %, at show time ")
    page = html(report, drawn, {})
    assert page.count("drift in frames over show time") == 3
    assert '<h2>Incidents</h2><p class="none">none</p>' in page
