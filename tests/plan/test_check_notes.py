"""What ``check`` warns of: each note is there when it is due and not otherwise."""

from __future__ import annotations

import re

import msgspec
import pytest
from check_shows import a_show, config

from interlock.plan.check import check_json, check_text
from interlock.plan.check_notes import NO_SAFETY_DEVICE, notes
from interlock.showfile.show import House, Link, Part, Show
from interlock.signals import AdapterSpec, CounterWire, Wiring


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
