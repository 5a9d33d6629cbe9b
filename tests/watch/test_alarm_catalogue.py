"""The catalogue: every alarm of the contract, each with something to do, and the page that is printed from it."""

from __future__ import annotations

from pathlib import Path

from interlock.watch.catalogue import CATALOGUE, LIVE, priority_in
from interlock.watch.catalogue_doc import page

# contract.md, "Alarm codes", in its order.
CONTRACT = {
    "slack-low": "medium", "slack-critical": "high", "slack-lost": "high", "slack-forecast": "medium",
    "start-late": "high", "run-lost": "high", "run-early": "high", "count-lost": "high", "speed-off": "medium",
    "film-out": "high", "deck-stopped": "high", "lamp-dark": "medium", "lamp-out": "high",
    "lamp-against-dowser": "medium", "lamp-left-on": "low", "gate-heat": "high", "dowser-shut": "high",
    "dowser-open-early": "low", "adapter-stale": "low", "adapter-lost": "high", "adapter-restarted": "low",
    "blind": "medium", "record-failing": "high",
}  # fmt: skip


def test_the_catalogue_has_the_contracts_codes_and_priorities_and_no_others() -> None:
    assert {code: kind.priority for code, kind in CATALOGUE.items()} == CONTRACT


def test_every_alarm_says_what_it_means_what_happens_if_nothing_is_done_and_what_to_do() -> None:
    for kind in CATALOGUE.values():
        for words in (kind.means, kind.cause, kind.consequence, kind.response):
            assert len(words.split()) >= 1
            assert words == words.strip()
        assert kind.respond_s > 0.0
        assert len(kind.response) > 15


def test_slack_run_and_heat_alarms_have_no_delay_before_they_trip() -> None:
    # contract.md and the issue: no on-delay before a slack, run or heat alarm; there is no on-delay in the catalogue at all.
    assert not any(hasattr(kind, "on_delay_s") for kind in CATALOGUE.values())


def test_what_is_live_in_a_phase_is_what_the_contract_says() -> None:
    assert LIVE["running"] == LIVE["running-out"] == frozenset(CONTRACT)
    assert "run-early" in LIVE["armed"]
    assert "run-early" not in LIVE["waiting"]
    assert not {c for c in LIVE["stopped"] if c.startswith(("slack", "run", "start", "speed", "dowser"))}
    assert {"gate-heat", "lamp-against-dowser", "record-failing"} <= LIVE["waiting"]


def test_adapter_alarms_are_low_while_the_show_waits() -> None:
    assert priority_in("adapter-lost", "waiting") == "low"
    assert priority_in("adapter-lost", "running") == "high"


def test_the_page_in_docs_is_the_one_that_the_code_prints() -> None:
    written = Path(__file__).parents[2] / "docs" / "alarms.md"
    assert written.read_text(encoding="utf-8") == page()
