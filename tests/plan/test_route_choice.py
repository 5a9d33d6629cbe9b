"""What a booth lead is told about the order of houses: the best one, its price, and what stands in the
way."""

from __future__ import annotations

import itertools
import json
import math

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from odds_shows import a_show

from interlock.errors import UsageError
from interlock.film import FORMATS
from interlock.plan.route import plan_route
from interlock.plan.route_survey import IMPOSSIBLE, Leg, survey_of
from interlock.showfile.show import Distance, Link, Roller

Legs = dict[tuple[str, str], Leg]


def all_legs(n: int, film_fr: dict[tuple[int, int], float], rollers: int | None = 5) -> Legs:
    return {(str(a), str(b)): Leg(fr, rollers, ()) for (a, b), fr in film_fr.items() if a <= n and b <= n}


SQUARE: Legs = all_legs(
    4, {(1, 2): 900.0, (2, 3): 900.0, (3, 4): 900.0, (1, 3): 100.0, (1, 4): 200.0, (2, 4): 300.0}
)


def test_the_best_order_uses_the_short_ways_and_says_what_it_saves() -> None:
    route = plan_route(a_show(4), SQUARE)
    assert route.best is not None
    assert route.own is not None
    assert route.best.houses in {("3", "1", "4", "2"), ("2", "4", "1", "3")}
    assert route.best.film_fr == 600.0
    assert route.own.film_fr == 2700.0
    saves = route.as_json()["saves"]
    assert saves == {
        "film_fr": 2100.0,
        "film_ft": pytest.approx(2100.0 * 19.0 / 304.8),
        "rollers": 0,
        "crossings": 0,
    }


def test_fixed_ends_are_kept_and_only_free_ones_are_compared() -> None:
    route = plan_route(a_show(4), SQUARE, first="1", last="2")
    assert route.best is not None
    assert (route.best.houses[0], route.best.houses[-1]) == ("1", "2")
    assert route.best.film_fr == 100.0 + 900.0 + 300.0
    assert route.first == route.last == ()
    free = plan_route(a_show(4), SQUARE, first="1")
    assert free.first == ()
    assert [o.houses[-1] for o in free.last] == sorted(
        ["2", "3", "4"],
        key=lambda h: plan_route(a_show(4), SQUARE, first="1", last=h).best.film_fr,  # type: ignore[union-attr]
    )


def test_for_every_first_house_the_best_order_is_told_cheapest_first() -> None:
    route = plan_route(a_show(4), SQUARE)
    assert {o.houses[0] for o in route.first} == {"1", "2", "3", "4"}
    costs = [o.film_fr for o in route.first]
    assert costs == sorted(costs)
    for order in route.first:
        fixed = plan_route(a_show(4), SQUARE, first=order.houses[0]).best
        assert fixed is not None
        assert order.film_fr == fixed.film_fr


def test_forbidden_ways_are_never_used_and_are_listed() -> None:
    route = plan_route(a_show(4), SQUARE, forbid=["1>3", "3>1"])
    assert route.best is not None
    assert {"1>3", "3>1"}.isdisjoint(dict(route.best.ways))
    assert route.best.film_fr > 600.0
    assert route.as_json()["forbidden"] == ["1>3", "3>1"]


def test_a_way_may_be_possible_in_one_direction_only() -> None:
    legs = {**SQUARE, ("3", "1"): IMPOSSIBLE}
    route = plan_route(a_show(4), legs)
    assert route.best is not None
    assert route.best.houses == ("2", "4", "1", "3")


def test_other_aims_are_priced_beside_the_one_asked_for() -> None:
    legs = {
        ("1", "2"): Leg(100.0, 20, ("doorway",)),
        ("2", "3"): Leg(100.0, 20, ()),
        ("1", "3"): Leg(500.0, 2, ()),
    }
    route = plan_route(a_show(3), legs)
    assert route.best is not None
    assert (route.best.film_fr, route.best.rollers, route.best.crossings) == (200.0, 40, 1)
    other = dict(route.alternatives)
    assert (other["rollers"].film_fr, other["rollers"].rollers) == (600.0, 22)
    assert (other["crossings"].film_fr, other["crossings"].crossings) == (600.0, 0)
    assert any("authority" in note for note in route.notes)
    assert plan_route(a_show(3), legs, by="rollers").best == other["rollers"]


def test_what_nobody_counted_is_null_and_cannot_be_the_aim() -> None:
    legs = {(str(a), str(b)): Leg(100.0) for a, b in itertools.permutations((1, 2, 3), 2)}
    route = plan_route(a_show(3), {**legs, ("1", "3"): Leg(50.0)})
    assert route.best is not None
    assert route.best.rollers is None
    assert route.alternatives == ()
    with pytest.raises(UsageError, match="rollers were not counted"):
        plan_route(a_show(3), legs, by="rollers")


def test_a_table_of_lengths_alone_keeps_the_rollers_that_the_show_file_counts() -> None:
    show = a_show(2)
    link = msgspec.structs.replace(show.links[0], rollers=(Roller(1.57),) * 9, crosses=("stair",))
    survey = survey_of(msgspec.structs.replace(show, links=(link,)), {("1", "2"): Leg(777.0)})
    assert survey.leg("1", "2") == survey.leg("2", "1") == Leg(777.0, 9, ("stair",))


