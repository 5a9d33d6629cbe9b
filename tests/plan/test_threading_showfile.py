"""What a show file says of threading and decks: defaults, places along a link, and every slip by its line."""

from __future__ import annotations

import pytest
from threading_shows import a_show, a_text

from interlock.errors import ShowFileError
from interlock.plan.threading_pull import roller_places
from interlock.showfile.load import parse_show
from interlock.showfile.settings import DeckSettings, ThreadingSettings


def refusals(text: str) -> list[str]:
    with pytest.raises(ShowFileError) as refused:
        parse_show(text, "show.toml")
    return str(refused.value).splitlines()


def test_the_defaults_as_written_are_those_of_the_settings() -> None:
    show = a_show(2)
    written = {k: pytest.approx(v) for k, v in _values(ThreadingSettings()).items()}
    assert _values(show.threading) == written
    assert _values(show.deck) == {
        k: v if v is None else pytest.approx(v) for k, v in _values(DeckSettings()).items()
    }


def _values(settings: object) -> dict[str, object]:
    return {name: getattr(settings, name) for name in settings.__struct_fields__}  # type: ignore[attr-defined]


def test_every_limit_can_be_set() -> None:
    show = a_show(
        2,
        more='[threading]\nhand = "10 lbf"\nsplice = "160 ozf"\npace = "60 ft/min"\nroller = "2 in"\nfriction = 0.01\ncrew = 4\n'
        '[deck]\ndiameter = "52 in"\nweight = "125 lb"\n',
    )
    assert show.threading.hand_n == show.threading.splice_n == pytest.approx(44.482216)
    assert show.threading.pace_mps == pytest.approx(0.3048)
    assert show.threading.roller_m == pytest.approx(0.0508)
    assert show.deck.diameter_m == pytest.approx(1.3208)
    assert show.deck.weight_kg == pytest.approx(56.699, abs=1e-3)


def test_a_links_details_are_read_in_film_order() -> None:
    show = a_show(
        2,
        link_keys={
            "1>2": 'path = "38 m"\nrollers = 3\nstuck = [2]\nrollers_at = ["1.9 m", "3.8 m", "19 m"]\n'
            'crosses = ["stair"]\ncrosses_at = ["5.7 m"]\n'
            'lifts = [{ at = "10 m", by = "-1 m" }, { at = "2 m", by = "3 m" }]'
        },
    )
    (link,) = show.links
    assert roller_places(link) == [100.0, 200.0, 1000.0]
    assert [roller.stuck for roller in link.rollers] == [False, True, False]
    assert link.crosses_at_fr == (300.0,)
    assert [lift.by_m for lift in link.lifts] == [3.0, -1.0]
    assert link.rise_m == 3.0


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ("stuck = [9]", "found roller 9, but the link has 8"),
        ('rollers_at = ["3 ft"]', "found 1 places, expected 8"),
        ('rollers = 2\nrollers_at = ["30 ft", "3 ft"]', "out of order"),
        ('rollers = 1\nrollers_at = ["300 ft"]', "beyond the end"),
        ('crosses = ["stair"]\ncrosses_at = ["3 ft", "5 ft"]', "found 2 places, expected 1"),
        ('rise = "3 ft"\nlifts = [{ at = "1 ft", by = "3 ft" }]', "beside rise"),
        ('lifts = [{ at = "100 ft", by = "3 ft" }]', "beyond the end"),
        ('lifts = [{ at = "1 ft" }]', 'as in { at = "4 ft"'),
    ],
)
def test_details_that_cannot_be_are_refused(keys: str, said: str) -> None:
    assert any(said in line for line in refusals(a_text(2, link_keys={"1>2": keys})))


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("[threading]\nhand = 22", "threading.hand: found 22 without a unit, expected a force"),
        ('[threading]\nhand = "22 kg"', "expected a force with its unit"),
        ('[threading]\nhnad = "22 N"', 'unknown key; did you mean "hand"?'),
        ('[threading]\npace = "1 m"', "expected a walking speed"),
        ("[threading]\ncrew = 0", "threading.crew"),
        ('[threading]\npin = "50 cm"\nroller = "5 mm"', "too thick for such a roller to turn"),
        ('[threading]\nreach = "40 ft"', "higher than anybody reaches"),
        ('[deck]\ndiameter = "10 in"', "not larger than core"),
        ('[deck]\nweight = "125"', "without a unit"),
    ],
)
def test_settings_that_cannot_be_are_refused(more: str, said: str) -> None:
    assert any(said in line for line in refusals(a_text(2, more=more)))


def test_a_next_show_at_a_time_that_does_not_exist_is_refused() -> None:
    text = a_text(
        2,
        timezone="Europe/Lisbon",
        house_keys={"2": "next_show = 2027-03-28T01:30:00"},
        motor_start="2027-03-27T23:00:00",
    )
    assert any("house.next_show" in line and "does not exist" in line for line in refusals(text))
