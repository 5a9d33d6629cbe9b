"""Trims learned from rehearsed starts recover the simulator's true timers, say how sure they are, and write them down."""

from __future__ import annotations

import json
import math
from pathlib import Path

import msgspec
import pytest
from incident_records import DELAYS, SCATTERS, rehearse, small_show

from interlock.cli import run
from interlock.errors import UsageError
from interlock.incident.starts import Start, read_start
from interlock.incident.trims import HouseTrim, Trims, trims
from interlock.incident.trims_words import words
from interlock.incident.trims_write import write_trims
from interlock.journal import Record
from interlock.plan.odds_start import chain_of
from interlock.showfile.load import load_show

POOL = 8


def starts_of(folder: Path, seeds: range, **show: bool) -> list[Start]:
    path = small_show(folder / "small.toml", **show)
    found = []
    for seed in seeds:
        record_path = folder / f"{seed}.record"
        rehearse(path, record_path, seed=seed)
        with Record.open(record_path) as record:
            start = read_start(record)
        assert start is not None
        found.append(start)
        record_path.unlink()
    return found


def inside(t: Trims) -> tuple[list[bool], list[bool]]:
    """(delay within its interval, scatter within its interval) of each house."""
    delays, scatters = [], []
    for h in t.houses:
        e = h.delay
        assert e is not None
        assert e.low is not None
        assert e.high is not None
        assert e.scatter_low is not None
        assert e.scatter_high is not None
        delays.append(e.low <= DELAYS[h.house] <= e.high)
        scatters.append(e.scatter_low <= SCATTERS[h.house] <= e.scatter_high)
    return delays, scatters


