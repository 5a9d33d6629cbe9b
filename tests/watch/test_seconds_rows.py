"""The once-a-second lines as compact rows: what the record keeps of them."""

from __future__ import annotations

import pytest
from rig import Rig, make_show

from interlock.watch.seconds import FRAME, RATE, pack_seconds, seconds_of, unpack_seconds
from interlock.watch.state import ErrorLine, HouseLine, LinkLine


def lines_of_a_start() -> Rig:
    rig = Rig(make_show(3))
    for k, truth in enumerate(rig.truth):
        truth.spans.append((60.0 + 0.1 * k, 1e9))
    rig.go(80.0)
    return rig


def test_every_second_is_kept_with_all_houses_and_links_in_film_order() -> None:
    rig = lines_of_a_start()
    seconds = seconds_of(rig.lines)
    periodic = [x for x in rig.lines if isinstance(x, HouseLine) and x.periodic]
    assert [s.at for s in seconds] == list(dict.fromkeys(x.at for x in periodic))
    assert {(len(s.houses), len(s.links)) for s in seconds} == {(3, 2)}
    last = [x for x in rig.lines if isinstance(x, HouseLine | LinkLine) and x.periodic][-5:]
    assert [x.house for x in last if isinstance(x, HouseLine)] == ["1", "2", "3"]
    for row, line in zip(seconds[-1].houses, last[:3], strict=True):
        assert isinstance(line, HouseLine)
        assert line.frame is not None
        assert row[0] == line.frame
    for drift, line in zip(seconds[-1].links, last[3:], strict=True):
        assert isinstance(line, LinkLine)
        assert line.drift_fr is not None
        assert drift[0] == line.drift_fr


def test_what_is_packed_comes_back_and_lines_that_are_events_leave_no_second() -> None:
    rig = lines_of_a_start()
    kept, exact = unpack_seconds(pack_seconds(rig.lines)), seconds_of(rig.lines)
    assert [(s.at, len(s.houses), len(s.links)) for s in kept] == [
        (s.at, len(s.houses), len(s.links)) for s in exact
    ]
    for a, b in zip(kept, exact, strict=True):
        assert a.show_s == (None if b.show_s is None else pytest.approx(b.show_s, abs=0.0006))
        for x, y in zip([*a.houses, *a.links], [*b.houses, *b.links], strict=True):
            assert [v is None for v in x] == [v is None for v in y]
            assert all(
                v is None or v == pytest.approx(w, abs=0.5 / FRAME + 1e-9) for v, w in zip(x, y, strict=True)
            )
        for (_, _, x_rate), (_, _, y_rate) in zip(a.links, b.links, strict=True):
            assert y_rate is None or x_rate == pytest.approx(y_rate, abs=0.5 / RATE + 1e-9)
    events = [x for x in rig.lines if not getattr(x, "periodic", False)]
    assert events
    assert pack_seconds(events) == ""
    assert unpack_seconds("") == []


def test_a_line_that_cannot_be_drawn_costs_the_seconds_and_nothing_else() -> None:
    bad = HouseLine(
        seq=0, at="2026-01-01T00:00:00.000Z", show_s=None, house="1", phase="leader", run=None, lamp=None,
        dowser=None, film=None, frame="x", expected_frame=None, sigma_fr=None, speed_fps=None, part=None,  # type: ignore[arg-type]
        dark=False, periodic=True,
    )  # fmt: skip
    assert pack_seconds([bad]) == ""
    assert pack_seconds([ErrorLine(seq=0, at="", show_s=None, text="x")]) == ""
