"""The queue of moments of the play."""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable
from datetime import datetime

from shopflow.common import clock

Deed = Callable[[datetime], None]


class Moments:
    """Deeds in the order of their moments, each done with the clock held at its own."""

    def __init__(self, end: datetime) -> None:
        self.end = end
        self._waiting: list[tuple[datetime, int, Deed]] = []
        self._numbers = itertools.count()

    def later(self, moment: datetime, deed: Deed) -> None:
        if moment < self.end:
            heapq.heappush(self._waiting, (moment, next(self._numbers), deed))

    def run(self) -> None:
        while self._waiting:
            moment, _, deed = heapq.heappop(self._waiting)
            with clock.at(moment):
                deed(moment)
