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

import asyncio
import threading
from typing import Any

import pytest
from contract_rig import ALL, WIRING, Rig, Run

from interlock.errors import OptionError
from interlock.signals import Counts, Positions, Presence

__all__ = ["ALL", "WIRING", "DriverContract", "Rig", "Run"]


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
            lambda: any(x.values[0][1] == 1.0 for x in r.of(Positions)[-1:]),
            rig.tells_s,
            "the arm is at its spill limit",
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
