"""What ``check`` says of a show: to programs exactly, to people readably."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import datetime

import pytest
from check_shows import a_show, config

from interlock.plan.check import check_json, check_text, time_of_day
from interlock.plan.check_notes import notes
from interlock.showfile.show import Link, Part


def test_the_document_is_the_contracts() -> None:
    """The worked numbers are contract.md's formulas by hand: (1440/24) + 0.5 + 0.6 = 61.1 s, and so on."""
    document = check_json(a_show())
    assert document["show"] == {
        "title": "Lantern Weather",
        "film": "35mm-4p",
        "fps": 24.0,
        "motor_start": "2026-12-05T19:25:00-01:00",
    }
    assert document["parts"] == [
        {"name": "reel 1", "kind": "feature", "frames": 2400, "start_fr": 0},
        {"name": "tail", "kind": "tail", "frames": 2000, "start_fr": 2400},
    ]
    one, two = document["houses"]
    assert one["house"] == "4"
    assert (one["path_fr"], one["first_picture_fr"]) == (0.0, 1440.0)
    assert one["first_picture_s"] == pytest.approx(61.1)
    assert one["first_picture_at"] == "2026-12-05T19:26:01.100000-01:00"
    assert one["strike_lamp_s"] == pytest.approx(16.1)
    assert one["open_dowser_s"] == pytest.approx(60.1)
    assert one["last_picture_s"] == one["close_dowser_s"] == pytest.approx(161.1)
    assert one["tail_clear_s"] == pytest.approx(61.1 + 4400 / 24)
    assert two["first_picture_s"] == pytest.approx(2640 / 24 + 0.5)
    assert document["links"] == [
        {"link": "4>3", "path_fr": 1200.0, "delay_s": 50.0, "tight_fr": 48.0, "spill_fr": 48.0, "rollers": 0}
    ]
    assert document["notes"] == notes(a_show())


@pytest.mark.parametrize("name", ["demo.toml", "two-house.toml", "six-house.toml", "sixteen-house.toml"])
def test_the_document_of_a_whole_show_is_plain_json_in_film_order(name: str) -> None:
    show = config(name)
    document = json.loads(json.dumps(check_json(show), allow_nan=False))
    assert [h["house"] for h in document["houses"]] == [h.id for h in show.houses]
    assert [k["link"] for k in document["links"]] == [k.id for k in show.links]
    for house, following, link in zip(
        document["houses"], document["houses"][1:], document["links"], strict=False
    ):
        assert following["path_fr"] == house["path_fr"] + link["path_fr"]  # never rounded
        assert link["delay_s"] * show.fps == pytest.approx(link["path_fr"])
    for house in document["houses"]:
        at = datetime.fromisoformat(house["first_picture_at"])
        start = datetime.fromisoformat(document["show"]["motor_start"])
        assert (at - start).total_seconds() == pytest.approx(house["first_picture_s"], abs=1e-6)
        order = ["strike_lamp_s", "open_dowser_s", "first_picture_s", "last_picture_s", "tail_clear_s"]
        assert [house[key] for key in order] == sorted(house[key] for key in order)


def test_gates_twenty_minutes_apart_are_1800_film_feet_apart() -> None:
    """[CP] gates 20 minutes apart are 1,800 film feet of film."""
    (link,) = check_json(a_show(links=(Link("4", "3", 1800 * 16.0, tight_fr=48.0, spill_fr=48.0),)))["links"]
    assert link["delay_s"] == 20 * 60


def test_times_of_day_follow_the_zone_over_a_change_of_clocks() -> None:
    """The Azores put their clocks back from +00:00 to −01:00 at 01:00 UTC on the last Sunday of October."""
    start = datetime.fromisoformat("2026-10-25T00:30:00+00:00").timestamp()
    show = a_show(motor_start_wall_s=start, parts=(Part("reel 1", "feature", 172_800, 0),))
    assert check_json(show)["show"]["motor_start"] == "2026-10-25T00:30:00+00:00"
    assert time_of_day(show, 3600.0).isoformat() == "2026-10-25T00:30:00-01:00"
    assert any("The clocks change during the show: it starts at 00:30 +0000" in note for note in notes(show))


def test_people_read_times_of_day_and_slack_both_ways_in_eighty_columns() -> None:
    text = check_text(config("six-house.toml"), 80)
    assert max(len(line) for line in text.splitlines()) <= 80
    rows = [line.split() for line in text.splitlines()]
    assert ["4", "north", "19:25:09", "19:25:53", "19:25:54", "21:16:47", "21:18:53"] in rows
    assert ["6>5", "94.8", "ft", "0:01:03.4", "2+11", "1.80", "s", "3+00", "2.00", "s", "11"] in rows
    assert "Lantern Weather, reel 1   feature        444+08  1698+00  0:18:52" in text


def test_a_show_past_midnight_says_the_day() -> None:
    start = datetime.fromisoformat("2026-12-05T23:59:00-01:00").timestamp()
    assert " 00:00:01+1d" in check_text(a_show(motor_start_wall_s=start))


def test_wide_letters_do_not_push_the_columns_apart() -> None:
    show = a_show(parts=(Part("映写室の予告編", "trailer", 2400, 0), Part("tail", "tail", 2000, 2400)))
    rows = check_text(show).splitlines()
    wide, narrow = (next(row for row in rows if kind in row) for kind in (" trailer ", " tail "))
    # seven letters of two columns each
    assert wide.index("trailer") + 7 == narrow.index(" tail ") + 1


def test_long_names_are_cut_and_say_so() -> None:
    show = a_show(parts=(Part("x" * 80, "feature", 2400, 0), Part("tail", "tail", 2000, 2400)))
    assert "x" * 33 + "…  feature" in check_text(show)


def test_checking_sixteen_houses_takes_less_than_four_tenths_of_a_second_of_process_time() -> None:
    """Imports, reading and plan together, in a process of its own; byte code as an installed program has it."""
    code = (
        "import time; from importlib.resources import files; from interlock.showfile.load import parse_show; "
        "from interlock.plan.check import check_json, check_text; "
        "show = parse_show(files('configs').joinpath('sixteen-house.toml').read_text(), 'x'); "
        "check_json(show); check_text(show); print(time.process_time())"
    )
    env = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    taken_s = [
        float(
            subprocess.run(
                [sys.executable, "-c", code], env=env, capture_output=True, check=True, text=True
            ).stdout
        )
        for _ in range(3)
    ]
    assert min(taken_s) < 0.4
