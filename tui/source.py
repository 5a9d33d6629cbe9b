"""Where a screen gets its frames from, and where what a person does goes to.

The service implements it over the desk's socket, a review over a record, a test with a list. A
screen knows nothing else of where it is plugged in.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Protocol

from interlock.watch.state import Frame


class Source(Protocol):
    """A desk, as a screen sees it."""

    def frames(self) -> AsyncIterator[Frame]:
        """Frames until the screen stops asking.

        A :class:`~interlock.watch.state.Hello` first, and again after every reconnection; then
        ``Fresh``, ``Happened`` and at most one ``Farewell`` before the next ``Hello``. While the desk cannot be
        reached nothing comes, and the screen says so by itself: the iterator ends only when there will never be
        another frame. It raises nothing: a broken connection is tried again with growing pauses, and before each pause
        a ``Farewell`` says in words what is wrong.
        """
        ...

    def send(self, action: dict[str, object]) -> None:
        """An operator action as contract.md has it (``{"action": "ack", "subject": …, "code": …, "by": …}``).

        Never waits. One that cannot be delivered comes back as ``Happened(ErrorLine)``, so that nobody believes it done.
        """
        ...

    def end(self) -> None:
        """End the watch, desk included. The ``Farewell`` that follows is the last frame."""
        ...
