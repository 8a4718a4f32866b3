"""What will be begun while the present work is done: as much as is finished, and of the same sort as of late.

The plan holds only what is laid out. But the shop does not stop taking work on, and new work with a near
promise goes before old work with a far one; without it, every forecast of a far finish is too early.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import date, datetime, timedelta

from django.db.models import Min

from shopflow.catalogue.selectors import the_shop
from shopflow.common import clock
from shopflow.compute.hours import HoursEstimate
from shopflow.planning.on_paper import PaperWork
from shopflow.workshop.models import Task, TaskNeed

from .estimates import spread_of
from .outlook import finished_between

WEEKS_BACK, WEEKS_AHEAD = 26, 20
# From fewer finishes than this nothing is concluded.
FEW = 4
# Beyond so many the next months are full in any case, and a forecast takes long.
MOST = 80


def begun_meanwhile(now: datetime, *, estimates: Mapping[tuple[int, str], HoursEstimate]) -> PaperWork:
    """The instruments begun in the last half year once more, in turn, as many a week as were finished. Five
    queries.
    """
    today = now.astimezone(the_shop().zone).date()
    begun, finished = _begun(), finished_between(today - timedelta(weeks=WEEKS_BACK), today)
    paper = PaperWork()
    if not begun or finished < FEW:
        return paper
    apart = 7 * WEEKS_BACK / finished
    paper.per_week = 7 / apart
    tasks = _tasks(begun)
    ties = _ties(tasks)
    in_turn = sorted(begun, key=lambda pk: (begun[pk], pk))
    for number in range(min(MOST, int(WEEKS_AHEAD * 7 / apart))):
        pk = in_turn[number % len(in_turn)]
        day, piano = today + timedelta(days=round((number + 0.5) * apart)), tasks[pk][0].instrument
        paper.add(
            piano,
            tasks[pk],
            ties=ties[pk],
            estimates=[spread_of(task, estimates) for task in tasks[pk]],
            begins=day,
            promised_on=piano.promised_on and day + (piano.promised_on - begun[pk]),
            now=now,
        )
    return paper


def _begun() -> dict[int, date]:
    """The day on which the work of each instrument was laid out, of those of the last half year."""
    first = clock.now() - timedelta(weeks=WEEKS_BACK)
    rows = (
        Task.objects.filter(at_the_owners=False, dropped_at=None, created_at__lte=clock.now())
        .values_list("instrument_id")
        .annotate(laid_out=Min("created_at"))
        .filter(laid_out__gte=first)
    )
    zone = the_shop().zone
    return {pk: laid_out.astimezone(zone).date() for pk, laid_out in rows}


def _tasks(begun: Mapping[int, date]) -> dict[int, list[Task]]:
    rows = Task.objects.filter(
        instrument__in=begun, at_the_owners=False, dropped_at=None, created_at__lte=clock.now()
    ).select_related("instrument", "department", "operation__rest")
    found: dict[int, list[Task]] = defaultdict(list)
    for task in rows.order_by("position", "pk"):
        found[task.instrument_id].append(task)
    return found


def _ties(tasks: Mapping[int, list[Task]]) -> dict[int, list[tuple[int, int]]]:
    """(earlier, later) within each instrument, by their places in its list."""
    places = {task.pk: (pk, place) for pk, row in tasks.items() for place, task in enumerate(row)}
    found: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for later, earlier in TaskNeed.objects.filter(task__in=places).values_list("task_id", "needs_id"):
        piano, place = places[later]
        if earlier in places and places[earlier][0] == piano:
            found[piano].append((places[earlier][1], place))
    return found
