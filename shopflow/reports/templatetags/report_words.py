"""How frozen figures are said on a page."""

from __future__ import annotations

from types import SimpleNamespace

from django import template

from shopflow.reports import words
from shopflow.reports.figures import Bench, Figures

register = template.Library()
register.filter("short_day", words.day)


@register.filter
def as_department(row: Bench) -> SimpleNamespace:
    """What a department's mark is drawn from, as it was when the report was made."""
    return SimpleNamespace(name=row["name"], mark=row["mark"], material=row["material"])


@register.filter
def all_signed(figures: Figures) -> int:
    return sum(row["signed"] for row in figures["benches"])
