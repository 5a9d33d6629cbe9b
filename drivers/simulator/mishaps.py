"""What each fault of an adapter, a contact or a counter does to the adapter that it befalls."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from drivers.simulator import faults_line as line
from drivers.simulator.adapter import Adapter
from drivers.simulator.fault_model import FaultModel
from interlock.signals import Reading


def concerns(adapter: Adapter, fault: FaultModel) -> bool:
    """Whether this adapter is the one that the fault befalls."""
    if isinstance(fault, line.DeadCounter):
        return any(c.signal == f"{fault.house}.frames" for c in adapter.counters)
    signal = getattr(fault, "signal", None)
    if signal is not None:
        return signal in adapter.at_signal
    return getattr(fault, "adapter", None) == adapter.name


def befall(adapter: Adapter, t_s: float, fault: FaultModel) -> None:
    """It happens to ``adapter`` at ``t_s``."""
    if concerns(adapter, fault):
        adapter.later(t_s, _happens, (adapter, fault))


def _happens(t_s: float, what: tuple[Adapter, FaultModel], out: list[Reading]) -> None:
    adapter, fault = what
    undo = _ACTS[type(fault)](adapter, fault, t_s, out)
    for_s = getattr(fault, "for_s", None)
    if undo is not None and for_s is not None:
        adapter.later(t_s + for_s, _over, undo)


def _over(t_s: float, undo: Callable[[float, list[Reading]], None], out: list[Reading]) -> None:
    undo(t_s, out)


Undo = Callable[[float, list[Reading]], None] | None


def _silence(a: Adapter, f: line.Silence, t_s: float, out: list[Reading]) -> Undo:
    a.silent_until_s = max(a.silent_until_s, t_s + f.for_s)
    return a.back


def _unplug(a: Adapter, f: line.Unplug, t_s: float, out: list[Reading]) -> Undo:
    a.silent_until_s = max(a.silent_until_s, t_s + f.for_s)
    a.say_presence(t_s, "gone", out, "its device is gone; trying again")
    return a.back


def _restart(a: Adapter, f: line.Restart, t_s: float, out: list[Reading]) -> Undo:
    a.restart(t_s, f.for_s)
    return None


def _on_strike(a: Adapter, f: line.RestartOnStrike, t_s: float, out: list[Reading]) -> Undo:
    a.on_strike = True
    return None


def _share(name: str) -> Callable[[Adapter, Any, float, list[Reading]], Undo]:
    def act(a: Adapter, f: Any, t_s: float, out: list[Reading]) -> Undo:
        setattr(a, name, f.share)
        if isinstance(f, line.Delayed):
            a.delay_s = f.by_s
        a.awkward = True

        def undo(at_s: float, said: list[Reading]) -> None:
            setattr(a, name, 0.0)
            a.awkward = bool(a.dropped or a.damaged or a.doubled or a.delayed)

        return undo

    return act


def _jitter(a: Adapter, f: line.Jitter, t_s: float, out: list[Reading]) -> Undo:
    a.jitter_s = f.by_s

    def undo(at_s: float, said: list[Reading]) -> None:
        a.jitter_s = 0.0

    return undo


def _dead(a: Adapter, f: line.DeadCounter, t_s: float, out: list[Reading]) -> Undo:
    c = next(c for c in a.counters if c.signal == f"{f.house}.frames")
    c.read(t_s)
    c.dead = True

    def undo(at_s: float, said: list[Reading]) -> None:
        c.read(at_s)
        c.dead = False

    return undo


def _stuck(a: Adapter, f: line.StuckContact, t_s: float, out: list[Reading]) -> Undo:
    i = a.at_signal[f.signal]
    a.stuck[i] = a.values[i] if f.value is None else f.value
    a.edge(t_s, i, a.stuck[i])

    def undo(at_s: float, said: list[Reading]) -> None:
        a.stuck.pop(i, None)
        a.edge(at_s, i, a.true[i])

    return undo


def _chatter(a: Adapter, f: line.Chatter, t_s: float, out: list[Reading]) -> Undo:
    i, value, at_s = a.at_signal[f.signal], a.true[a.at_signal[f.signal]], t_s
    a.chatters[i] = t_s + f.for_s
    while (at_s := at_s + a.bad_rng.expovariate(1.0 / f.every_s)) < t_s + f.for_s:
        value = not value
        a.later(at_s, lambda edge_s, v, _: a.edge(edge_s, i, v), value)

    def undo(end_s: float, said: list[Reading]) -> None:
        a.chatters.pop(i, None)
        a.edge(end_s, i, a.true[i])

    return undo


_ACTS: Mapping[type, Callable[..., Undo]] = {
    line.Silence: _silence, line.Unplug: _unplug, line.Restart: _restart, line.RestartOnStrike: _on_strike,
    line.Damaged: _share("damaged"), line.Dropped: _share("dropped"), line.Doubled: _share("doubled"),
    line.Delayed: _share("delayed"), line.Jitter: _jitter, line.DeadCounter: _dead,
    line.StuckContact: _stuck, line.Chatter: _chatter,
}  # fmt: skip
