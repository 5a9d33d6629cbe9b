"""A record as the review shows it, against the desk folded again over the same record."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from interlock.commands.review import command
from interlock.errors import NotARecord, RecordAltered, UsageError
from interlock.incident.recorded import seconds_at, show_of
from interlock.journal import Record, RecordMeta
from interlock.service import on_screen
from interlock.service.config import Config
from interlock.service.in_process import rehearse_summed_up
from interlock.service.review import CHECKPOINT, RecordedShow
from interlock.watch.desk import Desk
from interlock.watch.inputs import Anchor, Tick
from interlock.watch.seconds import Second
from interlock.watch.state import Line, ShowLine, State

CONFIGS = Path(__file__).parents[2] / "configs"


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The six-house show with shorter parts, in which house 3 trips, is stopped, and goes on."""
    folder = tmp_path_factory.mktemp("review")
    path, short = folder / "six.record", folder / "six.toml"
    text = (CONFIGS / "six-house.toml").read_text(encoding="utf-8")
    short.write_text(re.sub(r'(?m)^runtime *= *".*"', 'runtime = "0:01:30"', text), encoding="utf-8")
    config = Config(
        show=str(short), journal=str(path), rehearsal=True, seed=3,
        scenario=str(CONFIGS / "scenarios" / "trip-in-mid-run.toml"),
    )  # fmt: skip
    assert rehearse_summed_up(config, lambda _: None) == 0
    return path


@pytest.fixture(scope="module")
def folded(recorded: Path) -> list[tuple[float, State]]:
    """(desk second, what today's desk shows) half a second after every tenth second."""
    found: list[tuple[float, State]] = []
    with Record.open(recorded) as record:
        show = show_of(record.meta)
        desk: Desk | None = None
        began_s, wanted = 0.0, 10.5
        for _, x in record.inputs():
            if desk is None:
                assert isinstance(x, Anchor)
                desk, began_s = Desk(show, x, rehearsal=True), x.at_s
            while x.at_s > began_s + wanted:
                desk.step(Tick(began_s + wanted))
                found.append((wanted, desk.state()))
                wanted += 10.0
            desk.step(x)
    return found


@pytest.fixture(scope="module")
def show(recorded: Path) -> RecordedShow:
    with Record.open(recorded) as record:
        return RecordedShow(record)


def test_a_moment_is_what_the_desk_showed_then(show: RecordedShow, folded: list[tuple[float, State]]) -> None:
    assert len(folded) > 80
    alarmed = 0
    for t_s, then in folded:
        now = show.at(t_s).state
        assert (now.phase, now.leads, now.silenced) == (then.phase, then.leads, then.silenced), t_s
        assert [(a.code, a.subject, a.state, a.priority, a.first_out) for a in now.alarms] == [
            (a.code, a.subject, a.state, a.priority, a.first_out) for a in then.alarms
        ], t_s
        assert [(h.house, h.phase, h.run, h.lamp, h.dowser, h.film, h.part, h.dark) for h in now.houses] == [
            (h.house, h.phase, h.run, h.lamp, h.dowser, h.film, h.part, h.dark) for h in then.houses
        ], t_s
        assert [(k.link, k.state) for k in now.links] == [(k.link, k.state) for k in then.links], t_s
        assert {(c.house, c.cue, c.state) for c in now.cues if c.state != "coming"} == {
            (c.house, c.cue, c.state) for c in then.cues if c.state != "coming"
        }, t_s
        assert (now.show_s is None) == (then.show_s is None)
        if then.show_s is not None:
            assert now.show_s == pytest.approx(then.show_s, abs=0.002)
            assert now.plan_s == pytest.approx(then.plan_s, abs=0.05), t_s
        alarmed += bool(now.alarms)
    assert alarmed > 3, "a show in which nothing happened shows nothing"


def test_frames_and_drifts_are_those_of_the_second_in_which_one_is(
    show: RecordedShow, folded: list[tuple[float, State]]
) -> None:
    judged = late = 0
    for t_s, then in folded:
        for a, b in zip(show.at(t_s).state.houses, then.houses, strict=True):
            assert (a.frame is None) == (b.frame is None)
            if a.frame is not None and b.frame is not None:
                assert abs(a.frame - b.frame) <= 24.5, "at most a second old"
                assert a.expected_frame is not None
                assert b.expected_frame is not None
                assert a.frame - a.expected_frame == pytest.approx(b.frame - b.expected_frame, abs=12.6)
                if b.speed_fps is not None and abs(b.speed_fps - 24.0) < 0.1 and then.phase == "running":
                    assert a.frame - a.expected_frame == pytest.approx(b.frame - b.expected_frame, abs=0.1)
                    late += 1
        for c, d in zip(show.at(t_s).state.links, then.links, strict=True):
            assert (c.drift_fr is None) == (d.drift_fr is None)
            if c.drift_fr is not None and d.drift_fr is not None and abs(d.rate_fps or 0.0) < 1.0:
                assert c.drift_fr == pytest.approx(d.drift_fr, abs=1.0)
                assert c.left_fr == pytest.approx(d.left_fr, abs=1.0)
                judged += 1
    assert judged > 100
    assert late > 100


