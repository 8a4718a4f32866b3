"""How planning says figures in words."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.utils import timezone

from shopflow.planning.problem import CLOSES


def odds_in_words(odds: float) -> str:
    """Odds as one would say them at the bench.

    >>> odds_in_words(0.31), odds_in_words(0.02), odds_in_words(0.97), odds_in_words(0.5)
    ('3 in 10', 'hardly ever', 'nearly sure', '5 in 10')
    """
    if odds < 0.05:
        return "hardly ever"
    if odds > 0.95:
        return "nearly sure"
    return f"{min(9, max(1, round(10 * odds)))} in 10"


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
