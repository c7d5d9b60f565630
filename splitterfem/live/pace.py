"""When the page acts: on the newest of events that come in quick succession, and by itself once they have stopped."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

NEWEST = 0.02
"""Seconds that the page waits for further places of a slider: a key that is held sends thirty of them in a second."""

REST = 0.5
"""Seconds without a move after which the page checks the design by itself."""


class Waiting:
    """An action that waits a little; a newer one takes its place.

    While the page is at work, a notebook keeps events in a queue.  They all arrive within `seconds` after it, and only
    the newest is acted on.

    Parameters
    ----------
    seconds : float
    """

    def __init__(self, seconds: float) -> None:
        self._seconds = seconds
        self._action: Callable[[], object] | None = None
        self._timer: asyncio.TimerHandle | None = None

    def put(self, action: Callable[[], object]) -> None:
        """Let an action wait; outside of an event loop, where nothing could follow, it acts at once."""
        self.drop()
        loop = running_loop()
        if loop is None:
            action()
            return
        self._action, self._timer = action, loop.call_later(self._seconds, self.now)

    def now(self) -> None:
        """Act at once, if anything waits."""
        action = self._action
        self.drop()
        if action is not None:
            action()

    def drop(self) -> None:
        """Forget what waits."""
        if self._timer is not None:
            self._timer.cancel()
        self._action = self._timer = None


def running_loop() -> asyncio.AbstractEventLoop | None:
    """Return the event loop that runs, as in a notebook; None in a plain program."""
    try:
        return asyncio.get_running_loop()
    except RuntimeError:
        return None
