"""What stands on the sheets, in HTML and in Markdown; nothing from outside becomes markup."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from pathlib import Path

import pytest
from markdown_it import MarkdownIt
from threading_shows import a_show

from interlock.cli import run
from interlock.plan import cautions
from interlock.plan.sheets.write import files
from interlock.showfile.show import Show

HOSTILE = '<script>alert(1)</script> & "quoted" *stars* [link](x) | pipe'


class Page(HTMLParser):
    """Text, tags and attributes of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.words, self.tags, self.attributes = "", [], []  # type: ignore[var-annotated]
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.words += f" {data}"


def plain(text: str) -> str:
    """One line, without the escapes of Markdown."""
    return re.sub(r"\s+", " ", re.sub(r"\\(.)", r"\1", text.replace("&lt;", "<").replace("&amp;", "&")))


def made(show: Show) -> dict[str, str]:
    return files(show, 1_790_000_000.0)


@pytest.fixture(scope="module")
def show() -> Show:
    return a_show(
        4,
        rollers=9,
        house_keys={"2": f"name = '{HOSTILE}'", "4": "lit = false"},
        link_keys={
            "1>2": 'crosses = ["doorway"]\ncrosses_at = ["30 ft"]\nrise = "9 ft"\ntables = ["35 ft"]\nwired = true',
            "2>3": f"crosses = ['{HOSTILE}']\nstuck = [4]",
        },
    )


@pytest.fixture(scope="module")
def texts(show: Show) -> dict[str, str]:
    return made(show)


def test_there_is_a_sheet_for_everybody_in_both_forms(texts: dict[str, str]) -> None:
    sheets = ["threading", "start", "times", "cues", "cues-1", "cues-2", "cues-3", "cues-4"]
    assert set(texts) == {f"{s}.{form}" for s in sheets for form in ("html", "md")} | {
        "path.svg",
        "evening.svg",
        "times.ics",
    }


def test_text_from_outside_is_text_on_every_sheet(texts: dict[str, str]) -> None:
    for name, text in texts.items():
        if name.endswith((".html", ".svg")):
            page = Page(text)
            assert "script" not in page.tags, name
            assert not [a for a, _ in page.attributes if a.startswith("on")], name
        if name.endswith(".md"):
            page = Page(MarkdownIt("commonmark").enable("table").render(text))
            assert not set(page.tags) & {"script", "a", "em", "code"}, name
    assert HOSTILE in re.sub(r"\s+", " ", Page(texts["cues-2.html"]).words)
    rendered = MarkdownIt("commonmark").enable("table").render(texts["cues-2.md"])
    assert HOSTILE in re.sub(r"\s+", " ", Page(rendered).words)


def test_pages_and_pictures_need_nothing_else(texts: dict[str, str]) -> None:
    for name, text in texts.items():
        if name.endswith((".html", ".svg")):
            page = Page(text)
            assert not set(page.tags) & {"script", "link", "img", "iframe", "object", "embed", "base"}, name
            assert not [v for a, v in page.attributes if a in {"src", "href", "xlink:href"}], name
            assert "url(" not in text, name
        if name.endswith(".svg"):
            assert ET.fromstring(text).tag == "{http://www.w3.org/2000/svg}svg"


def test_every_roller_table_and_hazard_is_on_the_threading_sheet_where_it_is_met(
    texts: dict[str, str],
) -> None:
    lines = [plain(line) for line in texts["threading.md"].splitlines()]
    begin = lines.index("**1>2, 80 ft, 90°**")
    end = next(i for i in range(begin + 2, len(lines)) if lines[i].startswith("**"))
    met = [line.removeprefix("- [ ] ") for line in lines[begin + 2 : end] if line.startswith("- [ ]")]
    assert met == [
        "▲ 13 ft high, out of reach",
        "↑ 9 ft up",
        "1",
        "2",
        "3",
        "▲ doorway at 30 ft",
        "4",
        "table 35 ft",
        "5",
        "6",
        "7",
        "8",
        "9",
        "↓ 9 ft down",
        f"past {HOSTILE}, open; laced later",
    ]
    assert "- [ ] 4 DOES NOT TURN" in lines
    assert sum(line.startswith("- [ ] ") and line[6].isdigit() for line in lines) == 5 + 27 + 5


def test_markdown_escapes_no_number_where_it_cannot_be_markup(texts: dict[str, str]) -> None:
    for name in ("threading.md", "start.md", "cues-1.md"):
        assert not re.search(r"\d\\[.)]|\\-\d", texts[name]), name
    assert re.search(r"^## 1\. From ", texts["threading.md"], re.MULTILINE)
    assert "| 2.0 s |" in texts["start.md"]


def test_rollers_are_met_once_however_the_path_is_cut() -> None:
    show = a_show(8, rollers=14, link_keys={"4>5": 'tables = ["16 ft", "32 ft", "48 ft"]'})
    met = [
        line
        for line in made(show)["threading.md"].splitlines()
        if re.match(r"- \\\[ \\\] \d|- \[ \] \d", line)
    ]
    assert len(met) == 5 + 7 * 14 + 5


