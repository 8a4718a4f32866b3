"""What each department did, week by week: tasks signed, hours earned and hours spent."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from django.db.models import Q, Sum

from shopflow.catalogue.models import Stage
from shopflow.workshop.models import HoursSpent, Move

from .door import Span


@dataclass(slots=True)
class Work:
    """One department's week; signed and earned are net of what was undone or sent back."""

    signed: int = 0
    earned: Decimal = Decimal(0)
    spent: Decimal = Decimal(0)
    signed_by_week: list[int] = field(default_factory=list)


def work_done(starts: Sequence[datetime], *, until: datetime) -> dict[int, Work]:
    """By department: tasks signed in each of these weeks; of the last one also hours earned and spent.

    Two queries. Hours count when they were entered, by the server's clock, as moves do.
    """
    done: dict[int, Work] = defaultdict(lambda: Work(signed_by_week=[0] * len(starts)))
    for at, department_id, hours, origin, target in _signings(Span(starts[0], until)):
        step = (target == Stage.Kind.SIGNED) - (origin == Stage.Kind.SIGNED)
        work = done[department_id]
        work.signed_by_week[bisect_right(starts, at) - 1] += step
        if at >= starts[-1]:
            work.signed += step
            work.earned += step * hours
    for department_id, hours in _hours(Span(starts[-1], until)):
        done[department_id].spent = hours
    return done


def _signings(span: Span):  # type: ignore[no-untyped-def]
    signed = Q(target__kind=Stage.Kind.SIGNED) | Q(origin__kind=Stage.Kind.SIGNED)
    moves = Move.objects.filter(signed, recorded_at__gte=span.start, recorded_at__lt=span.end)
    columns = ("recorded_at", "task__department_id", "task__hours_likely", "origin__kind", "target__kind")
    return moves.order_by().values_list(*columns)


def _hours(span: Span):  # type: ignore[no-untyped-def]
    entered = HoursSpent.objects.filter(recorded_at__gte=span.start, recorded_at__lt=span.end)
    return entered.order_by().values_list("task__department_id").annotate(total=Sum("hours"))


def late_taps(span: Span) -> int:
    """Moves tapped before this span that only reached the shop within it; they count here."""
    return Move.objects.filter(
        recorded_at__gte=span.start, recorded_at__lt=span.end, tapped_at__lt=span.start
    ).count()


def last_line(*, until: datetime) -> int:
    """The last line of the ledger written before this moment; 0 in an empty one."""
    lines = Move.objects.filter(recorded_at__lt=until).order_by("-pk")
    return lines.values_list("pk", flat=True).first() or 0
