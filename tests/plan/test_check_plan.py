"""What ``check`` says of a show: to programs exactly, to people readably."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from datetime import datetime
from importlib.resources import files

import msgspec
import pytest

from interlock.plan.check import check_json, check_text, time_of_day
from interlock.plan.check_notes import NO_SAFETY_DEVICE, notes
from interlock.showfile.load import parse_show
from interlock.showfile.show import House, Link, Part, Show
from interlock.signals import AdapterSpec, CounterWire, Wiring


def config(name: str) -> Show:
    return parse_show(files("configs").joinpath(name).read_text(encoding="utf-8"), name)


def a_show(**changes: object) -> Show:
    """Two houses, all wired; 18+00 to the first picture, 74 tape feet between the gates."""
    wiring = Wiring({0: "4.run", 1: "3.run"}, {0: CounterWire("4.frames"), 1: CounterWire("3.frames")})
    show = Show(
        title="Lantern Weather",
        film_key="35mm-4p",
        fps=24.0,
        motor_start_wall_s=datetime.fromisoformat("2026-12-05T19:25:00-01:00").timestamp(),
        timezone="Atlantic/Azores",
        first_picture_fr=1440.0,
        parts=(Part("reel 1", "feature", 2400, 0), Part("tail", "tail", 2000, 2400)),
        houses=(House("4", "House 4", start_delay_s=0.5, ramp_s=1.2), House("3", "House 3")),
        links=(Link("4", "3", 1200.0, tight_fr=48.0, spill_fr=48.0, wired=True),),
        adapters=(AdapterSpec("north", "serial", {}, wiring),),
    )
    return msgspec.structs.replace(show, **changes)


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


def note(show: Show, words: str) -> str | None:
    hits = [text for text in notes(show) if words in text]
    assert len(hits) <= 1
    return hits[0] if hits else None


def test_a_plan_with_nothing_amiss_says_only_that_it_is_no_safety_device() -> None:
    assert notes(a_show()) == [NO_SAFETY_DEVICE]
    assert "no safety device" in NO_SAFETY_DEVICE
    assert "local codes and licensed practice decide" in NO_SAFETY_DEVICE


def test_a_tail_shorter_than_the_longest_link_and_its_loop_is_told_by_how_much() -> None:
    show = a_show(parts=(Part("reel 1", "feature", 2400, 0), Part("tail", "tail", 1247, 2400)))
    text = note(show, "tail")
    assert text is not None
    assert "link 4>3 with its loop, 78+00" in text  # 1,200 + 48 frames
    assert "at least 0+01 of tail leader" in text
    barely = a_show(parts=(Part("reel 1", "feature", 2400, 0), Part("tail", "tail", 1248, 2400)))
    assert "not for a margin of 10+00" in (note(barely, "tail") or "")
    enough = a_show(parts=(Part("reel 1", "feature", 2400, 0), Part("tail", "tail", 1408, 2400)))
    assert note(enough, "tail") is None


def test_links_that_only_a_wired_stop_saves_are_named() -> None:
    """A person needs 1.5 s to react to a surprise: [P] Green 2000."""
    unwired = Link("4", "3", 1200.0, tight_fr=48.0, spill_fr=48.0)
    text = note(a_show(links=(unwired,)), "wired stop saves")
    assert text is not None
    assert "1.5 s only to react" in text
    assert text.endswith("Without one: link 4>3.")
    roomy = Link("4", "3", 1200.0, tight_fr=4800.0, spill_fr=4800.0)
    assert (
        note(
            a_show(links=(roomy,), parts=(Part("r", "feature", 9, 0), Part("t", "tail", 9999, 9))),
            "wired stop saves",
        )
        is None
    )


def test_houses_without_a_counter_are_named_for_their_drift_will_not_be_known() -> None:
    wiring = Wiring({0: "4.run", 1: "3.run"}, {0: CounterWire("4.frames")})
    text = note(a_show(adapters=(AdapterSpec("north", "serial", {}, wiring),)), "No frame counter")
    assert text is not None
    assert "in house 3:" in text
    assert "will not be known" in text


def test_houses_that_tell_nothing_at_all_are_named() -> None:
    wiring = Wiring({0: "4.run", 1: "3.lamp"}, {0: CounterWire("4.frames")})
    text = note(a_show(adapters=(AdapterSpec("north", "serial", {}, wiring),)), "Neither run contact")
    assert text is not None
    assert "in house 3:" in text


def test_a_show_with_nothing_wired_cannot_be_watched() -> None:
    assert note(a_show(adapters=()), "not watched") is not None


def test_film_across_a_doorway_needs_the_authoritys_word_first() -> None:
    link = Link("4", "3", 1200.0, tight_fr=48.0, spill_fr=48.0, wired=True, crosses=("doorway", "stair"))
    text = note(a_show(links=(link,)), "doorway and stair")
    assert text is not None
    assert "29 CFR 1910.37(a)(3)" in text
    assert "needs the authority's word first, and local codes decide" in text


def test_a_lamp_that_is_struck_before_the_motors_start_is_told() -> None:
    text = note(a_show(first_picture_fr=288.0), "before the motors start")
    assert text is not None
    assert "start in house 4, 0:00:32 before" in text


def test_of_several_lamps_the_one_to_be_struck_first_is_told() -> None:
    show = config("two-house.toml")
    early = [
        msgspec.structs.replace(house, lamp_lead_s=150.0 + 60.0 * k) for k, house in enumerate(show.houses)
    ]
    text = note(msgspec.structs.replace(show, houses=tuple(early)), "before the motors start")
    assert text is not None
    assert re.search(r"start in houses 1 and 2, in house [12] 0:\d\d:\d\d before", text)


def test_a_next_show_that_begins_too_early_is_told() -> None:
    show = config("two-house.toml")
    first, second = show.houses
    at_s = show.motor_start_wall_s + 3600.0  # the film is still running then
    assert note(show, "next show") is None
    text = note(
        msgspec.structs.replace(show, houses=(msgspec.structs.replace(first, next_show_wall_s=at_s), second)),
        "next show",
    )
    assert text is not None
    assert text.startswith("House 1: the next show begins at 21:00:00")


def test_a_first_picture_within_the_ramp_is_told() -> None:
    text = note(a_show(first_picture_fr=5.0), "before the machine is at speed")
    assert text is not None
    assert text.endswith("in house 4.")


def test_a_dark_house_is_told_and_has_its_times_all_the_same() -> None:
    show = a_show(houses=(House("4", "House 4", lit=False), House("3", "House 3")))
    assert note(show, "No picture is wanted in house 4") is not None
    first = check_json(show)["houses"][0]
    assert first["lit"] is False
    assert first["strike_lamp_s"] == pytest.approx(15.5)
    assert "dark" in check_text(show)


def test_a_print_that_begins_with_black_or_ends_in_an_intermission_is_told() -> None:
    parts = (
        Part("b", "black", 24, 0),
        Part("r", "feature", 24, 24),
        Part("i", "intermission", 24, 48),
        Part("t", "tail", 2000, 72),
    )
    show = a_show(parts=parts)
    assert note(show, "begins with black") is not None
    assert note(show, "ends in an intermission") is not None


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