def test_every_alarm_that_came_is_a_mark_at_the_moment_at_which_it_stands(show: RecordedShow) -> None:
    assert {(a.code, a.subject) for a in show.alarms} >= {("run-lost", "3")}
    assert [a.t_s for a in show.alarms] == sorted(a.t_s for a in show.alarms)
    for mark in show.alarms:
        assert (mark.code, mark.subject) in {(a.code, a.subject) for a in show.at(mark.t_s).state.alarms}


def test_the_log_and_the_drifts_end_where_one_is(show: RecordedShow) -> None:
    moment = show.at(400.0)
    assert moment.log
    assert max(seconds_at(line.at) for line in moment.log) <= show.began_s + 400.0
    assert {name: points[-1][0] for name, points in moment.drifts.items()} == {
        k.link: pytest.approx(moment.state.show_s, abs=1.0) for k in show.layout.links
    }


def test_outside_the_record_are_its_ends(show: RecordedShow) -> None:
    assert show.at(-5.0).state == show.at(0.0).state
    assert show.at(1e9).state == show.at(show.length_s).state
    assert show.at(1e9).state.phase == "ended"


def test_any_moment_is_there_in_under_a_fifth_of_a_second(show: RecordedShow) -> None:
    for n in range(50):
        begun = time.perf_counter()
        show.at(show.length_s * n / 50)
        assert time.perf_counter() - begun < 0.2


class Told:
    """A record that is what the test says it is."""

    def __init__(
        self, meta: RecordMeta, lines: list[Line], seconds: list[Second], *, broken: bool = False
    ) -> None:
        self.path, self.meta, self.ended = "told.record", meta, True
        self._lines, self._seconds, self._broken = lines, seconds, broken

    def lines(self) -> Iterator[tuple[int, Line]]:
        yield from enumerate(self._lines)
        if self._broken:
            raise RecordAltered("the lines of batch 7 cannot be read")

    def seconds(self) -> Iterator[Second]:
        yield from self._seconds

    def inputs(self) -> Iterator[tuple[int, object]]:
        yield from ()


def told(recorded: Path, n: int, *, hole: tuple[int, int] = (0, 0), broken: bool = False) -> RecordedShow:
    with Record.open(recorded) as record:
        meta, seconds = record.meta, list(record.seconds())[:n]
        lines = [line for _, line in record.lines() if line.at <= seconds[-1].at]
    kept = [s for k, s in enumerate(seconds) if not hole[0] <= k < hole[1]]
    return RecordedShow(Told(meta, lines, kept, broken=broken))  # type: ignore[arg-type]


def test_of_a_hole_in_the_record_nothing_is_shown_as_known(recorded: Path) -> None:
    show = told(recorded, 400, hole=(200, 260))
    for t_s, gap in ((198.5, False), (230.0, True), (259.5, True), (261.0, False)):
        moment = show.at(t_s)
        assert moment.gap is gap, t_s
        unknown = all(h.frame is None and h.run is None for h in moment.state.houses)
        assert unknown is gap, t_s
        assert all(k.drift_fr is None for k in moment.state.links) is gap, t_s


def test_a_damaged_record_shows_what_can_be_read_and_says_so(recorded: Path) -> None:
    show = told(recorded, 300, broken=True)
    assert "batch 7 cannot be read" in show.remark
    assert show.at(250.0).state.houses


def test_more_lines_than_lie_between_two_checkpoints_change_nothing(recorded: Path) -> None:
    with Record.open(recorded) as record:
        meta = record.meta
    lines: list[Line] = [
        ShowLine(
            seq=n, at=f"2026-12-05T20:{n // 60:02}:{n % 60:02}.000Z", show_s=None, title="",
            phase="armed" if n % 2 else "waiting",
        )
        for n in range(3 * CHECKPOINT)
    ]  # fmt: skip
    show = RecordedShow(Told(meta, lines, []))  # type: ignore[arg-type]
    for n in (0, 1, CHECKPOINT - 1, CHECKPOINT, CHECKPOINT + 1, 2 * CHECKPOINT, 3 * CHECKPOINT - 1):
        assert show.at(float(n)).state.seq == n
        assert show.at(float(n)).state.phase == ("armed" if n % 2 else "waiting")


def test_what_is_no_record_is_refused_with_its_name(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("no record")
    with pytest.raises(NotARecord, match=r"notes\.txt"):
        command(path)


def test_without_a_terminal_it_says_what_serves_instead(
    recorded: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(on_screen, "has_terminal", lambda: False)
    with pytest.raises(UsageError, match="longlace report"):
        command(recorded)
