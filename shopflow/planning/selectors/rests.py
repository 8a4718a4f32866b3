"""How long rests last here: by the ledger where it tells enough, else between the catalogue's low and high.

By the ledger a rest lasts until somebody takes the work up again, which is what the next bench waits for.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from math import sqrt

from shopflow.catalogue.models import Stage
from shopflow.common import clock
from shopflow.workshop.models import Move, Task

# A rest seen less often than this is taken from the catalogue; steps are the lengths that its triangle gives.
ENOUGH, STEPS = 8, 20
WEEKS_BACK = 52
# A clock that was set back, or a rest forgotten for a year, does not spoil the rest.
LONGEST_SHARE = 20.0


@dataclass(frozen=True, slots=True)
class Rests:
    """The shop's own rests, by the catalogue's kind of rest, as shares of what was planned."""

    seen: Mapping[int, Sequence[float]] = field(default_factory=dict)

    def shares(self, task: Task) -> Sequence[float]:
        """How long the rest of a task may last as shares of the planned one, each as likely as the others."""
        rest = task.operation.rest if task.operation else None
        if rest is None or not rest.hours_likely:
            return (1.0,)
        if len(own := self.seen.get(rest.pk, ())) >= ENOUGH:
            return own
        low, high = (float(hours / rest.hours_likely) for hours in (rest.hours_low, rest.hours_high))
        low, high = min(1.0, low), min(LONGEST_SHARE, max(1.0, high))
        return tuple(triangle(low, high, (step + 0.5) / STEPS) for step in range(STEPS))

    def left(self, task: Task, now: datetime) -> Sequence[float]:
        """How many hours a rest that is not over yet may still take, each as likely as the others."""
        age = (now - task.stage_since).total_seconds() / 3600
        hours = [share * float(task.rest_hours) - age for share in self.shares(task)]
        soonest = (task.earliest_touch - now).total_seconds() / 3600 if task.earliest_touch else 0.0
        return [max(soonest, one) for one in hours if one > 0] or [max(0.0, soonest)]


def triangle(low: float, high: float, share: float) -> float:
    """The length by which so large a share of rests of a triangle low - 1 - high is over.

    >>> triangle(0.5, 2.0, 1 / 3), triangle(0.5, 2.0, 1), triangle(1, 1, 0.3)
    (1.0, 2.0, 1.0)
    """
    if high <= low:
        return 1.0
    if share < (1 - low) / (high - low):
        return low + sqrt(share * (high - low) * (1 - low))
    return high - sqrt((1 - share) * (high - low) * (high - 1))


def rests() -> Rests:
    """The rests that the last year's ledger tells of. Two queries."""
    resting = set(Stage.objects.filter(kind=Stage.Kind.RESTING).values_list("pk", flat=True))
    lines = Move.objects.filter(
        recorded_at__range=(clock.now() - timedelta(weeks=WEEKS_BACK), clock.now()),
        task__operation__rest__isnull=False,
        task__rest_hours__gt=0,
    ).order_by("pk")
    began: dict[int, datetime] = {}
    seen: dict[int, list[float]] = defaultdict(list)
    for task, rest, planned, origin, target, at, undoes in lines.values_list(
        "task_id",
        "task__operation__rest_id",
        "task__rest_hours",
        "origin_id",
        "target_id",
        "recorded_at",
        "undoes_id",
    ):
        if undoes:
            began.pop(task, None)
        elif origin in resting and task in began:
            hours = (at - began.pop(task)).total_seconds() / 3600
            seen[rest].append(min(LONGEST_SHARE, max(0.0, hours / float(planned))))
        if target in resting:
            began[task] = at
    return Rests({rest: tuple(sorted(row)) for rest, row in seen.items()})
