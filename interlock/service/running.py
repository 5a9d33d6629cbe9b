"""The tasks of a running desk, and the order in which they end: readers → bus → journal → port."""

from __future__ import annotations

import asyncio
import logging
import signal
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from interlock.actions import parse_action, read_object
from interlock.bus import Bus, shut_down
from interlock.clock import Clock, SystemClock
from interlock.errors import ActionError, RecordError
from interlock.service import sockets
from interlock.service.alarm import Alarm
from interlock.service.folding import Folding, Taken
from interlock.service.late_record import LateRecord, Writer
from interlock.service.place import Lock
from interlock.service.screens import Screens
from interlock.showfile.show import Show
from interlock.text import clean, shown
from interlock.watch.board import layout
from interlock.watch.inputs import Action, Input, RecordHealth

log = logging.getLogger("longlace.desk")

LOOK_S = 1.0
"""How often the wall clock is held against desk seconds, and the lock's file looked for."""
END_S = 8.0
"""So long each step of the end may take; the record alone gives a slow disk 5 s."""

Readers = Callable[[Callable[[Input], None]], Sequence["asyncio.Task[None]"]]
"""Starts the tasks that read the hardware, given where they say it."""


class RunningDesk:
    """One desk: mailbox, fold, record, screens. Made on the loop that it runs on."""

    def __init__(
        self,
        show: Show,
        clock: Clock,
        *,
        rehearsal: bool = False,
        past: Iterable[Input] = (),
        record: Path | None = None,
        check: Callable[[Action], None] | None = None,
        taken: Taken | None = None,
        life: Clock | None = None,
    ) -> None:
        """``check`` may refuse an action before it is folded; ``taken`` hears of those that the desk did not refuse.

        ``life``: the clock of the people who look on, where that of the show has a pace of its own.
        """
        self.clock = clock
        self.life = life if life is not None else SystemClock()
        self.bus = Bus(clock)
        self.bus.attach(asyncio.get_running_loop())
        self.journal: Writer | None = None
        self.record = record
        self.troubles: list[str] = []
        """What did not end as it should, in sentences."""
        self.head: str | None = None
        """The head of its record, once that is closed."""
        self._check = check
        self.folding = Folding(
            show, clock, self.bus, rehearsal=rehearsal, past=past, journal=LateRecord(self), taken=taken
        )
        self.reason = "the rehearsal is over" if rehearsal else "the desk ended"
        self.ended = asyncio.Event()
        self.interrupted = False
        """It was ended by the keyboard."""
        self.still = False
        """Time stands: nothing falls due any more (the machines of a rehearsal have stopped for good)."""
        where = str(record) if record is not None else None
        self.screens = Screens(
            self.folding, self.bus, layout(show, rehearsal=rehearsal, record=where), self.act, self.life
        )
        self.lock: Lock | None = None
        self._server: asyncio.Server | None = None
        self._begun = False

    # From outside

    def health(self, ok: bool, text: str) -> None:
        """Whether readings reach the disk; from any thread."""
        self.bus.inputs.publish_from_thread(RecordHealth(self.clock.now_s(), ok, clean(text)))

    def act(self, given: object) -> None:
        """An action, or a request, from a person. Raises :class:`ActionError`, and then nothing has changed."""
        found = read_object(given)
        if "request" in found:
            if found["request"] != "end":
                raise ActionError('request: expected "end"')
            by = found.get("by")
            name = clean(by, 80) if isinstance(by, str) else ""
            self.end(f"the watch was ended {f'by {name}' if name else 'from a screen'}")
            return
        action = parse_action(found, self.clock.now_s())
        if self._check is not None:
            self._check(action)
        self.bus.inputs.publish(action)

    def end(self, reason: str) -> None:
        """End the watch, in order. The reason is in the record and on every screen."""
        if not self.ended.is_set():
            self.reason = reason
            self.bus.inputs.publish(Action(self.clock.now_s(), "note", text=reason))
            self.ended.set()

    def end_on_signals(self) -> None:
        """SIGTERM and SIGINT end the watch; SIGHUP, the end of a terminal, is nothing to a desk."""

        def end(sign: signal.Signals, words: str) -> None:
            self.interrupted = self.interrupted or sign is signal.SIGINT
            self.end(f"the watch was {words} ({sign.name})")

        loop = asyncio.get_running_loop()
        for sign, words in ((signal.SIGTERM, "told to end"), (signal.SIGINT, "ended by the keyboard")):
            loop.add_signal_handler(sign, end, sign, words)
        if hasattr(signal, "SIGHUP"):
            signal.signal(signal.SIGHUP, signal.SIG_IGN)

    @property
    def last_word(self) -> str:
        """Why it ended, and by what its record can be told from a forged one."""
        known = self.head is not None and self.record is not None
        kept = [f"record {shown(self.record)}, head {self.head}"] if known else []
        return "; ".join([self.reason, *kept, *self.troubles])

    async def open(self, lock: Lock) -> None:
        """Let screens in, at the place whose lock is held. The first line is said before the first of them comes."""
        self._begin()
        self.lock = lock
        self._server = await sockets.listen(lock.place.socket, self.screens.serve)

    # The run

    async def run(self, readers: Readers, others: Sequence[asyncio.Task[None]] = ()) -> None:
        """Until :meth:`end`, and then in order.

        ``others``: tasks that read ``bus.lines``, ended with the bus.
        """
        self._begin()
        folding = asyncio.create_task(self._fold(), name="desk")
        feeding = asyncio.create_task(self.screens.feed(), name="screens")
        looking = [
            asyncio.create_task(self._look(), name="clock and lock"),
            asyncio.create_task(self.screens.refresh(), name="states"),
        ]
        reading = readers(self.bus.inputs.publish)
        waiting = asyncio.create_task(self.ended.wait(), name="end")
        # The tasks of our own must not end either: if one does, that is a fault, and better said than not seen.
        ends: set[asyncio.Future[Any]] = {waiting, folding, feeding, *looking}
        await asyncio.wait(ends, return_when=asyncio.FIRST_COMPLETED)
        waiting.cancel()
        self.troubles += await shut_down(
            clock=self.life,
            readers=[*reading, *looking],
            bus=self,
            subscribers=[folding, feeding, *others],
            journal=self.close_journal,
            port=self._close_port,
            timeout_s=END_S,
        )
        for trouble in self.troubles:
            log.error("%s", trouble)

    def _begin(self) -> None:
        if not self._begun:
            self._begun = True
            self.folding.start()

    def close(self) -> None:
        """The bus, once nobody speaks any more: what waits is folded, so that its lines are still handed out."""
        self.folding.pump()
        self.bus.close()

    async def _fold(self) -> None:
        box, desk_due = self.folding.box, Alarm(self.clock)
        try:
            while True:
                due_s = None if self.still else self.folding.desk.next_due_s()
                ready = asyncio.ensure_future(box.ready())
                try:
                    waits: set[asyncio.Future[Any]] = {ready, *desk_due.at(due_s)}
                    await asyncio.wait(waits, return_when=asyncio.FIRST_COMPLETED)
                    if ready.done() and not ready.result():
                        return
                finally:
                    ready.cancel()
                # If the loop was held up, a reader's word may be waiting for its turn: it comes first, or silence
                # would be judged that was none.
                await asyncio.sleep(0)
                self.folding.pump(ticks=not self.still)
        finally:
            desk_due.cancel()

    async def _look(self) -> None:
        while True:
            await self.life.sleep_until(self.life.now_s() + LOOK_S)
            if not self.still:
                self.folding.anchor_if_stepped()
            if self.lock is not None and not self.lock.stands():
                await self._again(self.lock)

    async def _again(self, lock: Lock) -> None:
        """The runtime folder was cleaned under a living desk (its user logged out, say): come back to where screens look."""
        log.warning("the lock's file is gone: taking it again")
        if self._server is not None:
            self._server.close()
        with suppress(OSError):  # no folder, as long as its user is away: looked at again in a second
            lock.again()
            self._server = await sockets.listen(lock.place.socket, self.screens.serve)

    def close_journal(self) -> None:
        """End the record; blocks. A disk that does not take it is a trouble to be told, and the rest ends as ever."""
        if self.journal is not None:
            try:
                self.head = self.journal.close()
            except RecordError as error:
                self.troubles.append(str(error))

    async def _close_port(self) -> None:
        self.screens.end(self.last_word)
        if self._server is not None:
            self._server.close()
            await self.screens.gone()
            if self.lock is not None and self.lock.stands():
                with suppress(OSError):
                    self.lock.place.socket.unlink()
