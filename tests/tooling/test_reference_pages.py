"""The pages of reference say what the program takes: printed from it, or held against it key by key."""

from __future__ import annotations

import re
import typing
from pathlib import Path

import pytest

from drivers.simulator import page as scenarios
from drivers.simulator.scenario import parse_scenario
from interlock import actions
from interlock.service.booth import sim_spec
from interlock.showfile import page as show_file
from interlock.showfile.load import load_show, parse_show
from interlock.watch.lines import AlarmPhase, CuePhase, HousePhase, Line, LinkPhase, ShowPhase

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"


@pytest.mark.parametrize(
    ("name", "page", "command"),
    [
        ("show-file.md", show_file.page, "python -m interlock.showfile.page > docs/show-file.md"),
        ("scenarios.md", scenarios.page, "python -m drivers.simulator.page > docs/scenarios.md"),
    ],
)
def test_the_page_is_the_one_that_the_program_prints(
    name: str, page: typing.Callable[[], str], command: str
) -> None:
    assert (DOCS / name).read_text(encoding="utf-8") == page(), command


def test_the_pages_show_file_is_one_without_a_mistake() -> None:
    show = parse_show(show_file.EXAMPLE, "example.toml")
    assert [h.id for h in show.houses] == ["4", "3"]
    assert show.feed is not None
    assert show.take_up is not None


def test_the_pages_scenario_is_one_without_a_mistake_for_a_show_that_is_shipped() -> None:
    spec = sim_spec(load_show(ROOT / "configs" / "demo.toml"))
    read = parse_scenario(scenarios.EXAMPLE, spec=spec)
    assert [f.kind for f in read.faults] == ["trip", "start-late"]
    assert read.crew_restarts_after_s == 120.0


PLAIN = (DOCS / "plain.md").read_text(encoding="utf-8")
OUT, IN = PLAIN.split("## What comes out")[1].split("## What goes in")


def test_the_page_on_plain_names_every_kind_of_line_with_its_keys() -> None:
    rows = dict(re.findall(r"^\| `([a-z]+)` \| (.+)$", OUT, re.MULTILINE))
    kinds = {line.__struct_config__.tag: line for line in typing.get_args(Line)}
    assert set(rows) == set(kinds)
    for kind, line in kinds.items():
        named = set(re.findall(r"`([a-z_]+)`", rows[kind]))
        for key in line.__struct_fields__:
            assert key in named or key in ("seq", "at", "show_s"), f"{kind}: {key}"


def test_the_page_on_plain_names_every_state_that_a_line_can_have() -> None:
    for states in (ShowPhase, HousePhase, LinkPhase, AlarmPhase, CuePhase):
        for word in typing.get_args(states):
            assert f"`{word}`" in OUT, word


def test_the_page_on_plain_names_every_action_with_its_keys() -> None:
    rows = re.findall(r"^\| (`[a-z-]+`(?:, `[a-z-]+`)*) \|([^|]*)\|", IN, re.MULTILINE)
    keys = {
        name: set(re.findall(r"`([a-z_]+)`", told))
        for names, told in rows
        for name in re.findall(r"`([a-z-]+)`", names)
    }
    union = typing.get_args(actions._Any)[0]  # the table that reads them
    there: dict[str, set[str]] = {}
    for model in typing.get_args(union):
        for action in typing.get_args(model.model_fields["action"].annotation):
            there[action] = (
                set(model.model_fields) - {"action", "booth"} - ({"by"} if action != "handover" else set())
            )
    assert set(keys) - {"action"} == set(there)  # but for the head of the table
    for action, wanted in there.items():
        assert wanted <= keys[action], action
