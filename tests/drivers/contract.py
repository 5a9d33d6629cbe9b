"""What every driver must do, as tests. A driver's engineer writes a :class:`Rig` and one class::

    class TestSerialContract(DriverContract):
        def make_rig(self, tmp_path):
            return SerialRig(tmp_path)

The rig is the hardware (a pty, a broker, a simulated line, …) with hands on it; the tests move the hands
and judge what the driver says. Time passes only in :meth:`Rig.pass_s`: with a virtual clock nothing
waits, with real hardware mark the class ``pytest.mark.realtime``. What a kind of hardware cannot do
is left out of ``can``, and the tests of it are skipped by name.
"""

from __future__ import annotations

import abc
import asyncio
import threading
from collections.abc import Callable
from typing import Any, ClassVar

import pytest

from drivers.driver import Driver
from interlock.clock import Clock
from interlock.errors import OptionError
from interlock.signals import (
    AdapterSpec,
    AnalogWire,
    Contacts,
    CounterWire,
    Counts,
    Positions,
    Presence,
    Reading,
    Wiring,
)

WIRING = Wiring(
    levels={0: "4.run", 1: "4.lamp", 2: "!4.dowser"},
    counters={0: CounterWire("4.frames", 0.5)},
    analogs={0: AnalogWire("4>3.arm", 310, 3800)},
)
ALL = frozenset({"contact", "count", "arm", "restart", "silence", "unplug"})


class Rig(abc.ABC):
    """One adapter with WIRING, inputs open, counter at 0, arm at 2055: powered up, plugged in and speaking by start()."""

    can: ClassVar[frozenset[str]] = ALL
    bad_options: ClassVar[tuple[dict[str, Any], ...]] = ({"no_such_key": 1},)
    """Options, each of which makes no sense (those of ``spec`` aside)."""
    slack_s: ClassVar[float] = 0.0
    """How late the rig itself may be in moving what it is told to (a busy computer, real time)."""
    tells_s: ClassVar[float] = 0.3
    """A fact is told within this."""
    clock: Clock

    @property
    @abc.abstractmethod
    def driver(self) -> type[Driver]:
        """The class under test."""

    @abc.abstractmethod
    def spec(self, **options: Any) -> AdapterSpec:
        """The adapter called ``north``; options given take the place of the rig's own."""

    @abc.abstractmethod
    async def start(self) -> None:
        """Bring the hardware to life."""

    @abc.abstractmethod
    async def stop(self) -> None:
        """Take it away, whatever state it is in."""

    @abc.abstractmethod
    async def pass_s(self, seconds: float) -> None:
        """Let time pass."""

    @abc.abstractmethod
    def held(self) -> bool:
        """Whether the driver holds the hardware (its port, connection, lines) now."""

    def contact(self, level: int, closed: bool) -> None:
        """The contact of a level input moves now."""
        raise NotImplementedError

    def pulses(self, counter: int, n: int) -> None:
        """So many pulses at once, now."""
        raise NotImplementedError

    def arm(self, analog: int, raw: int) -> None:
        """The arm stands at this raw value from now on."""
        raise NotImplementedError

    def restart(self) -> None:
        """The adapter loses its power for an instant: counts and its clock begin at 0."""
        raise NotImplementedError

    def silence(self, on: bool) -> None:
        """The adapter says nothing, and goes on counting; or speaks again."""
        raise NotImplementedError

    def unplug(self) -> None:
        """The device is pulled out."""
        raise NotImplementedError

    def plug(self) -> None:
        """And plugged in again; the adapter had power all the time."""
        raise NotImplementedError