def coverage(starts: list[Start]) -> tuple[float, float, int]:
    """Shares of intervals that hold the truth, and how many were tried."""
    delays: list[bool] = []
    scatters: list[bool] = []
    for n in range(len(starts) // POOL):
        a, b = inside(trims(starts[n * POOL : (n + 1) * POOL]))
        delays += a
        scatters += b
    return sum(delays) / len(delays), sum(scatters) / len(scatters), len(delays)


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> list[Start]:
    return starts_of(tmp_path_factory.mktemp("starts"), range(100, 140))


@pytest.fixture(scope="module")
def starts(many: list[Start]) -> list[Start]:
    return many[:24]


def test_the_true_delays_and_scatters_lie_in_the_intervals_at_the_stated_rate(many: list[Start]) -> None:
    """5 pools of 8 rehearsed starts, 20 intervals of each sort at 95 %: within 4 sigma, at least 16 of them hold."""
    delay, scatter, n = coverage(many)
    assert n == 20
    least = 0.95 - 4.0 * math.sqrt(0.95 * 0.05 / n)
    assert delay >= least
    assert scatter >= least


@pytest.mark.long
def test_over_many_seeds_the_rate_is_the_stated_one(tmp_path: Path) -> None:
    """150 pools, 600 intervals of each sort: 95 % within 4 sigma (± 3.6 %), neither fewer nor more."""
    delay, scatter, n = coverage(starts_of(tmp_path, range(150 * POOL)))
    print(f"trims: delay intervals hold {delay:.4f}, scatter intervals {scatter:.4f}, of {n}")
    room = 4.0 * math.sqrt(0.95 * 0.05 / n)
    assert delay == pytest.approx(0.95, abs=room)
    assert scatter == pytest.approx(0.95, abs=room)


def test_a_house_with_no_contact_is_read_from_its_counter_within_a_frame(tmp_path: Path) -> None:
    """The same seeds with and without d's run contact: half a frame either way, and 5 ms of ticks and supply."""
    for contact, counter in zip(
        starts_of(tmp_path, range(9, 15)), starts_of(tmp_path, range(9, 15), d_by_counter=True), strict=True
    ):
        assert (contact.by["d"], counter.by["d"]) == ("contact", "counter")
        assert counter.delay_s["d"] == pytest.approx(contact.delay_s["d"], abs=0.5 / 24.0 + 0.005)
        assert counter.delay_s["a"] == contact.delay_s["a"]


def test_corrections_level_the_houses_and_the_odds_say_what_that_is_worth(starts: list[Start]) -> None:
    found = trims(starts)
    level = {
        h.house: h.delay.mean + (h.correction_s or 0.0)
        for h in found.houses
        if h.delay is not None and h.worth_it
    }
    assert len(level) >= 3
    assert max(level.values()) - min(level.values()) < 1e-9  # [D] all ramps are alike here
    assert found.odds_file == chain_of(starts[0].show).holds()
    assert found.odds_measured is not None
    assert found.odds_corrected is not None
    assert found.odds_cautious is not None
    assert found.odds_corrected >= found.odds_measured >= found.odds_cautious
    late = next(h for h in found.houses if h.house == "d")
    assert late.correction_s is not None
    assert late.correction_s < 0  # d starts last: it is to start sooner


def test_with_too_few_starts_it_says_how_many_more(starts: list[Start]) -> None:
    one = trims(starts[:1])
    assert all(h.correction_s is None and h.more_starts > 0 for h in one.houses)
    assert one.odds_measured is None
    few, many = trims(starts[:4]), trims(starts)
    need = {h.house: h.more_starts for h in few.houses}
    assert need["b"] > need["a"] > 0  # b scatters four times as much as a
    assert all(h.more_starts < need[h.house] for h in many.houses)
    assert next(h for h in many.houses if h.house == "a").more_starts == 0


def test_a_start_by_hand_is_named_as_an_outlier_and_left_out(starts: list[Start]) -> None:
    odd = msgspec.structs.replace(starts[3], delay_s={**starts[3].delay_s, "c": 3.1}, record="by-hand.record")
    found = trims([*starts[:3], odd, *starts[4:]])
    assert [(o.record, o.house) for o in found.outliers] == [("by-hand.record", "c")]
    house = next(h for h in found.houses if h.house == "c")
    assert house.delay is not None
    assert house.delay.n == len(starts) - 1
    assert house.with_outliers is not None
    assert house.with_outliers.mean > house.delay.mean


def test_a_show_on_another_clock_is_named_and_taken_out_on_request(starts: list[Start]) -> None:
    off = msgspec.structs.replace(
        starts[5], delay_s={h: d + 2.5 for h, d in starts[5].delay_s.items()}, record="clock.record"
    )
    mixed = [*starts[:5], off, *starts[6:]]
    found = trims(mixed)
    assert [r for r, _ in found.shifted] == ["clock.record"]
    assert any("--relative" in n for n in found.notes)
    relative = trims(mixed, relative=True)
    mean = math.fsum(DELAYS.values()) / len(DELAYS)
    for h in relative.houses:
        e = h.delay
        assert e is not None
        assert e.high is not None
        assert e.scatter is not None
        # Twice the 95 % interval: wrong once in some 20,000 times.
        assert abs(e.mean - (DELAYS[h.house] - mean)) < 2.0 * (e.high - e.mean)
        assert e.scatter == pytest.approx(SCATTERS[h.house], rel=0.6)


def test_the_same_start_given_twice_counts_once(starts: list[Start]) -> None:
    found = trims([*starts[:5], starts[0]])
    assert len(found.records) == 5
    assert any("counted once" in n for n in found.notes)


def test_nobody_sets_a_timer_by_a_rehearsal_unawares(starts: list[Start]) -> None:
    real = [msgspec.structs.replace(s, rehearsal=False) for s in starts]
    assert trims(real).rehearsed == ()
    assert not any("simulated" in n for n in trims(real).notes)
    mixed = trims([*real[:5], starts[5]])
    assert mixed.rehearsed == ("105.record",)
    assert "leave out: 105.record" in mixed.notes[0]
    assert "simulated machines" in words(mixed)
    rehearsed = trims(starts[:5])
    assert len(rehearsed.rehearsed) == 5
    assert "Dial nothing in" in words(rehearsed)


def test_the_command_prints_writes_with_comments_kept_and_refuses_other_houses(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    show = small_show(tmp_path / "small.toml")
    journals = []
    for seed in range(6):
        journals.append(str(tmp_path / f"{seed}.record"))
        rehearse(show, Path(journals[-1]), seed=seed)
    capsys.readouterr()
    before = show.read_text()
    assert run(["trims", *journals, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [h["house"] for h in found["houses"]] == ["a", "b", "c", "d"]
    assert show.read_text() == before
    assert run(["trims", *journals, "--write", str(show)]) == 0
    out = capsys.readouterr().out
    assert "Written: house a" in out
    after = show.read_text()
    assert after.count("# house ") == 4
    changed = [(a, b) for a, b in zip(before.splitlines(), after.splitlines(), strict=True) if a != b]
    assert len(changed) == 8
    assert all(a.split("=")[0] == b.split("=")[0] for a, b in changed)
    houses = {h.id: h for h in load_show(show).houses}
    for h in found["houses"]:
        assert houses[h["house"]].start_delay_s == pytest.approx(h["delay"]["mean_s"], abs=0.0006)
        assert houses[h["house"]].start_scatter_s == pytest.approx(h["delay"]["scatter_s"], abs=0.0006)
    assert run(["trims", journals[0], "--write", str(show)]) == 2
    assert "too few starts" in capsys.readouterr().err
    assert show.read_text() == after


def test_a_negative_delay_moves_all_together(starts: list[Start], tmp_path: Path) -> None:
    early = [msgspec.structs.replace(s, delay_s={h: d - 1.0 for h, d in s.delay_s.items()}) for s in starts]
    show = small_show(tmp_path / "s.toml")
    said = write_trims(show, trims(early).houses)
    written = {h.id: h.start_delay_s for h in load_show(show).houses}
    assert min(written.values()) == 0.0
    assert any("moved" in s for s in said)
    kept: dict[str, HouseTrim] = {h.house: h for h in trims(early).houses}
    a, d = kept["a"].delay, kept["d"].delay
    assert a is not None
    assert d is not None
    assert written["d"] - written["a"] == pytest.approx(d.mean - a.mean, abs=0.0011)


def test_records_without_a_start_and_of_other_houses_are_refused_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], starts: list[Start]
) -> None:
    fewer = msgspec.structs.replace(
        starts[0].show, houses=starts[0].show.houses[:2], links=starts[0].show.links[:1]
    )
    with pytest.raises(UsageError, match="one chain of houses only"):
        trims([starts[0], msgspec.structs.replace(starts[1], show=fewer)])
    with pytest.raises(UsageError, match="no motor turned"):
        trims([])
    assert run(["trims", str(tmp_path / "none.record")]) == 2
    assert "no such file" in capsys.readouterr().err
