"""What a booth lead gets to read: limits, remedies, and who has to be how quick."""

from __future__ import annotations

import itertools
import json
import math

import msgspec
import pytest
from odds_shows import a_show

from interlock.plan.odds_help import helps
from interlock.plan.odds_report import DEFAULT_SHOWS, report, shows_needed
from interlock.plan.odds_start import chain_of, scatter_for
from interlock.plan.odds_stop import REACTION_S, advice, dead_stops, lacking_wire
from interlock.showfile.show import Show


def with_house(show: Show, k: int, **changes: float | str) -> Show:
    house = msgspec.structs.replace(show.houses[k], **changes)
    return msgspec.structs.replace(show, houses=(*show.houses[:k], house, *show.houses[k + 1 :]))


def with_link(show: Show, k: int, **changes: float | bool) -> Show:
    link = msgspec.structs.replace(show.links[k], **changes)
    return msgspec.structs.replace(show, links=(*show.links[:k], link, *show.links[k + 1 :]))


def test_a_late_downstream_machine_uses_the_spill_side() -> None:
    """contract.md: a link drifts by fps·(e_downstream − e_upstream), + towards spill."""
    late = with_house(a_show(2, start_scatter_s=0.3), 1, start_delay_s=1.5)
    more_spill, more_tight = with_link(late, 0, spill_fr=96.0), with_link(late, 0, tight_fr=96.0)
    assert chain_of(more_spill).holds() > chain_of(late).holds() + 0.1
    assert chain_of(more_tight).holds() == pytest.approx(chain_of(late).holds(), abs=1e-6)


def test_half_a_ramp_is_lost_and_its_scatter_counts_half() -> None:
    """contract.md: e ~ N(start_delay + ramp/2, start_scatter² + ramp_scatter²/4). [C] one link by erf."""
    show = a_show(2, start_scatter_s=0.4, ramp_scatter_s=0.6)
    show = with_house(show, 1, ramp_s=2.0)  # half a second later than the other one's 1.0 s
    sd = math.sqrt(2.0 * (0.4**2 + 0.6**2 / 4.0))
    want = 0.5 * (math.erf(1.5 / sd / math.sqrt(2.0)) + math.erf(2.5 / sd / math.sqrt(2.0)))
    assert chain_of(show).holds() == pytest.approx(want, abs=1e-12)


def test_scatter_for_gives_back_its_own_odds() -> None:
    show = with_house(with_link(a_show(5), 2, spill_fr=30.0), 3, start_delay_s=0.4)
    chain = chain_of(show)
    for target in (0.5, 0.99, 0.999):
        scatter_s = scatter_for(chain, target)
        assert scatter_s is not None
        assert chain.with_common_scatter(scatter_s).holds() == pytest.approx(target, abs=1e-11)


def test_scatter_for_is_null_where_no_timer_would_do() -> None:
    assert scatter_for(chain_of(with_house(a_show(3), 1, start_delay_s=2.5)), 0.99) is None
    assert scatter_for(chain_of(a_show(3, ramp_scatter_s=4.0)), 0.99) is None
    assert scatter_for(chain_of(a_show(1)), 0.99) is None
    assert scatter_for(chain_of(a_show(3, tight_s=0.0, spill_s=0.0)), 0.99) is None


def test_without_shows_a_synchronous_show_is_exact_throughout() -> None:
    odds = report(a_show(4, start_scatter_s=0.5))
    assert (odds.method, odds.shows, odds.seed) == ("exact", None, None)
    assert odds.run_holds == odds.start_holds == chain_of(a_show(4, start_scatter_s=0.5)).holds()
    assert all(link.run_holds == link.start_holds for link in odds.links)


def test_without_shows_machines_that_drift_apart_are_simulated_and_the_start_stays_exact() -> None:
    show = a_show(3, motors=["crystal"] * 3, tolerance=5e-5)
    assert shows_needed(show, None) == DEFAULT_SHOWS
    odds = report(show)
    assert (odds.method, odds.shows, odds.seed) == ("simulated", DEFAULT_SHOWS, 0)
    assert odds.start_exact
    assert odds.start_holds == chain_of(show).holds()
    assert odds.run_holds < odds.start_holds


def test_a_run_is_never_told_to_be_likelier_than_its_start_or_than_one_of_its_links() -> None:
    """With tolerances so small that nothing is lost in the run, chance alone would put it above half of the
    time."""
    for scatter_s in (0.45, 0.6):
        odds = report(a_show(4, motors=["crystal"] * 4, tolerance=1e-8, start_scatter_s=scatter_s))
        assert odds.method == "simulated"
        assert odds.start_holds - 1e-4 < odds.run_holds <= odds.start_holds
        assert all(odds.run_holds <= link.run_holds <= link.start_holds for link in odds.links)


def test_with_shows_both_are_shares_of_them() -> None:
    odds = report(a_show(3, start_scatter_s=0.6), shows=1000, seed=7)
    assert (odds.method, odds.shows, odds.seed, odds.start_exact) == ("simulated", 1000, 7, False)
    assert odds.start_holds * 1000 == pytest.approx(round(odds.start_holds * 1000), abs=1e-9)


