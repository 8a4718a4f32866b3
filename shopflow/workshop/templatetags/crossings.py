"""The crossings of the Floor: up to two thousand on a page, so each is one tag and not a dozen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django import template
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from shopflow.common import keys
from shopflow.common.gauges import GaugeSheet

if TYPE_CHECKING:
    from shopflow.workshop.selectors.floor import Crossing

register = template.Library()

_ALL_SIGNED = keys.alone("signed", "done")
_NOTHING = mark_safe('<span class="none" aria-label="nothing to do">·</span>')


@register.simple_tag
def crossing(shown: Crossing, sheet: GaugeSheet) -> SafeString:
    """{% crossing one floor.sheet %}: a table cell with the gauge, a count of what is signed, or a dot."""
    return format_html(
        '<td class="crossing{}" data-label="{}">{}</td>',
        "" if shown.total else " is-none",
        shown.department.name,
        _inside(shown, sheet),
    )


def _inside(shown: Crossing, sheet: GaugeSheet) -> SafeString:
    if shown.shown and shown.gauge:
        return format_html(
            '<a href="{}" title="{}: {}">{}<span class="count">{}/{}</span></a>',
            reverse("workshop:task", args=[shown.shown.task_id]),
            shown.shown.name,
            shown.shown.stage.name,
            sheet.cell(shown.gauge),
            shown.signed,
            shown.total,
        )
    if shown.is_done:
        return format_html(
            '<span class="all-signed">{}<span class="hush">all signed, </span>{}</span>',
            _ALL_SIGNED,
            shown.total,
        )
    return _NOTHING