def test_the_show_files_own_distances_count_and_a_table_given_beside_it_takes_their_place() -> None:
    show = msgspec.structs.replace(
        a_show(3), distances=(Distance("1", "3", 300.0, 4, ()), Distance("2", "1", None))
    )
    survey = survey_of(show, {})
    assert survey.leg("3", "1") == Leg(300.0, 4, ())
    assert set(survey.forbidden) == {("1", "2"), ("2", "1")}  # ruled out there, ruled out back
    over = survey_of(show, {("1", "3"): Leg(200.0, 7, ())})
    assert over.leg("1", "3") == over.leg("3", "1") == Leg(200.0, 7, ())


def test_the_feed_takes_part_where_it_was_measured_to_every_house() -> None:
    legs = {**SQUARE, **{("feed", str(k)): Leg(10.0 + 500.0 * (k != 2), 1, ()) for k in (1, 2, 3, 4)}}
    route = plan_route(a_show(4), legs)
    assert route.best is not None
    assert route.best.houses == ("2", "4", "1", "3")
    assert route.best.ways[0][0] == "feed>2"
    assert route.best.film_fr == 610.0


def test_a_feed_measured_to_some_houses_only_is_left_out_and_said_so() -> None:
    show = msgspec.structs.replace(a_show(4), feed=Link("feed", "1", 400.0))
    route = plan_route(show, SQUARE)
    assert route.best is not None
    assert route.best.film_fr == 600.0
    assert any("feed was not measured to every house" in note for note in route.notes)


def test_a_house_that_nothing_reaches_is_named_and_there_is_no_best_order() -> None:
    legs = {**SQUARE, **{(a, b): IMPOSSIBLE for a, b in itertools.permutations("1234", 2) if "4" in (a, b)}}
    route = plan_route(a_show(4), legs)
    assert route.best is None
    assert route.own is None
    assert "House 4 is joined to no other house." in route.notes
    assert route.as_json()["best"] is None


def test_unmeasured_ways_and_strangers_are_pointed_out() -> None:
    route = plan_route(a_show(3), {("1", "9"): Leg(100.0)})
    assert route.as_json()["unmeasured"] == ["1>3", "3>1"]
    assert "Measured, but not in this show: 9." in route.notes


@pytest.mark.parametrize(
    ("kwargs", "says"),
    [
        ({"first": "7"}, "--first 7: not a house"),
        ({"first": "1", "last": "1"}, "both 1"),
        ({"forbid": ["1-2"]}, "--forbid 1-2"),
        ({"forbid": ["1>1"]}, "--forbid 1>1"),
    ],
)
def test_options_that_make_no_sense_are_refused_by_name(kwargs: dict[str, object], says: str) -> None:
    with pytest.raises(UsageError, match=says):
        plan_route(a_show(4), SQUARE, **kwargs)  # type: ignore[arg-type]


def test_the_json_document_is_plain_and_keeps_every_digit() -> None:
    route = plan_route(a_show(4), SQUARE)
    document = json.loads(json.dumps(route.as_json(), allow_nan=False))
    assert document["houses"] == 4
    assert document["method"] == "exact"
    assert document["proven"] is True
    assert document["best"]["film_fr"] == 600.0
    assert document["best"]["film_ft"] == FORMATS["35mm-4p"].tape_ft_from_frames(600.0)
    assert [link["link"] for link in document["own"]["links"]] == ["1>2", "2>3", "3>4"]


@given(n=st.integers(2, 7), data=st.data())
@settings(deadline=None, max_examples=40)
def test_it_is_never_worse_than_the_shows_own_chain_and_equals_trying_all(
    n: int, data: st.DataObject
) -> None:
    length = st.one_of(st.just(math.inf), st.floats(1.0, 5000.0))
    legs = {
        (str(a), str(b)): Leg(
            data.draw(length), data.draw(st.integers(0, 30)), ("stair",) * data.draw(st.integers(0, 2))
        )
        for a, b in itertools.permutations(range(1, n + 1), 2)
    }
    route = plan_route(a_show(n), legs)
    totals = [
        math.fsum(legs[way].film_fr for way in itertools.pairwise(order))
        for order in itertools.permutations([str(k) for k in range(1, n + 1)])
    ]
    if math.isinf(min(totals)):
        assert route.best is None
        return
    assert route.best is not None
    assert route.best.film_fr == pytest.approx(min(totals), abs=1e-3)
    if route.own is not None:
        assert route.best.film_fr <= route.own.film_fr + 1e-3
        for aim, order in route.alternatives:
            assert getattr(order, aim) <= getattr(route.own, aim)


def test_more_than_eighteen_houses_go_to_the_general_solver() -> None:
    pytest.importorskip("ortools")
    rng = np.random.default_rng(2)
    n = 20
    place = rng.uniform(0.0, 3000.0, (n, 2))
    legs = {
        (str(a + 1), str(b + 1)): Leg(10.0 + float(np.hypot(*(place[a] - place[b]))), 3, ())
        for a, b in itertools.permutations(range(n), 2)
    }
    route = plan_route(a_show(n), legs, first="1")
    assert route.method == "solver"
    assert route.best is not None
    assert route.own is not None
    assert route.best.houses[0] == "1"
    assert sorted(route.best.houses, key=int) == [str(k + 1) for k in range(n)]
    assert route.best.film_fr < route.own.film_fr


def test_of_two_directions_that_cost_the_same_the_shows_own_is_taken() -> None:
    legs = {("1", "2"): Leg(100.1), ("2", "3"): Leg(200.2), ("3", "4"): Leg(300.3), ("1", "4"): Leg(9000.0)}
    legs |= {("1", "3"): Leg(9000.0), ("2", "4"): Leg(9000.0)}
    best = plan_route(a_show(4), legs).best
    assert best is not None
    assert best.houses == ("1", "2", "3", "4")
