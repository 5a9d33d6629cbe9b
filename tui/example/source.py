"""Sources without a desk: a fixed list of frames, and the invented show running by itself."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable

import msgspec

from interlock.clock import Clock
from interlock.watch.state import Farewell, Frame, Fresh, Happened, Hello, Layout, OperatorLine, State
from tui.example.show import rfc3339, state_at


class Scripted:
    """Gives the frames that are put into it; keeps what was sent."""

    def __init__(self, *frames: Frame) -> None:
        self.sent: list[dict[str, object]] = []
        self.ended = False
        self._frames: asyncio.Queue[Frame | None] = asyncio.Queue()
        for frame in frames:
            self._frames.put_nowait(frame)

    def put(self, frame: Frame) -> None:
        """One more frame."""
        self._frames.put_nowait(frame)

    def over(self, reason: str) -> None:
        """The desk has ended: a farewell, and then nothing."""
        self.put(Farewell(reason))
        self._frames.put_nowait(None)

    async def frames(self) -> AsyncIterator[Frame]:
        """As they are put."""
        while (frame := await self._frames.get()) is not None:
            yield frame

    def send(self, action: dict[str, object]) -> None:
        """Keeps it."""
        self.sent.append(action)

    def end(self) -> None:
        """Remembers it."""
        self.ended = True
        self.put(Farewell("the watch has been ended"))


class Running:
    """The invented show from ``start_s`` on, ``speed`` times as fast as life, with an optional twist to every state."""

    def __init__(
        self, layout: Layout, clock: Clock, start_s: float = -20.0, speed: float = 1.0,
        twist: Callable[[State], State] | None = None,
    ) -> None:  # fmt: skip
        self._layout, self._clock, self._start_s, self._speed, self._twist = (
            layout,
            clock,
            start_s,
            speed,
            twist,
        )
        self._seq = 0
        self._said: asyncio.Queue[Frame] = asyncio.Queue()

    async def frames(self) -> AsyncIterator[Frame]:
        """Four states a second, and an answer to whatever was sent."""
        begun_s = self._clock.now_s()
        yield Hello(self._layout, self._state(begun_s, begun_s))
        n = 0
        while True:
            n += 1
            await self._clock.sleep_until(begun_s + n * 0.25)
            while not self._said.empty():
                yield self._said.get_nowait()
            yield Fresh(self._state(begun_s, self._clock.now_s()))

    def _state(self, begun_s: float, now_s: float) -> State:
        self._seq += 10
        show_s = self._start_s + (now_s - begun_s) * self._speed
        state = state_at(self._layout, show_s, seq=self._seq)
        return state if self._twist is None else self._twist(state)

    def send(self, action: dict[str, object]) -> None:
        """Says that it was done."""
        keys = {
            k: v
            for k, v in action.items()
            if isinstance(v, str | float | bool) and k not in ("action", "by", "booth")
        }
        self._seq += 1
        line = OperatorLine(
            seq=self._seq, at=rfc3339(0.0), show_s=None, action=str(action["action"]), keys=msgspec.convert(keys, dict),
            by=str(action.get("by", "")) or None,
        )  # fmt: skip
        self._said.put_nowait(Happened(line))

    def end(self) -> None:
        """Nothing to end."""
        self._said.put_nowait(Farewell("the watch has been ended"))
