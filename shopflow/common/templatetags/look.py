"""What a template can draw: gauges, marks, charts, fields, weeks."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django import template
from django.forms import BaseForm, BoundField, CheckboxInput, CheckboxSelectMultiple, RadioSelect
from django.utils.html import format_html
from django.utils.safestring import SafeString

from shopflow.common import gauges, keys, marks
from shopflow.common.charts import Chart

register = template.Library()


@register.simple_tag
def gauge(shown: gauges.Gauge, sheet: gauges.GaugeSheet | None = None) -> SafeString:
    """{% gauge cell.gauge sheet %}: small gauge; with a sheet its drawing is shared by the whole page."""
    return sheet.cell(shown) if sheet is not None else gauges.alone(shown)


@register.simple_tag
def gauge_sheet(sheet: gauges.GaugeSheet) -> SafeString:
    """{% gauge_sheet sheet %}: once, after the last gauge of a page or fragment."""
    return sheet.svg()


@register.inclusion_tag("components/_keyrun.html")
def keyrun(shown: gauges.Gauge, names: Sequence[str]) -> dict[str, Any]:
    """{% keyrun gauge stage_names %}: the large gauge with the stages' names."""
    return {"keys": gauges.named_keys(shown, names), "words": shown.words, "material": shown.material}


@register.simple_tag
def kind_key(kind: str, state: str = "ahead") -> SafeString:
    """{% kind_key "resting" %}: one key, for a legend."""
    return keys.alone(kind, state)


@register.simple_tag
def dept_mark(department: marks.Marked, name: bool = True) -> SafeString:
    """{% dept_mark department %}; with name=False the name is only read aloud."""
    return marks.mark_with_name(department, show_name=name)


@register.inclusion_tag("components/_chart.html")
def chart(shown: Chart) -> dict[str, Any]:
    """{% chart year %}: the drawing, and its figures underneath."""
    return {"chart": shown}


@register.simple_tag
def small_chart(shown: Chart) -> SafeString:
    """{% small_chart load %}: the drawing alone, named by its title and description."""
    return format_html('<span class="small-chart">{}</span>', shown.svg())


@register.inclusion_tag("components/_field.html")
def field(bound: BoundField, short: bool = False) -> dict[str, Any]:
    """{% field form.serial %}: label, help, error and the control, tied together for a reader."""
    widget = bound.field.widget
    many = isinstance(widget, RadioSelect | CheckboxSelectMultiple)
    said_by = [f"{bound.auto_id}_error"] if bound.errors else []
    said_by += [f"{bound.auto_id}_help"] if bound.help_text else []
    attrs: dict[str, str | bool] = {"aria-describedby": " ".join(said_by)} if said_by else {}
    if bound.errors:
        attrs["aria-invalid"] = "true"
    return {
        "field": bound,
        "control": bound if many else bound.as_widget(attrs=attrs),
        "many": many,
        "tick": isinstance(widget, CheckboxInput),
        "short": short,
        "said_by": " ".join(said_by),
        "need": _need(bound),
    }


def _need(bound: BoundField) -> str:
    """What to say beside a field that is not simply needed."""
    if bound.field.required:
        return ""
    if any(bound.name in group for group in getattr(bound.form, "one_of", ())):
        return "one of the two is needed"
    return str(getattr(bound.form, "need_words", {}).get(bound.name, "may stay empty"))


@register.filter
def one_of_groups(form: BaseForm) -> str:
    """Which fields of a form stand for each other, for its `data-one-of`."""
    return "|".join(" ".join(group) for group in getattr(form, "one_of", ()))


@register.filter
def clock_span(hours: float | Decimal) -> str:
    """A stretch of calendar time in hours, or in days where that is easier to grasp.

    >>> clock_span(12), clock_span(336)
    ('12 h', '14 days')
    """
    return f"{float(hours):g} h" if hours < 48 else f"{float(hours) / 24:.3g} days"


@register.filter
def iso_week(day: date | None) -> SafeString:
    """A day's ISO week as people say it and as machines read it.

    >>> iso_week(date(2026, 1, 1))
    '<time datetime="2026-W01" title="2026-W01">week 1</time>'
    """
    if day is None:
        return SafeString("")
    year, week, _ = day.isocalendar()
    return format_html('<time datetime="{0}-W{1}" title="{0}-W{1}">week {2}</time>', year, f"{week:02}", week)
