"""The live stream: one watcher per process reads the shop's pulse; any number of tablets listen to it.

Only a number is ever sent. A tablet that hears a new one asks for its own fragment.
"""

from __future__ import annotations

import asyncio
import contextvars
import logging
from collections.abc import AsyncIterator
from time import monotonic

from asgiref.sync import sync_to_async
from django.db import DatabaseError, close_old_connections

from . import pulse

LOOK_EVERY = 1.0
SAY_SOMETHING_AFTER = 15.0
# A stream ends by itself so that a stopped person or a revoked tablet is asked again who it is.
LASTS = 600.0

log = logging.getLogger(__name__)


class Watcher:
    """Reads the pulse once a second while anyone listens, whatever their number."""

    def __init__(self) -> None:
        self.number = 0
        self.listeners = 0
        self._changed = asyncio.Event()
        self._task: asyncio.Task[None] | None = None

    async def numbers(self) -> AsyncIterator[int | None]:
        """The pulse now, then each new one; None now and then so that a dead line is noticed."""
        self._begin()
        end = monotonic() + LASTS
        self.listeners += 1
        try:
            known = self.number = await _read()
            yield known
            while monotonic() < end:
                heard = await self._other_than(known)
                # Nought is a number, too: a shop whose rows were put back begins again.
                known = known if heard is None else heard
                yield heard
        finally:
            self.listeners -= 1

    async def _other_than(self, known: int) -> int | None:
        """The next number that this listener has not heard, also one that came while it was busy."""
        if self.number == known:
            try:
                await asyncio.wait_for(self._changed.wait(), SAY_SOMETHING_AFTER)
            except TimeoutError:
                return None
        return self.number

    def _begin(self) -> None:
        if self._task is None or self._task.done():
            # A context of its own: the watcher outlives the request that was the first to listen.
            self._task = asyncio.get_running_loop().create_task(self._watch(), context=contextvars.Context())

    async def _watch(self) -> None:
        idle = 0
        while idle < 2:
            await asyncio.sleep(LOOK_EVERY)
            idle = 0 if self.listeners else idle + 1
            try:
                number = await _read()
            except DatabaseError:
                log.warning("the pulse could not be read; trying again")
                continue
            if number != self.number:
                self.number = number
                changed, self._changed = self._changed, asyncio.Event()
                changed.set()


_watchers: dict[int, Watcher] = {}


def watcher() -> Watcher:
    """The watcher of the running event loop."""
    return _watchers.setdefault(id(asyncio.get_running_loop()), Watcher())


@sync_to_async
def _read() -> int:
    close_old_connections()
    return pulse.current()
