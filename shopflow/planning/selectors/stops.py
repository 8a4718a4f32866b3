"""What stops work here: how often, for how long, and how much longer what is stopped now may last."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from shopflow.common import clock
from shopflow.planning.models import PartOnOrder
from shopflow.workshop.models import Snag, Task

# Until the shop's own history speaks: three tasks of a hundred, for a day to four weeks (common practice, no
# source). The odds count as much as fifty tasks of its own; the lengths until there are five of its own.
ODDS, WORTH_TASKS = 0.03, 50
LENGTHS = (24.0, 72.0, 168.0, 336.0, 672.0)
FEW = 5
LOOKED_AT = 400


@dataclass(frozen=True, slots=True)
class StoppedTask:
    """A task that cannot go on now: the day to plan with, and how much longer it may last, in clock hours.

    Without hours nothing is known but the day.
    """

    task_id: int
    day: date
    hours: Sequence[float] = ()


@dataclass(frozen=True, slots=True)
class Stops:
    """What the shop knows about stops."""

    odds: float = ODDS
    lengths: Sequence[float] = LENGTHS
    now: Sequence[StoppedTask] = field(default_factory=tuple)


def stops(today: date) -> Stops:
    """What is known by now. Five queries."""
    moment = clock.now()
    cleared = Snag.objects.filter(cleared_at__lte=moment).order_by("-cleared_at")[:LOOKED_AT]
    lasted: dict[str, list[float]] = defaultdict(list)
    for cause, raised, ended in cleared.values_list("cause", "raised_at", "cleared_at"):
        if ended is not None:
            lasted[cause].append(max(0.0, (ended - raised).total_seconds() / 3600))
    lengths = [hours for row in lasted.values() for hours in row]
    return Stops(
        odds=_odds(moment),
        lengths=sorted(lengths) if len(lengths) >= FEW else LENGTHS,
        now=[*_snags(moment, today, lasted, lengths), *_parts(moment, today)],
    )


def _odds(moment: datetime) -> float:
    signed = Task.objects.signed().filter(stage_since__lte=moment)
    stopped = Snag.objects.filter(task__in=signed, raised_at__lte=moment).count()
    return min(1.0, (stopped + ODDS * WORTH_TASKS) / (signed.count() + WORTH_TASKS))


def _snags(
    moment: datetime, today: date, lasted: dict[str, list[float]], lengths: list[float]
) -> list[StoppedTask]:
    """Open snags: each lasts as long as those of its cause that had not been cleared by its age either."""
    found = []
    rows = Snag.objects.open_at(moment).values_list("task_id", "ask_again_on", "cause", "raised_at")
    for task_id, day, cause, raised in rows:
        age = (moment - raised).total_seconds() / 3600
        longer = [[hours - age for hours in row if hours > age] for row in (lasted[cause], lengths)]
        enough = next((row for row in longer if len(row) >= FEW), ())
        found.append(StoppedTask(task_id, _tomorrow_at_least(day, today), sorted(enough)))
    return found


def _parts(moment: datetime, today: date) -> list[StoppedTask]:
    """Parts on order: as late as those that came before, if not later than this one is by now."""
    came = PartOnOrder.objects.filter(arrived_on__lte=today).order_by("-arrived_on")[:LOOKED_AT]
    days = came.values_list("arrived_on", "expected_on")
    late = [(arrived - expected).days for arrived, expected in days if arrived is not None]
    found = []
    awaited = PartOnOrder.objects.filter(arrived_on=None, ordered_on__lte=today)
    for task_id, day in awaited.values_list("task_id", "expected_on"):
        ahead = sorted(left for left in ((day - today).days + each for each in late) if left > 0)
        hours = [24.0 * left for left in ahead] if len(ahead) >= FEW else []
        found.append(StoppedTask(task_id, _tomorrow_at_least(day, today), hours))
    return found


def _tomorrow_at_least(day: date, today: date) -> date:
    return max(day, today + timedelta(days=1))
