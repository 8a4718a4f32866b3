"""Work that has to wait because a part of its piano is in another department's hands, in words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from django.utils import timezone

from shopflow.catalogue.models import Stage
from shopflow.common import clock
from shopflow.planning.parts import Parts
from shopflow.planning.words import day
from shopflow.workshop.models import Task
from shopflow.workshop.services.order.places import in_words

IN_HAND = (Stage.Kind.BENCHED, Stage.Kind.RESTING, Stage.Kind.PROVING)


def elsewhere(tasks: Iterable[Task]) -> dict[int, str]:
    """By task on the rack: which of its parts another task has now, and where. Tasks with their stage."""
    racked = [task for task in tasks if task.stage.kind == Stage.Kind.RACKED]
    in_hand = list(_in_hand({task.instrument_id for task in racked})) if racked else []
    if not in_hand:
        return {}
    parts = Parts.read({task.instrument.kind for task in [*racked, *in_hand]})
    holders = defaultdict(list)
    for other in in_hand:
        if other.stage.kind != Stage.Kind.RESTING or (parts.rest_keeps(other) and _rests_still(other)):
            holders[other.instrument_id].append((parts.held_by(other), other))
    found: dict[int, str] = {}
    for task in racked:
        wanted = parts.held_by(task)
        words = [
            f"{in_words(wanted & held)}: {_where(other)}"
            for held, other in holders[task.instrument_id]
            if wanted & held
        ]
        if words:
            found[task.pk] = f"waits for {'; '.join(words)}"
    return found


def _in_hand(pianos: Iterable[int]) -> Iterable[Task]:
    rows = Task.objects.in_the_job().filter(instrument__in=pianos, stage__kind__in=IN_HAND)
    rows = rows.select_related("stage", "department", "operation__rest", "instrument")
    return rows.order_by("position", "pk")


def _rests_still(other: Task) -> bool:
    return other.earliest_touch is None or other.earliest_touch > clock.now()


def _where(other: Task) -> str:
    """Where a part is, and until when as far as that is known."""
    bench = other.department.name
    if other.stage.kind == Stage.Kind.PROVING:
        return f"{other.name} is to be checked in {bench}"
    if other.stage.kind == Stage.Kind.BENCHED:
        return f"{other.name} is on the bench in {bench}"
    rest = other.operation.rest if other.operation else None
    of_what = f" ({rest.name.lower()})" if rest else ""
    until = f" until {day(timezone.localdate(other.earliest_touch))}" if other.earliest_touch else ""
    return f"{other.name} rests{of_what} in {bench}{until}"