class Run:
    """A driver at work, and what it has said."""

    def __init__(self, rig: Rig, driver: Driver) -> None:
        self.rig = rig
        self.said: list[Reading] = []
        self.task = asyncio.ensure_future(driver.run(self.said.append))

    async def until(self, what: Callable[[], bool], within_s: float, why: str) -> None:
        """Time passes until it is so, or has not become so in time."""
        end_s = self.rig.clock.now_s() + within_s + self.rig.slack_s
        while not what():
            assert not self.task.done(), f"run ended by itself: {self.task}"
            assert self.rig.clock.now_s() < end_s, f"{why}; said: {self.said[-8:]}"
            await self.rig.pass_s(0.02)

    async def until_taken_up(self) -> None:
        await self.until(
            lambda: {"4.run", "4.frames"} <= self.signals(), 1.0, "the present state was not taken up"
        )

    async def cancel(self) -> None:
        self.task.cancel()
        with pytest.raises(asyncio.CancelledError):
            async with asyncio.timeout(1.0):
                await self.task

    def of(self, kind: type[Reading]) -> list[Any]:
        return [r for r in self.said if isinstance(r, kind)]

    def signals(self) -> set[str]:
        return {v[0] for r in self.said if not isinstance(r, Presence) for v in r.values}

    def states(self) -> list[str]:
        return [p.state for p in self.of(Presence)]

    def contact(self, signal: str) -> list[tuple[float, bool]]:
        """(fact_s, state) of a contact, in order of what was said."""
        return [(r.fact_s, v) for r in self.of(Contacts) for s, v in r.values if s == signal]

    def frames(self) -> list[float]:
        return [v[1] for r in self.of(Counts) for v in r.values if v[0] == "4.frames"]

    def check_stamps(self) -> None:
        """What holds of everything that is ever said."""
        now_s = self.rig.clock.now_s()
        last_s = float("-inf")
        for r in self.said:
            assert r.adapter == "north"
            assert r.fact_s <= r.at_s <= now_s, f"true after it was received, or received in the future: {r}"
            assert r.at_s >= last_s, f"received before what was said before it: {r}"
            last_s = r.at_s
            if isinstance(r, Counts):
                assert all(pulse_s is None or pulse_s <= r.at_s for _, _, pulse_s in r.values), r
        assert self.signals() <= WIRING.signals()