def test_the_weakest_link_is_the_one_with_the_least_odds() -> None:
    assert report(with_link(a_show(5), 2, tight_fr=30.0)).weakest == "3>4"


def test_the_json_document_has_the_contracts_keys_and_nothing_rounded() -> None:
    odds = report(with_link(a_show(4, start_scatter_s=0.5), 1, wired=True))
    document = json.loads(json.dumps(odds.as_json()))
    assert set(document) >= {
        "start_holds",
        "run_holds",
        "method",
        "shows",
        "seed",
        "links",
        "weakest",
        "scatter_for",
    }
    assert set(document["links"][0]) == {"link", "start_holds", "run_holds"}
    assert set(document["scatter_for"]) == {"0.99", "0.999"}
    assert document["start_holds"] == odds.start_holds
    assert document["lack_wired_stop"] == ["1>2", "3>4"]


def test_the_worst_timer_is_what_helps_most() -> None:
    show = with_house(a_show(5), 3, start_scatter_s=0.9)
    best = helps(show)[0]
    assert (best.kind, best.subject, best.now_s, best.then_s) == ("timer", "4", 0.9, 0.45)
    assert best.before == chain_of(show).holds()
    assert best.after == chain_of(with_house(show, 3, start_scatter_s=0.45)).holds() > best.before


def test_the_shortest_loop_is_what_helps_most() -> None:
    show = with_link(a_show(5), 1, tight_fr=20.0, spill_fr=20.0)
    best = helps(show)[0]
    assert (best.kind, best.subject) == ("loop", "2>3")
    assert best.after == chain_of(with_link(show, 1, tight_fr=44.0, spill_fr=44.0)).holds()
    gains = [h.gain for h in helps(show)]
    grain = 1e-4 * (1.0 - best.before)  # alike within that stands in film order
    assert all(later <= earlier + grain for earlier, later in itertools.pairwise(gains))
    assert len(gains) == 5 + 4


def test_a_dead_stop_uses_2_s_of_slack_in_2_s_and_its_own_coast_comes_on_top() -> None:
    """[D] reference.md: Δ 24 fps uses 48 frames in 2.00 s; design.md: a dead stop uses 2 s of slack in 2
    s."""
    dead = dead_stops(a_show(2, coast_s=0.0))
    assert [(s.toward, s.stops, s.other) for s in dead] == [("tight", "1", "2"), ("spill", "2", "1")]
    assert [s.to_limit_s for s in dead] == [2.0, 2.0]
    coasting = dead_stops(with_house(a_show(2, coast_s=0.0), 0, coast_s=0.6))
    assert coasting[0].to_limit_s == pytest.approx(2.3)
    assert coasting[0].to_act_s == pytest.approx(2.3)  # the other one stands at once
    assert coasting[1].to_act_s == pytest.approx(1.7)  # the one to be cut still runs on


def test_a_limit_reached_while_the_machine_still_coasts_is_reached_on_the_parabola() -> None:
    """[D] Lost after t of a linear coast c: t²/(2c). 0.5 s of slack with a coast of 4 s: 2 s."""
    dead = dead_stops(a_show(2, coast_s=4.0, tight_s=0.5))
    assert dead[0].to_limit_s == pytest.approx(2.0)


def test_two_seconds_are_too_short_for_a_person_and_the_links_without_a_wire_are_named() -> None:
    """[P] Green 2000: 1.5 s to react; and the stop has still to be reached."""
    assert REACTION_S == 1.5
    dead = dead_stops(a_show(4, wired=[1]))
    assert not any(s.by_hand for s in dead)
    assert lacking_wire(dead) == ("1>2", "3>4")
    text = " ".join(advice(dead))
    assert "only a wired stop saves the print" in text
    assert "No wired stop: 1>2, 3>4." in text
    assert "no safety device" in text


def test_long_loops_can_be_saved_by_hand() -> None:
    dead = dead_stops(a_show(3, tight_s=6.0, spill_s=6.0))
    assert all(s.by_hand for s in dead)
    assert lacking_wire(dead) == ()
    assert "only a wired stop" not in " ".join(advice(dead))


def test_a_wired_stop_that_would_not_hold_is_said_so() -> None:
    show = with_house(a_show(2, wired=[0], coast_s=0.0), 1, coast_s=5.0)
    dead = dead_stops(show)
    assert not dead[0].wire_holds
    assert dead[0].to_act_s == 0.0
    assert any(s.startswith("1>2: even with a wired stop 2 coasts longer") for s in advice(dead))


def test_one_house_has_no_odds_to_lose() -> None:
    odds = report(a_show(1))
    assert (odds.start_holds, odds.run_holds, odds.weakest, odds.links) == (1.0, 1.0, None, ())


def test_crystals_beside_mains_are_pointed_out() -> None:
    notes = " ".join(report(a_show(2, motors=["crystal", "synchronous"], tolerance=5e-5)).notes)
    assert "48 frames in 67 minutes" in notes
