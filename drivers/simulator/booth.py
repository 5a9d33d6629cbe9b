"""The room and its adapters together: plan time in, readings out, in the order in which they are received."""

from __future__ import annotations

from operator import attrgetter

from drivers.simulator.adapter import Adapter
from drivers.simulator.fault_model import FaultModel
from drivers.simulator.faults import Fault
from drivers.simulator.machines import SimSpec
from drivers.simulator.mishaps import befall
from drivers.simulator.room import Room
from drivers.simulator.scenario import Scenario, check_fault
from interlock.signals import Reading

STEP_S = 5.0
"""The room forgets what is a minute old, so its adapters are never further behind than this."""
_RECEIVED = attrgetter("at_s", "adapter")


class Booth:
    """A simulated booth. Desk seconds are ``base_s`` + plan time. The same seed, spec and scenario give the same
    readings, in whatever steps it is advanced.
    """

    def __init__(
        self, spec: SimSpec, seed: int = 0, scenario: Scenario | None = None, *, base_s: float = 0.0,
        begin_s: float = -60.0, history: bool = False,
    ) -> None:  # fmt: skip
        self.spec, self.base_s = spec, base_s
        self._early: list[tuple[float, FaultModel]] = []
        self.room = Room(
            spec, seed, scenario, begin_s=begin_s, history=history,
            adapter_fault=lambda t_s, fault: self._early.append((t_s, fault)),
        )  # fmt: skip
        self.adapters = self._adapters()
        self.room.listen, self.room.struck, self.room.adapter_fault = self._felt, self._struck, self._befalls
        for t_s, fault in self._early:
            self._befalls(t_s, fault)
        self._pending: list[Reading] = []

    def _adapters(self) -> list[Adapter]:
        return [Adapter(a, self.room, self.base_s) for a in self.spec.adapters]

    def rebase(self, base_s: float) -> None:
        """Desk seconds are ``base_s`` + plan time from now on; before the first :meth:`advance` only."""
        self.base_s = base_s
        for a in self.adapters:
            a.base_s = base_s
            for c in a.counters:
                c.base_s = base_s

    def _felt(self, t_s: float, signal: str, value: bool) -> None:
        for a in self.adapters:
            a.feel(t_s, signal, value)

    def _struck(self, t_s: float, house: str) -> None:
        for a in self.adapters:
            a.struck(t_s, house)

    def _befalls(self, t_s: float, fault: FaultModel) -> None:
        for a in self.adapters:
            befall(a, t_s, fault)

    def advance(self, to_s: float) -> list[Reading]:
        """What is received up to plan time ``to_s``, in order."""
        out = self._pending
        while self.room.now_s < to_s:
            step_s = min(to_s, self.room.now_s + STEP_S)
            self.room.advance(step_s)
            for a in self.adapters:
                a.run(step_s, out)
        out.sort(key=_RECEIVED)
        end_s = self.base_s + to_s
        n = len(out)
        while n and out[n - 1].at_s > end_s:
            n -= 1
        self._pending = out[n:]
        del out[n:]
        return out

    def fault(self, fault: Fault) -> None:
        """Thrown in by hand: it happens now, or at its own time. Raises ``ActionError`` for what this show has not."""
        check_fault(fault, self.spec)
        hands = self.room.hands
        if fault.at_s is None or fault.at_s <= self.room.now_s:
            hands.bring(fault, self.room.now_s)
        else:
            hands.plan(fault, fault.at_s)
