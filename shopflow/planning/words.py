"""How planning says figures in words."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.utils import timezone

from shopflow.planning.work import CLOSES


def day_by(moment: datetime) -> date:
    """The day by whose closing hour something that is finished at this moment is finished."""
    here = timezone.localtime(moment)
    return here.date() + timedelta(days=here.time() > CLOSES)


def days(count: int) -> str:
    """
    >>> days(1), days(12)
    ('1 day', '12 days')
    """
    return "1 day" if count == 1 else f"{count} days"


def day(one: date) -> str:
    """
    >>> day(date(2026, 3, 2))
    '2 Mar'
    """
    return f"{one.day} {one:%b}"


def dated(one: date) -> str:
    """
    >>> dated(date(2026, 3, 2))
    'Mon 2 Mar 2026'
    """
    return f"{one:%a} {one.day} {one:%b} {one.year}"
