"""Telling the boards what the published plan says, so that Floor and Bench can show it without asking up."""

from __future__ import annotations

from django.db.models import OuterRef, Subquery

from shopflow.common import pulse
from shopflow.instruments.models import Instrument
from shopflow.planning.models import InstrumentOutlook, Plan, PlanLine
from shopflow.planning.words import day_by
from shopflow.workshop.models import Task


def tell_the_boards(plan: Plan) -> None:
    """Write odds and likely day on each instrument, the planned beginning on each task."""
    outlooks = list(InstrumentOutlook.objects.filter(plan=plan))
    told = {row.instrument_id for row in outlooks}
    Instrument.objects.exclude(likely_by=None).exclude(pk__in=told).update(likely_by=None, promise_odds=None)
    Instrument.objects.bulk_update(
        [
            Instrument(pk=row.instrument_id, likely_by=day_by(row.p80), promise_odds=row.odds)
            for row in outlooks
        ],
        ["likely_by", "promise_odds"],
        batch_size=200,
    )
    lines = PlanLine.objects.filter(plan=plan, task=OuterRef("pk")).order_by("part")
    Task.objects.exclude(planned_for=None).update(planned_for=None)
    Task.objects.filter(pk__in=PlanLine.objects.filter(plan=plan).values("task")).update(
        planned_for=Subquery(lines.values("starts_at")[:1])
    )
    pulse.bump()
