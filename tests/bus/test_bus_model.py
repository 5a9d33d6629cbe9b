"""Any history of publishing, reading, cancelling, coming and going, against the simplest model there is."""

from __future__ import annotations

import asyncio

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from interlock.bus import Channel, Lossless, Newest
from interlock.clock import VirtualClock

Item = tuple[str, int]


class BusHistory(RuleBasedStateMachine):
    """Real readers in a real loop; the model is a list a lossless box, a dict a newest one."""

    def __init__(self) -> None:
        super().__init__()
        self.loop = asyncio.new_event_loop()
        self.channel: Channel[Item] = Channel("test", VirtualClock())
        self.channel.attach(self.loop)
        self.count = 0
        self.closed = False
        self.all: list[tuple[Lossless[Item], list[Item], list[Item], asyncio.Task[None] | None]] = []
        self.keyed: list[tuple[Newest[Item], dict[str, Item], int]] = []

    def turns(self) -> None:
        for _ in range(4):
            self.loop.run_until_complete(asyncio.sleep(0))

    def expect(self, item: Item) -> None:
        if self.closed:
            return
        for _, expected, _, _ in self.all:
            expected.append(item)
        for n, (box, model, overtaken) in enumerate(self.keyed):
            self.keyed[n] = (box, model, overtaken + (item[0] in model))
            model[item[0]] = item

    @rule(key=st.sampled_from("abc"), times=st.integers(1, 4), thread=st.booleans())
    def publish(self, key: str, times: int, thread: bool) -> None:
        for _ in range(times):
            item = (key, self.count)
            self.count += 1
            if thread:
                self.channel.publish_from_thread(item)
            else:
                self.channel.publish(item)
            self.expect(item)
        if thread:
            self.turns()

    @precondition(lambda self: len(self.all) < 4)
    @rule()
    def subscribe(self) -> None:
        self.all.append((self.channel.lossless("box"), [], [], None))

    @precondition(lambda self: len(self.keyed) < 3)
    @rule()
    def subscribe_newest(self) -> None:
        self.keyed.append((self.channel.newest("keyed", key=lambda item: item[0]), {}, 0))

    @precondition(lambda self: any(task is None for *_, task in self.all))
    @rule(data=st.data(), batch=st.booleans())
    def start_reader(self, data: st.DataObject, batch: bool) -> None:
        n = data.draw(st.sampled_from([n for n, (*_, task) in enumerate(self.all) if task is None]))
        box, expected, got, _ = self.all[n]

        async def one_by_one() -> None:
            async for item in box:
                got.append(item)

        async def in_batches() -> None:
            while await box.ready():
                got.extend(box.drain())

        task = self.loop.create_task(in_batches() if batch else one_by_one())
        self.all[n] = (box, expected, got, task)

    @precondition(lambda self: any(task is not None for *_, task in self.all))
    @rule(data=st.data(), late=st.booleans())
    def cancel_reader(self, data: st.DataObject, late: bool) -> None:
        n = data.draw(st.sampled_from([n for n, (*_, task) in enumerate(self.all) if task is not None]))
        box, expected, got, task = self.all[n]
        assert task is not None
        task.cancel()
        if late:  # published after the cancelling was asked for, before it took effect
            item = ("a", self.count)
            self.count += 1
            self.channel.publish(item)
            self.expect(item)
        self.turns()
        assert task.done()
        self.all[n] = (box, expected, got, None)

    @rule()
    def run(self) -> None:
        self.turns()
        for box, expected, got, task in self.all:
            if task is not None:
                assert got == expected, "a reader who had every chance to read lacks something"
                assert len(box) == 0

    @rule()
    def drain_newest(self) -> None:
        for n, (box, model, overtaken) in enumerate(self.keyed):
            assert box.drain() == list(model.values())
            self.keyed[n] = (box, {}, overtaken)

    @rule()
    def close(self) -> None:
        self.channel.close()
        self.closed = True

    @invariant()
    def nothing_is_lost_reordered_or_doubled(self) -> None:
        for box, expected, got, _ in self.all:
            assert got == expected[: len(got)]
            stats = box.stats()
            assert stats.passed == len(expected)
            assert stats.waiting == len(expected) - len(got)
        for keyed, model, overtaken in self.keyed:
            assert keyed.stats().waiting == len(model)
            assert keyed.stats().overtaken == overtaken

    def teardown(self) -> None:
        self.channel.close()
        self.turns()
        for box, expected, got, task in self.all:
            if task is not None:
                assert task.done(), "a closed box must end its reader"
                task.result()
            assert got + box.drain() == expected
        self.loop.close()


TestBusHistory = BusHistory.TestCase
TestBusHistory.settings = settings(max_examples=60, stateful_step_count=40, deadline=None)
