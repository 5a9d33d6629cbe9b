"""The event bus: channels that publish, mailboxes that wait. One event loop, no broker, no queue that can block.

::

    bus = Bus(clock)
    with bus.inputs.lossless("desk") as box:        # everything, in order
        async for reading in box: ...               # or: while await box.ready(): for r in box.drain(): ...
    with bus.state.newest("screen 1", key=lambda state: "state") as box:
        ...                                         # an older value that was not taken yet is overtaken
    bus.inputs.publish(reading)                     # on the loop: a plain call, never waits, never fails
    bus.inputs.publish_from_thread(reading)         # from any other thread

A publisher is never slowed down, and never hears, whatever its subscribers do. A subscriber that
falls behind is seen in :meth:`Bus.stats`; whoever owns it decides what becomes of it.
"""

from interlock.bus.channel import Bus, Channel
from interlock.bus.mailbox import Lossless, Mailbox, MailboxStats, Newest
from interlock.bus.shutdown import shut_down

__all__ = ["Bus", "Channel", "Lossless", "Mailbox", "MailboxStats", "Newest", "shut_down"]
