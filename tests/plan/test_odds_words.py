"""What stands on the terminal: odds and orders that fit its eighty columns and never overstate."""

from __future__ import annotations

import itertools

import msgspec
import pytest
from odds_shows import a_show

from interlock.plan.odds_report import report
from interlock.plan.odds_words import lost, share
from interlock.plan.odds_words import words as odds_words
from interlock.plan.route import plan_route
from interlock.plan.route_survey import Leg
from interlock.plan.route_words import words as route_words


@pytest.mark.parametrize(
    ("p", "text"),
    [
        (1.0, "100 %"),
        (0.999_999_99, ">99.9999 %"),
        (0.99998, "99.998 %"),
        (0.9953222, "99.53 %"),
        (0.4, "40.00 %"),
        (0.0, "0.00 %"),
    ],
)
def test_a_share_is_never_rounded_up_to_certainty(p: float, text: str) -> None:
    assert share(p) == text


def test_what_is_lost_is_told_as_one_in_so_many() -> None:
    assert lost(1.0 - 1 / 4000) == "lost 1 in 4,000"
    assert lost(0.7) == "lost 30.0 %"
    assert lost(1.0) == "lost never"


def test_the_odds_fit_eighty_columns_with_sixteen_houses_and_name_the_weakest() -> None:
    show = a_show(16, start_scatter_s=0.45, wired=[3])
    text = odds_words(show, report(show))
    assert max(map(len, text.splitlines())) <= 80
    assert text.count("weakest") == 1
    assert "exact" in text
    assert text.count("NO WIRED STOP") == 14
    assert "no safety device" in text


def test_a_simulated_answer_says_how_sure_it_is() -> None:
    show = a_show(3, motors=["crystal", "synchronous", "crystal"], tolerance=5e-5)
    text = odds_words(show, report(show, shows=5000, seed=8))
    assert "5,000 simulated shows, seed 8, ± " in text
    assert "machines that do not keep" in text


def test_a_start_that_cannot_fail_needs_no_help() -> None:
    show = a_show(3, start_scatter_s=0.1)
    assert "no timer and no loop needs help" in odds_words(show, report(show))


def test_one_house_gets_a_sentence_instead_of_a_table() -> None:
    show = a_show(1)
    assert odds_words(show, report(show)).endswith("One house: no link, no odds.")


def test_an_order_of_sixteen_houses_fits_eighty_columns() -> None:
    show = a_show(16)
    houses = tuple(msgspec.structs.replace(h, id=f"room-{h.id}") for h in show.houses)
    links = tuple(
        msgspec.structs.replace(k, upstream=a.id, downstream=b.id)
        for k, (a, b) in zip(show.links, itertools.pairwise(houses), strict=True)
    )
    show = msgspec.structs.replace(show, houses=houses, links=links)
    legs = {
        (a.id, b.id): Leg(500.0 + len(a.id) * 7, 4, ("stair",)) for a, b in itertools.permutations(houses, 2)
    }
    text = route_words(show.title, plan_route(show, legs))
    assert max(map(len, text.splitlines())) <= 80
    assert "authority" in text
