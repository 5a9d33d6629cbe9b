"""The contract suite itself: a driver of a few lines keeps it on a virtual clock, and each broken promise is caught."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any, ClassVar

import pytest
from contract import WIRING, DriverContract, Rig, Run
from pydantic import BaseModel, ConfigDict, Field

from drivers.driver import Driver, Emit, find, names, read_options
from interlock.clock import Clock, VirtualClock
from interlock.errors import OptionError
from interlock.signals import AdapterSpec, Contacts, Counts, Positions, Presence, Reading


class Bench:
    """Hardware of a few numbers."""

    def __init__(self) -> None:
        self.mask = self.pulses = 0
        self.pulse_s: float | None = None
        self.raw, self.life = 2055, 0
        self.plugged, self.quiet, self.held = True, False, False


class BenchOptions(BaseModel):
    model_config = ConfigDict(extra="forbid")
    every_s: float = Field(0.05, gt=0)


BENCH = Bench()


class BenchDriver:
    """Looks at the bench every 50 ms. ``change`` and ``after`` are where a test breaks it."""

    Options: ClassVar[type[BaseModel]] = BenchOptions
    change: ClassVar[Callable[[Reading], Reading | None]] = staticmethod(lambda r: r)
    restarted_first: ClassVar[bool] = True
    lets_go: ClassVar[bool] = True

    def __init__(self, spec: AdapterSpec, clock: Clock) -> None:
        self.every_s = read_options(BenchOptions, spec).every_s
        self.spec, self.clock = spec, clock

    async def run(self, emit: Emit) -> None:
        state, life = "", BENCH.life
        try:
            while True:
                at_s, name, said = self.clock.now_s(), self.spec.name, list[Reading]()
                was, state = state, "up" if BENCH.plugged else "gone"
                BENCH.held = BENCH.plugged
                if state != was and (was, state) != ("quiet", "up"):
                    said.append(
                        Presence(at_s, at_s, name, "up" if BENCH.plugged else "gone", text="the bench")
                    )
                if BENCH.plugged and not BENCH.quiet:
                    said += self.look(at_s)
                    if life != BENCH.life:
                        life = BENCH.life
                        said.insert(
                            0 if self.restarted_first else len(said), Presence(at_s, at_s, name, "restarted")
                        )
                    if was == "quiet":
                        said.insert(0, Presence(at_s, at_s, name, "up"))
                state = "quiet" if BENCH.quiet else state
                for reading in said:
                    if (changed := self.change(reading)) is not None:
                        emit(changed)
                await self.clock.sleep_until(at_s + self.every_s)
        finally:
            BENCH.held = not self.lets_go

    def look(self, at_s: float) -> list[Reading]:
        arm, counter = WIRING.analogs[0], WIRING.counters[0]
        frames = (counter.signal, BENCH.pulses * counter.frames_per_pulse, BENCH.pulse_s)
        return [
            Contacts(at_s, at_s, self.spec.name, WIRING.contacts(BENCH.mask)),
            Counts(at_s, at_s, self.spec.name, (frames,)),
            Positions(at_s, at_s, self.spec.name, ((arm.signal, arm.position(BENCH.raw)),)),
        ]


class BenchRig(Rig):
    """The bench on a virtual clock. An edge is dated by the look that saw it, so 50 ms late."""

    bad_options = ({"no_such_key": 1}, {"every_s": 0}, {"every_s": "often"})
    slack_s = 0.05

    def __init__(self, kind: type[BenchDriver] = BenchDriver) -> None:
        BENCH.__init__()  # type: ignore[misc]
        self.clock = VirtualClock(500.0)
        self.kind = kind

    @property
    def driver(self) -> type[Driver]:
        return self.kind

    def spec(self, **options: Any) -> AdapterSpec:
        return AdapterSpec("north", "bench", options, WIRING)

    async def start(self) -> None: ...

    async def stop(self) -> None: ...

    async def pass_s(self, seconds: float) -> None:
        await asyncio.sleep(0)
        await self.clock.advance_to(self.clock.now_s() + seconds)

    def held(self) -> bool:
        return BENCH.held

    def contact(self, level: int, closed: bool) -> None:
        BENCH.mask = BENCH.mask | 1 << level if closed else BENCH.mask & ~(1 << level)

    def pulses(self, counter: int, n: int) -> None:
        BENCH.pulses, BENCH.pulse_s = BENCH.pulses + n, self.clock.now_s()

    def arm(self, analog: int, raw: int) -> None:
        BENCH.raw = raw

    def restart(self) -> None:
        BENCH.pulses, BENCH.pulse_s, BENCH.life = 0, None, BENCH.life + 1

    def silence(self, on: bool) -> None:
        BENCH.quiet = on

    def unplug(self) -> None:
        BENCH.plugged = False

    def plug(self) -> None:
        BENCH.plugged = True


class TestBenchContract(DriverContract):
    def make_rig(self, tmp_path: Path) -> Rig:
        return BenchRig()


def later(r: Reading) -> Reading:
    return Contacts(r.at_s, r.at_s + 0.1, r.adapter, r.values) if isinstance(r, Contacts) else r


def alive(r: Reading) -> Reading | None:
    return None if isinstance(r, Presence) and r.state == "gone" else r


def half(r: Reading) -> Reading | None:
    return r if isinstance(r, Presence) or int(r.at_s * 20 + 0.5) % 8 == 0 else None


def doubled(r: Reading) -> Reading:
    return (
        Counts(r.at_s, r.fact_s, r.adapter, tuple((s, 2 * f, p) for s, f, p in r.values))
        if isinstance(r, Counts)
        else r
    )


def upside_down(r: Reading) -> Reading:
    return (
        Contacts(r.at_s, r.fact_s, r.adapter, tuple((s, not v) for s, v in r.values))
        if isinstance(r, Contacts)
        else r
    )


@pytest.mark.parametrize(
    ("broken", "promise"),
    [
        ({"change": staticmethod(later)}, "an_edge_is_dated_by_when_it_was"),
        ({"change": staticmethod(alive)}, "a_device_that_is_pulled_out_is_gone_at_once_and_comes_back"),
        ({"change": staticmethod(half)}, "while_the_adapter_speaks_there_is_a_reading_every_quarter_second"),
        ({"change": staticmethod(doubled)}, "counts_become_frames_and_never_fall"),
        ({"change": staticmethod(upside_down)}, "the_present_state_is_taken_up_with_inversion_undone"),
        ({"restarted_first": False}, "a_restart_is_said_before_the_counts_of_the_new_life"),
        ({"lets_go": False}, "cancelling_ends_it_within_a_second_and_leaves_nothing"),
    ],
)
async def test_a_broken_promise_is_caught(broken: dict[str, Any], promise: str) -> None:
    rig = BenchRig(type("Broken", (BenchDriver,), broken))
    runs: list[Run] = []

    def begin() -> Run:
        runs.append(Run(rig, rig.driver(rig.spec(), rig.clock)))
        return runs[-1]

    with pytest.raises((AssertionError, ValueError)):  # noqa: PT012
        await getattr(DriverContract(), f"test_{promise}")(rig, begin)
        for run in runs:
            run.check_stamps()
    for run in runs:
        run.task.cancel()
    await asyncio.gather(*(run.task for run in runs), return_exceptions=True)


async def test_a_thread_left_behind_is_caught() -> None:
    free = threading.Event()

    class Leaking(BenchDriver):
        async def run(self, emit: Emit) -> None:
            threading.Thread(target=free.wait, daemon=True).start()
            await super().run(emit)

    rig = BenchRig(Leaking)
    with pytest.raises(AssertionError):
        await DriverContract().test_cancelling_ends_it_within_a_second_and_leaves_nothing(
            rig, lambda: Run(rig, rig.driver(rig.spec(), rig.clock))
        )
    free.set()


def test_every_mistake_in_the_options_is_told_at_once_in_one_line() -> None:
    spec = AdapterSpec("nor\x1b[31mth", "bench", {"every_s": -1, "evry": 2})
    with pytest.raises(OptionError) as error:
        read_options(BenchOptions, spec)
    text = str(error.value)
    assert text.isprintable()
    for words in ("every_s", "greater than 0", "evry: is not known here; there are: every_s"):
        assert words in text


def test_a_driver_that_is_not_installed_is_told_with_those_that_are() -> None:
    assert "serial" in names()
    with pytest.raises(OptionError, match="serial"):
        find("telegraph")
