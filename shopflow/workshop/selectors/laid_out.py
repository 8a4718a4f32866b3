"""What an instrument's work could consist of besides, and how far its list has grown."""

from __future__ import annotations

from django.db.models import Max

from shopflow.catalogue.models import Operation
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Task


def offered_operations(instrument: Instrument) -> list[Operation]:
    """The operations in use that are done on this kind of instrument, department by department."""
    operations = Operation.objects.in_use().select_related("department")
    return [one for one in operations if one.hours_for(instrument.kind) is not None]


def newest_task(instrument: Instrument) -> int:
    """The key of the task laid out last, 0 without any."""
    newest = Task.objects.filter(instrument=instrument).aggregate(newest=Max("pk"))["newest"]
    return newest or 0
