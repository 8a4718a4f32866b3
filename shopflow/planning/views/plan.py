"""The plan along the days: all instruments, one bench, and the bench's list for a week."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from shopflow.catalogue.models import Department
from shopflow.catalogue.selectors import departments
from shopflow.common import clock
from shopflow.compute.calendar import IsoWeek
from shopflow.compute.errors import ComputeError
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.planning.selectors import timeline as questions
from shopflow.planning.selectors.bench_week import bench_week
from shopflow.planning.selectors.load import moves_since, weeks_of
from shopflow.planning.selectors.plans import published


@only(Deed.PLAN)
@require_safe
def plan(request: HttpRequest) -> HttpResponse:
    known = published()
    facts = {
        "plan": known,
        "shown": questions.timeline(known, now=clock.now()) if known else None,
        "moves_since": moves_since(known) if known else 0,
        "today": clock.today(),
    }
    return render(request, "planning/plan.html", facts)


@only(Deed.PLAN)
@require_safe
def bench(request: HttpRequest, code: str) -> HttpResponse:
    department, known = get_object_or_404(Department, code=code), published()
    facts = {
        "plan": known,
        "department": department,
        "departments": departments(),
        "shown": questions.bench_timeline(known, department, now=clock.now()) if known else None,
        "moves_since": moves_since(known) if known else 0,
        "week": IsoWeek.of(clock.today()),
    }
    return render(request, "planning/bench.html", facts)


@only(Deed.PLAN)
@require_safe
def week(request: HttpRequest, code: str, week: str = "week") -> HttpResponse:
    """The list that is printed and hung beside the bench; `week` itself means this week."""
    department, known, today = get_object_or_404(Department, code=code), published(), clock.today()
    this = IsoWeek.of(today)
    shown = this if week == "week" else _week(week)
    if shown < this or (known and shown not in weeks_of(known, today)):
        raise Http404
    facts = {
        "plan": known,
        "department": department,
        "week": shown,
        "is_this_week": shown == this,
        "next": this.next(),
        "moves_since": moves_since(known) if known else 0,
        "pieces": bench_week(known, department, shown, now=clock.now(), today=today) if known else [],
    }
    return render(request, "planning/bench_week.html", facts)


def _week(written: str) -> IsoWeek:
    try:
        return IsoWeek.parse(written)
    except ComputeError as wrong:
        raise Http404 from wrong