def test_cautions_stand_where_they_apply(texts: dict[str, str]) -> None:
    threading = plain(texts["threading.md"])
    for words in (cautions.EXITS, cautions.HEIGHTS, cautions.NIP_POINTS, cautions.WATCHES, cautions.DEFERS):
        assert words in threading
    harmless = plain(made(a_show(2))["threading.md"])
    assert cautions.EXITS not in harmless
    assert cautions.HEIGHTS not in harmless
    assert cautions.WATCHES in harmless
    for name in ("start", "cues", "cues-1"):
        for words in (cautions.LAMPS, cautions.GATE, cautions.WATCHES, cautions.DEFERS):
            assert words in plain(texts[f"{name}.md"])
            assert words in re.sub(r"\s+", " ", Page(texts[f"{name}.html"]).words)


def test_the_sheets_name_the_rules_that_the_reference_names(texts: dict[str, str]) -> None:
    """[P] reference.md, "Cautions the tool repeats where they apply"."""
    threading, start = plain(texts["threading.md"]), plain(texts["start.md"])
    for rule in ("1910.37(a)(3)", "NFPA 101 7.1.10", "1910.212(a)(1)", "1910.28(b)(1)(i)", "1910.23(b)(12)"):
        assert rule in threading
    for rule in ("1910.133", "10 minutes", "within seconds", "NFPA 40", "1910.212(a)(1)"):
        assert rule in start
    for said in (threading, start):
        assert "safety device" in said
        assert "Local codes and licensed practice decide" in said


def test_no_setting_of_a_show_file_switches_the_cautions_off() -> None:
    quiet = a_show(
        3,
        link_keys={"1>2": 'crosses = ["stair"]\nrise = "12 ft"'},
        more='[threading]\nreach = "8 ft"\ngate_height = "0 ft"\nhand = "1000 N"\nsplice = "1000 N"\n',
    )
    said = plain(made(quiet)["threading.md"])
    assert cautions.EXITS in said
    assert cautions.HEIGHTS in said


def test_a_dark_house_is_told_so_and_has_no_lamp_cues(texts: dict[str, str]) -> None:
    said = plain(texts["cues-4.md"])
    assert "No picture is wanted in this house" in said
    assert "strike the lamp" not in said
    assert "motor off" in said


def test_a_lamp_that_is_struck_before_the_motors_start_is_not_cold_on_the_start_card() -> None:
    """show-file.md: a lamp is struck `lamp_lead` before the first picture frame is in the gate."""
    early = a_show(3, house_keys={"1": 'lamp_lead = "10 min"'})
    first = plain(made(early)["start.md"])
    assert re.search(r"dowsers shut, lamps cold, but for 1 \(\d\d:\d\d:\d\d\)", first)
    assert "dowsers shut, lamps cold -" in plain(
        made(a_show(3, house_keys={"1": 'lamp_lead = "0 s"'}))["start.md"]
    )


def test_wired_stops_are_bypassed_on_the_sheet_of_the_machine_upstream(texts: dict[str, str]) -> None:
    assert "bypass the wired stop 1>2, then motor off" in plain(texts["cues-1.md"])
    assert "bypass" not in plain(texts["cues-2.md"])
    assert "bypass the wired stop 1>2, then motor off" in plain(texts["cues.md"])


def test_the_leads_cues_are_all_houses_cues_in_time_order(texts: dict[str, str]) -> None:
    def rows(name: str) -> list[str]:
        return [line for line in texts[name].splitlines() if re.match(r"\| ☐ \| [\d-]", line)]

    lead = rows("cues.md")
    assert len(lead) == sum(len(rows(f"cues-{k}.md")) for k in (1, 2, 3, 4)) > 12
    times = [row.split("|")[2].strip() for row in lead]
    assert times == sorted(times)


def test_the_commands_files_are_named_and_what_is_wrong_goes_to_standard_error(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from threading_shows import a_text  # noqa: PLC0415

    file = tmp_path / "show.toml"
    file.write_text(a_text(2, tail="10 ft"), encoding="utf-8")
    assert run(["sheets", str(file), "--out", str(tmp_path / "a" / "b")]) == 0
    out, err = capsys.readouterr()
    named = [Path(line) for line in out.splitlines()]
    assert all(path.is_file() for path in named)
    assert {path.name for path in named} == {path.name for path in (tmp_path / "a" / "b").iterdir()}
    assert "The tail is too short" in err


def test_a_folder_that_cannot_be_made_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from threading_shows import a_text  # noqa: PLC0415

    file = tmp_path / "show.toml"
    file.write_text(a_text(2), encoding="utf-8")
    assert run(["sheets", str(file), "--out", str(file)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "the sheets cannot be written" in err
    assert err.count("\n") == 1
