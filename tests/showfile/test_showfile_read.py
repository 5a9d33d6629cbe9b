"""A show file that is right is read as show-file.md says."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from importlib.resources import files

import pytest
from showfile_texts import VALID, changed, mistakes

from interlock.showfile.load import load_show, parse_show
from interlock.showfile.show import AlarmSettings, Cue, Show
from interlock.signals import AnalogWire, CounterWire


@pytest.fixture(scope="module")
def show() -> Show:
    return parse_show(VALID, "evening.toml")


def test_the_head_is_read(show: Show) -> None:
    assert (show.title, show.film_key, show.fps, show.timezone) == (
        "Lantern Weather",
        "35mm-4p",
        24.0,
        "Atlantic/Azores",
    )
    # The Azores keep UTC−1 in December.
    assert show.motor_start_wall_s == datetime(2026, 12, 5, 20, 25, tzinfo=UTC).timestamp()
    assert show.first_picture_fr == 18 * 16
    assert (show.path, show.source) == ("evening.toml", VALID)


def test_parts_follow_each_other_from_the_first_picture_frame_on(show: Show) -> None:
    assert [(p.name, p.kind, p.start_fr, p.frames) for p in show.parts] == [
        ("Trailer", "trailer", 0, 212 * 16 + 8),
        ("reel 1", "feature", 3400, (18 * 60 + 52) * 24),
        ("tail leader", "tail", 3400 + 27168, 2400),
    ]


def test_a_cue_stands_at_a_frame_or_at_the_first_frame_of_a_part(show: Show) -> None:
    assert show.cues == (Cue(100, "house lights out"), Cue(3400, "masking wide"))


def test_a_house_is_read_in_seconds_frames_and_shares(show: Show) -> None:
    house = show.houses[0]
    assert (house.id, house.name, house.booth, house.lit, house.threads_from) == (
        "4",
        "House 4",
        "north",
        True,
        False,
    )
    assert (house.start_delay_s, house.start_scatter_s, house.ramp_s, house.ramp_scatter_s) == (
        0.5,
        0.2,
        1.2,
        0.05,
    )
    assert (house.coast_s, house.lamp_lead_s, house.dowser_lead_s, house.shut_dowser_limit_s) == (
        0.4,
        40,
        2,
        300,
    )
    assert house.film_sensor_fr == -48


def test_what_is_not_written_has_the_defaults_of_the_contract(show: Show) -> None:
    house = show.houses[1]
    assert (house.name, house.lit, house.motor, house.supply) == ("House 3", True, "synchronous", "mains")
    assert (house.speed_tolerance, house.start_delay_s, house.start_scatter_s) == (0.0, 0.0, 0.25)
    assert (house.ramp_s, house.ramp_scatter_s, house.coast_s) == (1.0, 0.1, 0.3)
    assert (house.lamp_lead_s, house.dowser_lead_s, house.shut_dowser_limit_s) == (45.0, 1.0, 600.0)
    assert (house.film_sensor_fr, house.threads_from) == (0.0, True)
    link = show.links[1]
    assert (link.path_tolerance, link.rise_m, link.wired, link.crosses, link.tables_fr) == (
        0.01,
        0.0,
        False,
        (),
        (),
    )


@pytest.mark.parametrize(
    ("motor", "share"), [("synchronous", 0.0), ("crystal", 0.00005), ("induction", 0.005)]
)
def test_a_motor_runs_off_as_its_kind_does(motor: str, share: float) -> None:
    show = parse_show(changed('"crystal"', f'"{motor}"'), "evening.toml")
    assert show.houses[2].speed_tolerance == share


def test_a_path_is_tape_measure_and_a_limit_is_film(show: Show) -> None:
    """304.8 mm to the tape foot and 19.00 mm to the frame; 16 frames to the film foot [P], [D]."""
    link = show.links[0]
    assert link.path_fr == pytest.approx(74 * 304.8 / 19.0)
    assert (link.tight_fr, link.spill_fr) == (pytest.approx(1.9 * 24), 48)
    assert link.rise_m == pytest.approx(3.048)
    assert link.tables_fr == pytest.approx((20 * 304.8 / 19.0, 41 * 304.8 / 19.0))
    assert (link.path_tolerance, link.crosses, link.wired) == (0.005, ("doorway",), True)
    metric = show.links[1]
    assert metric.path_fr == pytest.approx(1000.0)
    assert (metric.tight_fr, metric.spill_fr) == (48, pytest.approx(1000 / 19))


def test_rollers_are_counted_with_one_wrap_or_listed_with_their_own(show: Show) -> None:
    assert [r.wrap_rad for r in show.links[0].rollers] == pytest.approx([math.pi] * 9)
    assert [r.wrap_rad for r in show.links[1].rollers] == pytest.approx(
        [math.pi / 2, math.pi / 4, math.pi / 8]
    )


def test_the_platters_links_have_no_limits(show: Show) -> None:
    assert show.feed is not None
    assert show.take_up is not None
    assert (show.feed.id, show.feed.tight_fr, show.feed.spill_fr) == ("feed>4", 0, 0)
    assert show.take_up.id == "B-1>take-up"


def test_links_stand_in_film_order_whatever_their_order_in_the_file(show: Show) -> None:
    blocks = VALID.split("[[link]]\n")
    turned = "[[link]]\n".join([blocks[0], blocks[2], blocks[1], *blocks[3:]])
    assert [k.id for k in parse_show(turned, "x").links] == [k.id for k in show.links] == ["4>3", "3>B-1"]


def test_an_adapter_is_read_with_its_wiring_and_its_drivers_own_keys(show: Show) -> None:
    (adapter,) = show.adapters
    assert (adapter.name, adapter.driver) == ("north", "serial")
    assert adapter.options == {"port": "/dev/ttyACM0", "baud": 115200}
    assert adapter.wiring.levels == {0: "4.run", 1: "4.lamp", 2: "!4.dowser", 3: "4>3.tight", 4: "feed.run"}
    assert adapter.wiring.counters == {0: CounterWire("4.frames", 2.0)}
    assert adapter.wiring.analogs == {0: AnalogWire("3>B-1.arm", 310.0, 3800.0)}


def test_alarm_limits_are_read_and_have_defaults(show: Show) -> None:
    assert show.alarms == AlarmSettings(0.4, 0.7, 300.0)
    without = parse_show(VALID[: VALID.index("[alarms]")], "x")
    assert without.alarms == AlarmSettings(0.5, 0.75, 600.0)


def test_a_bare_runtime_comes_to_the_nearest_frame() -> None:
    text = changed('runtime = "0:18:52"', 'runtime = "0:02:21.7"')
    assert parse_show(text, "x").parts[1].frames == 3401  # 141.7 s × 24 = 3,400.8


@pytest.mark.parametrize(
    ("film", "frames"), [("16mm", 40), ("65mm-5p", 13), ("super8", 72), ("35mm-3p", 21), ("35mm-2p", 32)]
)
def test_feet_of_film_have_the_frames_of_their_format(film: str, frames: int) -> None:
    """[P] 40, 12.8, 72, 64/3, 32 frames to the foot, here to the nearest frame."""
    text = changed('"35mm-4p"', f'"{film}"')
    text = changed('length = "212+08"', 'length = "1 ft"', text)
    assert parse_show(text, "x").parts[0].frames == frames


def test_names_are_cleaned_at_the_door() -> None:
    text = changed('title = "Lantern Weather"', 'title = "Lantern\\u001b[31m \\u202eWeather\\t"')
    text = changed('do = "masking wide"', 'do = "\\u001b]0;x\\u0007masking"', text)
    text = changed('crosses = ["doorway"]', 'crosses = ["door\\u0000way"]', text)
    show = parse_show(text, "x")
    assert show.title == "Lantern Weather"
    assert show.cues[1].do == "masking"
    assert show.links[0].crosses == ("doorway",)


def test_a_cue_finds_its_part_by_its_cleaned_name() -> None:
    text = changed('name = "reel 1"', 'name = "reel\\u200b  1"')
    assert parse_show(text, "x").cues[1].frame == 3400


def test_windows_line_ends_and_a_byte_order_mark_change_nothing(tmp_path) -> None:
    file = tmp_path / "evening.toml"
    file.write_bytes(b"\xef\xbb\xbf" + VALID.replace("\n", "\r\n").encode())
    show = load_show(file)
    assert show.houses == parse_show(VALID, "x").houses
    assert show.path == str(file)


def test_a_show_without_timezone_is_in_the_computers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "Asia/Tokyo")
    show = parse_show(changed('timezone = "Atlantic/Azores"\n', ""), "x")
    assert show.timezone == "Asia/Tokyo"
    assert show.motor_start_wall_s == datetime(2026, 12, 5, 10, 25, tzinfo=UTC).timestamp()


def test_an_offset_that_the_zone_keeps_is_taken(show: Show) -> None:
    text = changed("2026-12-05T19:25:00", "2026-12-05T19:25:00-01:00")
    assert parse_show(text, "x").motor_start_wall_s == show.motor_start_wall_s


@pytest.mark.parametrize(("offset", "utc_hour"), [("+00:00", 0), ("-01:00", 1)])
def test_an_offset_tells_which_of_two_equal_local_times_is_meant(offset: str, utc_hour: int) -> None:
    """The Azores put their clocks back from +00:00 to −01:00 at 01:00 UTC on the last Sunday of October."""
    text = changed("2026-12-05T19:25:00", f"2026-10-25T00:30:00{offset}")
    wall_s = parse_show(text, "x").motor_start_wall_s
    assert datetime.fromtimestamp(wall_s, UTC).hour == utc_hour


@pytest.mark.parametrize("value", ["24", "24.0", '"24 fps"', "12", "60", "23.976"])
def test_a_speed_may_be_bare_because_its_key_is_its_unit(value: str) -> None:
    assert mistakes(changed("fps = 24", f"fps = {value}")) == []


CONFIGS = sorted(entry.name for entry in files("configs").iterdir() if entry.name.endswith(".toml"))


def test_the_shows_that_come_along_are_all_there() -> None:
    assert {"demo.toml", "two-house.toml", "six-house.toml", "sixteen-house.toml"} <= set(CONFIGS)


@pytest.mark.parametrize("name", CONFIGS)
def test_every_show_that_comes_along_is_read(name: str) -> None:
    show = parse_show(files("configs").joinpath(name).read_text(encoding="utf-8"), name)
    assert len(show.links) == len(show.houses) - 1
    wired = [signal for adapter in show.adapters for signal in adapter.wiring.signals()]
    for house in show.houses:
        assert {f"{house.id}.{what}" for what in ("run", "lamp", "dowser", "film", "frames")} <= set(wired)
    for adapter in show.adapters:
        assert len(adapter.wiring.levels) <= 16
        assert len(adapter.wiring.counters) <= 10


def test_sixteen_houses_have_fifteen_links_and_the_path_of_a_big_interlock() -> None:
    """[CP] sixteen houses have fifteen links; some 2,200 ft and 200 rollers."""
    show = parse_show(files("configs").joinpath("sixteen-house.toml").read_text(encoding="utf-8"), "x")
    links = [link for link in (show.feed, *show.links, show.take_up) if link is not None]
    assert (len(show.houses), len(show.links)) == (16, 15)
    assert len({house.booth for house in show.houses}) == 4
    assert show.film.tape_ft_from_frames(sum(link.path_fr for link in links)) == pytest.approx(2200, rel=0.1)
    assert sum(len(link.rollers) for link in links) == pytest.approx(200, rel=0.1)


def test_the_demo_is_short_and_has_everything_in_it() -> None:
    show = parse_show(files("configs").joinpath("demo.toml").read_text(encoding="utf-8"), "x")
    assert 12 * 60 <= show.length_fr / show.fps <= 20 * 60
    assert {adapter.driver for adapter in show.adapters} == {"simulator"}
    assert {"feature", "intermission", "tail"} <= {part.kind for part in show.parts}
    assert any(adapter.wiring.analogs for adapter in show.adapters)
    assert any(link.wired for link in show.links)
