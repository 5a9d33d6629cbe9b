"""Two machines, the real firmware on their contacts, the real session, the real desk; one clock for all, moved by hand."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
from firmware_story import Board

from drivers.firmware import line
from drivers.serial_session import Session
from interlock.showfile.load import load_show
from interlock.signals import Presence, Reading
from interlock.watch.desk import Desk
from interlock.watch.inputs import Action, Anchor, Tick
from interlock.watch.state import AdapterLine, AlarmLine, HouseLine, Line, LinkLine

TWO = Path(__file__).parents[2] / "configs" / "two-house.toml"
BORN_S = 500.0
WAY_S = 0.003
RAMP_S = 1.0
RUN, LAMP, DOWSER, FILM = (0, 4), (1, 5), (2, 6), (3, 7)


class Booth:
    """``configs/two-house.toml`` with its one adapter. Machine k runs from ``start_ms[k]`` on, both together by default."""

    def __init__(self, **board: Any) -> None:
        self.show = load_show(TWO)
        given: dict[str, Any] = {"levels": 10, "counters": 2, "analogs": 0, "name": "booth"}
        self.board = Board(line, **(given | board))
        self.readings: list[Reading] = []
        self.lines: list[Line] = []
        self.desk = Desk(self.show, Anchor(BORN_S, self.show.motor_start_wall_s - 2.5))
        self.session = Session(self.show.adapters[0], "/dev/ttyACM0", self._reading, self.board.hear)
        self.start_ms: dict[int, int] = {}
        self.pulses_per_frame = [1, 1]
        self.each: Callable[[int], None] = lambda ms: None
        self.damage: Callable[[bytes], bytes] = lambda data: data
        self._pulses = [0, 0]
        for k in (*LAMP, *DOWSER, *FILM):  # lit, shut, and threaded
            if k < len(self.board.closed):
                self.board.closed[k] = True
        self.session.opened(BORN_S)

    @property
    def now_s(self) -> float:
        return BORN_S + self.board.ms / 1000.0

    def _reading(self, reading: Reading) -> None:
        self.readings.append(reading)
        self.lines += self.desk.step(reading)

    def do(self, action: str, **keys: Any) -> None:
        self.lines += self.desk.step(Action(self.now_s, action, **keys))

    def frames(self, k: int) -> float:
        """What machine k has run."""
        run_s = (self.board.ms - self.start_ms.get(k, 1 << 60)) / 1000.0
        if run_s <= 0:
            return 0.0
        return 24.0 * (run_s * run_s / (2 * RAMP_S) if run_s < RAMP_S else run_s - RAMP_S / 2)

    def _move(self, ms: int) -> None:
        for k in (0, 1):
            if ms == self.start_ms.get(k) and RUN[k] < len(self.board.closed):
                self.board.contact(RUN[k], True)
            while self._pulses[k] < int(self.frames(k) * self.pulses_per_frame[k]):
                self._pulses[k] += 1
                if k < len(self.board.adapter.counters):
                    self.board.pulse(k)
        self.each(ms)

    def run(self, seconds: float) -> None:
        for _ in range(round(seconds * 1000)):
            self.board.run(1, self._move)
            if self.board.said:
                data = self.damage(b"".join(d for _, d in self.board.said))
                self.board.said.clear()
                self.session.data(self.now_s + WAY_S, data)
            elif self.board.ms % 200 == 0:
                self.session.data(self.now_s + WAY_S, b"")
            if self.board.ms % 100 == 0:
                self.lines += self.desk.step(Tick(self.now_s + WAY_S))

    def start(self, seconds: float) -> None:
        """Armed, both motors started, and so long on."""
        self.run(2.0)
        self.do("arm")
        self.run(0.5)
        self.start_ms = {0: self.board.ms + 10, 1: self.board.ms + 10}
        self.run(seconds)

    def texts(self) -> list[tuple[str, str]]:
        return [(r.state, r.text) for r in self.readings if isinstance(r, Presence)]

    def alarms(self) -> list[tuple[str, str]]:
        """(code, subject), each once, in the order in which they were raised."""
        raised = [
            (x.code, x.subject)
            for x in self.lines
            if isinstance(x, AlarmLine) and x.state == "unacknowledged"
        ]
        return list(dict.fromkeys(raised))

    def house(self, house: str) -> HouseLine:
        return [x for x in self.lines if isinstance(x, HouseLine) and x.house == house][-1]

    def link(self) -> LinkLine:
        return [x for x in self.lines if isinstance(x, LinkLine) and x.link == "1>2"][-1]

    def adapter(self) -> AdapterLine:
        return [x for x in self.lines if isinstance(x, AdapterLine)][-1]

    def rewired(self, **wiring: Any) -> None:
        """Another wiring in the show file, for a booth that has not run yet."""
        spec = self.show.adapters[0]
        spec = msgspec.structs.replace(spec, wiring=msgspec.structs.replace(spec.wiring, **wiring))
        self.session = Session(spec, "/dev/ttyACM0", self._reading, self.board.hear)
        self.session.opened(BORN_S)
