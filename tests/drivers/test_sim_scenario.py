"""Scenarios: every mistake by its line, and the ones that are shipped run as they are."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sim_specs import booth_spec, spec_of

from drivers.simulator import quantity
from drivers.simulator.faults_booth import Creep, Trip
from drivers.simulator.scenario import Scenario, load_scenario, parse_scenario
from interlock.errors import ScenarioError
from interlock.showfile.load import load_show

SHIPPED = sorted((Path(__file__).parents[2] / "configs" / "scenarios").glob("*.toml"))


def mistakes(text: str) -> list[str]:
    with pytest.raises(ScenarioError) as error:
        parse_scenario(text, "s.toml")
    return str(error.value).split("\n")


def test_a_scenario_is_read_as_it_is_written() -> None:
    s = parse_scenario(
        'title = "x"\ncrew_stops_after = "2 s"\n[[fault]]\nat = "00:12:30"\nkind = "trip"\nhouse = "3"\n'
        '[[fault]]\nkind = "creep"\nhouse = "5"\nby = "+0.15 %"\nfor = "10 min"\n'
    )
    assert s.faults == (Trip(at="00:12:30", house="3"), Creep(house="5", by="+0.15 %", **{"for": "10 min"}))
    assert s.faults[0].at_s == 750
    assert (s.title, s.crew_stops_after_s, s.crew_restarts_after_s, s.lines) == ("x", 2.0, None, (3, 7))


def test_every_mistake_is_told_at_once_by_its_line() -> None:
    found = mistakes(
        'titel = "x"\ncrew_stops_after = 3\n[[fault]]\nkind = "trip"\nhouse = "9"\n\n'
        '[[fault]]\nkind = "creep"\nat = 3\nby = "0.15"\nhous = "3"\n[[fault]]\nkind = "zap"\n[[fault]]\nhouse = "1"\n'
    )
    assert [m.split(": ")[0:2] for m in found] == [
        ["s.toml:1", "titel"], ["s.toml:2", "crew_stops_after"], ["s.toml:3", "at"], ["s.toml:7", "house"],
        ["s.toml:9", "at"], ["s.toml:10", "by"], ["s.toml:11", "hous"], ["s.toml:13", "kind"], ["s.toml:14", "kind"],
    ]  # fmt: skip
    assert "is it title?" in found[0]
    assert 'expected a time with its unit, as in "1.4 s"' in found[1]
    assert 'found "0.15", expected a share with its unit, as in "+0.15 %"' in found[5]


@pytest.mark.parametrize(
    ("text", "line"),
    [("[[fault]]\nkind = \n", 2), ('title = "a\n', 1), ("[[fault]]\nkind == 3\n", 2), ("fault = [", 1)],
)
def test_what_is_no_toml_is_told_by_its_line(text: str, line: int) -> None:
    assert mistakes(text)[0].startswith(f"s.toml:{line}: file: no TOML")


def test_a_table_that_is_of_no_scenario_is_told_by_its_line() -> None:
    assert mistakes('title = "x"\n[booth]\na = 1\n[[fault]]\nkind = "no-start"\nhouse = "1"\n')[0].startswith(
        "s.toml:2: booth: is no key of a scenario"
    )


def test_a_file_that_cannot_be_read_is_a_mistake_too(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(ScenarioError):
            load_scenario(path)
    bad = tmp_path / "bad.toml"
    bad.write_bytes(b"title = 'x'\n# \xff\n")
    with pytest.raises(ScenarioError, match=r"bad.toml:2: file: .*UTF-8"):
        load_scenario(bad)


def test_a_fault_that_names_what_the_show_has_not_is_told_by_its_line() -> None:
    s = parse_scenario(
        '[[fault]]\nkind = "no-start"\nhouse = "7"\n[[fault]]\nkind = "restart-on-strike"\nadapter = "north"\n'
        '[[fault]]\nkind = "when-tight"\nlink = "3>2"\nthen = "parts"\n[[fault]]\nkind = "no-start"\nhouse = "1"\n'
    )
    with pytest.raises(ScenarioError) as error:
        s.check(booth_spec(3))
    assert str(error.value).split("\n") == [
        'scenario:1: house: found "7", this show has: 1, 2, 3',
        'scenario:4: adapter: found "north", this show has: a1, a2',
        'scenario:7: link: found "3>2", this show has: 1>2, 2>3',
    ]


def test_with_the_show_at_hand_every_mistake_is_told_at_once_each_by_its_own_line() -> None:
    text = (
        'titel = "x"\n[[fault]]\nkind = "trip"\nhouse = "7"\nat = "soon"\n[[fault]]\nkind = "creep"\nat = "00:01:00"\n'
        'hose = "1"\nby = "+1 %"\n[[fault]]\nkind = "no-start"\nhouse = "9"\n[[fault]]\nkind = "melt"\nhouse = "8"\n'
        '[[fault]]\nkind = "dead-counter"\nat = "nine"\nhouse = "6"\n'
    )
    with pytest.raises(ScenarioError) as error:
        parse_scenario(text, spec=booth_spec(3))
    told = str(error.value).split("\n")
    assert [(t.split(":")[1], t.split(": ")[1]) for t in told] == [
        ("1", "titel"), ("4", "house"), ("5", "at"), ("6", "house"), ("9", "hose"), ("13", "house"), ("15", "kind"),
        ("16", "house"), ("19", "at"), ("20", "house"),
    ]  # fmt: skip
    assert told[1] == 'scenario:4: house: found "7", this show has: 1, 2, 3'
    good = '[[fault]]\nkind = "no-start"\nhouse = "1"\n'
    assert parse_scenario(good, spec=booth_spec(3)) == parse_scenario(good)


@given(st.text(max_size=200))
def test_no_text_does_anything_but_be_a_scenario_or_a_scenario_error(text: str) -> None:
    try:
        read = parse_scenario(text)
    except ScenarioError as error:
        assert error.mistakes  # noqa: PT017  either outcome is right, an empty error is not
        return
    assert isinstance(read, Scenario)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_the_scenarios_that_are_shipped_are_without_mistakes_and_fit_the_demo(path: Path) -> None:
    s = load_scenario(path)
    assert s.title
    assert s.faults
    s.check(spec_of(load_show(SHIPPED[0].parents[1] / "demo.toml")))


def test_there_is_a_scenario_for_each_thing_that_really_happens() -> None:
    names = {p.stem for p in SHIPPED}
    assert names >= {
        "trip-in-mid-run", "late-start", "lamp-out", "creep", "adapter-lost", "tear", "platter", "demo",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("parse", "text", "value"),
    [
        (quantity.time_s, "1.4 s", 1.4), (quantity.time_s, "-5 s", -5), (quantity.time_s, "00:12:30", 750),
        (quantity.time_s, "-0:00:20.5", -20.5), (quantity.span_s, "80 ms", 0.08), (quantity.span_s, "10 min", 600),
        (quantity.share, "+0.15 %", 0.0015), (quantity.portion, "5 %", 0.05), (quantity.speed_fps, "22 fps", 22),
        (quantity.frames_fr, "-12 fr", -12),
    ],
)  # fmt: skip
def test_quantities_are_read_with_their_unit(parse: object, text: str, value: float) -> None:
    assert callable(parse)
    assert parse(text) == pytest.approx(value)
    for wrong in (value, text.split(" ", maxsplit=1)[0].replace(":", ""), f"{text} more", "", None, True):
        with pytest.raises(ValueError, match="expected"):
            parse(wrong)
