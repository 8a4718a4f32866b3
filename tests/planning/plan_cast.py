"""Outlooks beside the plan, so that promises can be judged."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from shopflow.instruments.models import Instrument
from shopflow.planning.models import InstrumentOutlook, Plan

from .crew_cast import MONDAY


def day_of(days: float) -> datetime:
    """Noon so many days after the Monday of the tests."""
    return MONDAY.replace(hour=12) + timedelta(days=days)


def outlook(plan: Plan, piano: Instrument, *, likely: float, late: float, **given: Any) -> InstrumentOutlook:
    """Half of the runs done so many days after Monday, four of five by the second."""
    days = {"planned": likely, "p10": likely - 1, "p50": likely, "p80": late, "p90": late + 1}
    moments = {name: day_of(number) for name, number in days.items()}
    return InstrumentOutlook.objects.create(plan=plan, instrument=piano, **moments | given)
