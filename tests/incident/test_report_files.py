"""The report as a file: self-contained, escaped, small, and what people add stays in it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from incident_records import folded_again

from interlock.cli import run
from interlock.incident.chart import Strip, columns, strip
from interlock.incident.people import kept, tidy
from interlock.journal import Record
from interlock.watch.inputs import Action

Make = Callable[[str], Path]
HOSTILE = '</div><script>alert("x")</script><img src=x onerror=alert(1)>'


class Seen(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attrs: list[tuple[str, str | None]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attrs += attrs

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def seen(text: str) -> Seen:
    parser = Seen()
    parser.feed(text)
    parser.close()
    return parser


def test_the_html_runs_no_script_and_fetches_nothing(recorded: Make, tmp_path: Path) -> None:
    out = tmp_path / "r.html"
    assert run(["report", str(recorded("trip-in-mid-run")), "--out", str(out)]) == 0
    page = seen(out.read_text())
    assert "svg" in page.tags
    assert not {"script", "link", "img", "iframe", "object"} & set(page.tags)
    assert not [name for name, _ in page.attrs if name in ("src", "href") or name.startswith("on")]
    assert "url(" not in out.read_text()
    assert "@media print" in out.read_text()


@pytest.mark.parametrize("suffix", ["html", "md"])
def test_hostile_names_and_notes_are_shown_as_text(recorded: Make, tmp_path: Path, suffix: str) -> None:
    source, target, out = recorded("tear"), tmp_path / "h.record", tmp_path / f"h.{suffix}"
    with Record.open(source) as record:
        show = record.meta.show_source
        at_s = max(x.at_s for _, x in record.inputs()) - 300.0
    evil = show.replace("Lantern Weather, part one", HOSTILE.replace('"', "'"))
    evil = evil.replace("Lantern Weather (short programme)", "<b>x</b> & `y` | z")
    folded_again(source, target, [Action(at_s, "note", text=HOSTILE, by="<i>")], show_source=evil)
    assert run(["report", str(target), "--out", str(out)]) == 0
    page = seen(out.read_text())
    assert not {"script", "img", "i"} & set(page.tags)
    if suffix == "html":
        assert "alert" in "".join(page.text)


@pytest.mark.parametrize("suffix", ["html", "md", "json"])
def test_what_people_wrote_stays_when_the_report_is_made_again(
    recorded: Make, tmp_path: Path, suffix: str
) -> None:
    journal, out = str(recorded("trip-in-mid-run")), tmp_path / f"r.{suffix}"
    assert run(["report", journal, "--out", str(out)]) == 0
    text = out.read_text()
    told = "Splice at 315+07 looked at: scratched <left> & bent.\nAda, 22:10"
    place = re.search(r"run-lost/3@\d+/film", text) or re.search(r"run-lost/3@\d+", text)
    assert place is not None
    if suffix == "html":
        escaped = told.replace("&", "&amp;").replace("<", "&lt;").replace("\n", "<br>")
        text = text.replace(f'data-place="{place[0]}"></div>', f'data-place="{place[0]}">{escaped}</div>')
    elif suffix == "md":
        text = text.replace(f"<!-- people {place[0]} -->\n", f"<!-- people {place[0]} -->\n{told}")
    else:
        found = json.loads(text)
        found["people"] = {f"{place[0]}/film": told, "an/old/place": "still here"}
        text = json.dumps(found)
    out.write_text(text)
    for _ in range(2):
        assert run(["report", journal, "--out", str(out)]) == 0
        report_id = re.search(r"[0-9a-f]{16}", out.read_text())
        assert report_id is not None
        people = kept(out, _id(out))
        assert told in people.values()
    if suffix == "json":
        assert people["an/old/place"] == "still here"


def _id(out: Path) -> str:
    text = out.read_text()
    found = (
        re.search(r'name="longlace-report" content="([0-9a-f]{16})"', text)
        or re.search(r"<!-- longlace-report ([0-9a-f]{16}) -->", text)
        or re.search(r'"id": "([0-9a-f]{16})"', text)
    )
    assert found is not None
    return found[1]


def test_a_text_as_a_browser_saves_it_is_read_line_by_line(recorded: Make, tmp_path: Path) -> None:
    out = tmp_path / "r.html"
    assert run(["report", str(recorded("tear")), "--out", str(out)]) == 0
    text = out.read_text()
    box = 'data-place="show/present"></div>'
    assert box in text
    out.write_text(
        text.replace(box, 'data-place="show/present">Ada<div>Ben, <b>north</b></div><div>Cy</div></div>')
    )
    assert kept(out, _id(out))["show/present"] == "Ada\nBen, north\nCy"


def test_a_file_that_is_something_else_is_never_written_over(
    recorded: Make, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine = tmp_path / "diary.md"
    mine.write_text("Dear diary")
    assert run(["report", str(recorded("tear")), "--out", str(mine)]) == 2
    assert "no report of this program" in capsys.readouterr().err
    assert mine.read_text() == "Dear diary"
    other = tmp_path / "other.html"
    assert run(["report", str(recorded("creep")), "--out", str(other)]) == 0
    before = other.read_text()
    assert run(["report", str(recorded("tear")), "--out", str(other)]) == 2
    assert "another record" in capsys.readouterr().err
    assert other.read_text() == before
    assert run(["report", str(recorded("tear")), "--out", str(tmp_path / "x.pdf")]) == 2
    assert ".html, .md or .json" in capsys.readouterr().err


def test_every_place_for_people_is_in_the_html_and_the_markdown(recorded: Make, tmp_path: Path) -> None:
    out = tmp_path / "r.html"
    assert run(["report", str(recorded("lamp-out")), "--out", str(out)]) == 0
    places = [v for k, v in seen(out.read_text()).attrs if k == "data-place"]
    md = tmp_path / "r.md"
    assert run(["report", str(recorded("lamp-out")), "--out", str(md)]) == 0
    assert len(places) == len(set(places)) > 6
    assert re.findall(r"<!-- people (\S+) -->", md.read_text()) == places


@given(st.text(max_size=300))
def test_tidied_text_is_stable_and_has_no_control_characters(text: str) -> None:
    once = tidy(text)
    assert tidy(once) == once
    assert all(c == "\n" or c.isprintable() or c.isspace() for c in once)


def test_fifteen_charts_of_four_noisy_hours_are_small() -> None:
    rng = np.random.default_rng(1)
    x = np.arange(4 * 3600, dtype=float)
    charts = "".join(
        strip(Strip("4>3", x, rng.normal(0.0, 15.0, len(x)), np.full(len(x), 0.5), 48.0, 48.0))
        for _ in range(15)
    )
    assert len(charts) < 400_000


def test_an_excursion_of_one_second_in_four_hours_is_drawn() -> None:
    x = np.arange(4 * 3600, dtype=float)
    y = np.zeros(len(x))
    y[7777] = 40.0
    middle, least, greatest = columns(x, y, y, 600)
    assert greatest.max() == 40.0
    assert abs(float(middle[greatest.argmax()]) - 7777.0) < 24.0
    assert least.max() == 0.0
    level = strip(Strip("t", x, np.zeros(len(x)), np.zeros(len(x)), 48.0, 48.0))
    assert len(strip(Strip("t", x, y, np.zeros(len(x)), 48.0, 48.0))) > len(level)


def test_a_gap_in_the_drift_is_a_gap_in_the_line() -> None:
    x = np.arange(600, dtype=float)
    y = np.zeros(len(x))
    y[200:300] = np.nan
    drawn = strip(Strip("t", x, y, np.zeros(len(x)), 48.0, 48.0))
    line = re.search(r'class="line" d="([^"]*)"', drawn)
    assert line is not None
    assert line[1].count("M") == 2


def test_a_level_line_is_drawn_from_end_to_end() -> None:
    x = np.arange(600, dtype=float)
    drawn = strip(Strip("t", x, np.full(len(x), 10.0), np.zeros(len(x)), 48.0, 48.0))
    line = re.search(r'class="line" d="M([\d.]+) [\d.]+h([\d.]+)', drawn)
    assert line is not None
    assert float(line[2]) > 600.0