class DriverContract:
    """Subclass as ``Test…Contract`` and give a rig."""

    def make_rig(self, tmp_path: Any) -> Rig:
        raise NotImplementedError

    @pytest.fixture
    async def rig(self, tmp_path: Any) -> Any:
        rig = self.make_rig(tmp_path)
        await rig.start()
        yield rig
        await rig.stop()

    @pytest.fixture
    async def run(self, rig: Rig) -> Any:
        """Start the driver as often as a test likes; all of it is cancelled and its stamps are judged at the end."""
        runs: list[Run] = []

        def begin() -> Run:
            runs.append(Run(rig, rig.driver(rig.spec(), rig.clock)))
            return runs[-1]

        yield begin
        for run in runs:
            if not run.task.done():
                await run.cancel()
            run.check_stamps()

    @staticmethod
    def need(rig: Rig, *what: str) -> None:
        if missing := set(what) - rig.can:
            pytest.skip(f"this hardware cannot show: {', '.join(sorted(missing))}")

    async def test_options_that_make_no_sense_are_told_in_a_sentence_and_nothing_is_opened(
        self, rig: Rig
    ) -> None:
        for options in rig.bad_options:
            with pytest.raises(OptionError) as error:
                rig.driver(rig.spec(**options), rig.clock)
            assert "north" in str(error.value)
            assert "\n" not in str(error.value)
        rig.driver(rig.spec(), rig.clock)
        assert not rig.held()
        assert rig.driver.Options.model_config.get("extra") == "forbid"

    async def test_while_the_adapter_speaks_there_is_a_reading_every_quarter_second(
        self, rig: Rig, run: Any
    ) -> None:
        r = run()
        await r.until_taken_up()
        await rig.pass_s(0.8)
        assert "up" in r.states()
        assert r.said[0].at_s <= r.of(Presence)[0].at_s
        gaps = [b.at_s - a.at_s for a, b in zip(r.said, r.said[1:], strict=False)]
        assert max(gaps) <= 0.25 + rig.slack_s
        assert rig.clock.now_s() - r.said[-1].at_s <= 0.25 + rig.slack_s

    async def test_the_present_state_is_taken_up_with_inversion_undone(self, rig: Rig, run: Any) -> None:
        r = run()
        await r.until_taken_up()
        assert r.contact("4.run")[0][1] is False
        assert r.contact("4.dowser")[0][1] is True, "wired with !, open"
        assert r.frames()[0] == 0.0
        if "arm" in rig.can:
            await r.until(lambda: "4>3.arm" in r.signals(), 0.3, "no arm")
            assert r.of(Positions)[0].values[0][1] == pytest.approx(0.0, abs=0.002)

    async def test_an_edge_is_dated_by_when_it_was(self, rig: Rig, run: Any) -> None:
        self.need(rig, "contact")
        r = run()
        await r.until_taken_up()
        before_s = rig.clock.now_s()
        rig.contact(0, True)
        after_s = rig.clock.now_s()
        await r.until(lambda: r.contact("4.run")[-1][1], rig.tells_s, "the edge was not told")
        fact_s = next(at for at, closed in r.contact("4.run") if closed)
        assert before_s - 0.005 - rig.slack_s <= fact_s <= after_s + 0.025 + rig.slack_s

    async def test_counts_become_frames_and_never_fall(self, rig: Rig, run: Any) -> None:
        self.need(rig, "count")
        r = run()
        await r.until_taken_up()
        for n in (1, 2, 5):
            rig.pulses(0, n)
            await rig.pass_s(0.05)
        await r.until(lambda: r.frames()[-1] == 4.0, rig.tells_s, "8 pulses of half a frame are 4 frames")
        assert r.frames() == sorted(r.frames())
        pulse_s = [p for c in r.of(Counts) for _, _, p in c.values if p is not None]
        assert pulse_s
        assert pulse_s == sorted(pulse_s)

    async def test_an_arm_is_told_between_its_limits(self, rig: Rig, run: Any) -> None:
        self.need(rig, "arm")
        r = run()
        await r.until_taken_up()
        rig.arm(0, 3800)
        await r.until(
            lambda: r.of(Positions)[-1].values[0][1] == 1.0, rig.tells_s, "the arm is at its spill limit"
        )

    async def test_cancelling_ends_it_within_a_second_and_leaves_nothing(self, rig: Rig, run: Any) -> None:
        threads, tasks = set(threading.enumerate()), asyncio.all_tasks()
        for _ in range(2):  # and it can be started again
            r = run()
            await r.until_taken_up()
            assert rig.held()
            await r.cancel()
            assert not rig.held()
            assert set(threading.enumerate()) <= threads
            assert asyncio.all_tasks() <= tasks
            said = len(r.said)
            await rig.pass_s(0.15)
            assert len(r.said) == said, "it spoke after its end"

    async def test_silence_is_not_covered_up_and_no_edge_is_invented(self, rig: Rig, run: Any) -> None:
        self.need(rig, "silence", "contact", "count")
        r = run()
        await r.until_taken_up()
        rig.silence(True)
        await rig.pass_s(0.3)
        said = len(r.said)
        for closed in (True, False):
            rig.contact(1, closed)
            await rig.pass_s(0.1)
        rig.contact(0, True)
        rig.pulses(0, 4)
        await rig.pass_s(0.45)
        assert not [p for p in r.said[said:] if not isinstance(p, Presence) or p.state != "gone"]
        rig.silence(False)
        back_s = rig.clock.now_s()
        await r.until(lambda: r.frames()[-1] == 2.0 and r.contact("4.run")[-1][1], 1.0, "not taken up")
        assert not any(closed for _, closed in r.contact("4.lamp")), "it was open before and after"
        assert next(at for at, closed in r.contact("4.run") if closed) >= back_s - 0.05 - rig.slack_s
        assert "up" in [p.state for p in r.said[said:] if isinstance(p, Presence)]
        assert "restarted" not in r.states()

    async def test_a_restart_is_said_before_the_counts_of_the_new_life(self, rig: Rig, run: Any) -> None:
        self.need(rig, "restart", "count")
        rig.pulses(0, 10)
        r = run()
        await r.until_taken_up()
        await r.until(lambda: r.frames()[-1] == 5.0, rig.tells_s, "10 pulses are 5 frames")
        rig.restart()
        await r.until(lambda: r.frames()[-1] == 0.0, 1.5, "the new life's counts begin at 0")
        kinds = [
            p.state if isinstance(p, Presence) else p.values[0][1]
            for p in r.said
            if isinstance(p, Presence | Counts)
        ]
        assert kinds.index("restarted") < kinds.index(0.0, kinds.index(5.0))
        assert r.states().count("restarted") == 1

    async def test_a_device_that_is_pulled_out_is_gone_at_once_and_comes_back(
        self, rig: Rig, run: Any
    ) -> None:
        self.need(rig, "unplug")
        rig.unplug()
        r = run()
        await r.until(lambda: "gone" in r.states(), 0.3, "it is not there, and that is not said")
        assert r.of(Presence)[0].text
        rig.plug()
        await r.until_taken_up()
        out_s = rig.clock.now_s()
        rig.unplug()
        await r.until(lambda: r.states()[-1] == "gone", 0.3, "pulled out, and that is not said")
        assert r.of(Presence)[-1].at_s - out_s <= 0.3 + rig.slack_s
        said = len(r.said)
        rig.plug()
        await r.until(lambda: any(isinstance(x, Counts) for x in r.said[said:]), 2.0, "it did not come back")
        assert next(x.state for x in r.said[said:] if isinstance(x, Presence)) == "up"
        assert "restarted" not in r.states()
