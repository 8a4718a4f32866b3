"""Promises: when each instrument will be finished, and what can be promised of one."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shopflow.common import clock
from shopflow.common.htmx import wants_fragment
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.planning.selectors import promises as questions
from shopflow.planning.selectors.load import moves_since
from shopflow.planning.selectors.plans import published


@only(Deed.PLAN)
@require_safe
def promises(request: HttpRequest) -> HttpResponse:
    plan, today = published(), clock.today()
    rows = questions.promises(plan, today=today)
    facts = {
        "plan": plan,
        "rows": rows,
        "chart": questions.promise_chart(rows, today=today),
        "call_today": [row for row in rows if row.call_today],
        "moves_since": moves_since(plan) if plan else 0,
        "today": today,
    }
    return render(request, "planning/promises.html", facts)


@only(Deed.PLAN)
@require_safe
def suggest(request: HttpRequest, number: str) -> HttpResponse:
    """The day that today's plan would let one promise: a piece beside the promise's form, or a page."""
    instrument, plan = instrument_or_404(number), published()
    facts = {
        "instrument": instrument,
        "plan": plan,
        "advice": questions.advice(plan, instrument) if plan else None,
    }
    template = "planning/_suggest.html" if wants_fragment(request) else "planning/suggest.html"
    return render(request, template, facts)
