"""The Load: which bench starves, which is swamped, and the plan that says so."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import trigger_client_event

from shopflow.catalogue.models import Department
from shopflow.catalogue.views.answers import me
from shopflow.common import clock
from shopflow.common.htmx import wants_fragment
from shopflow.compute.calendar import IsoWeek
from shopflow.compute.errors import ComputeError
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.planning import asked
from shopflow.planning.selectors import load as questions
from shopflow.planning.selectors.plans import drafts, published


@only(Deed.PLAN)
@require_safe
def load(request: HttpRequest) -> HttpResponse:
    now, plan = clock.now(), published()
    facts = {
        "plan": plan,
        "table": questions.load_table(plan, now=now),
        "moves_since": questions.moves_since(plan) if plan else 0,
        "today": clock.today(),
    }
    if wants_fragment(request):
        return render(request, "planning/_load.html", facts)
    return render(request, "planning/load.html", facts | _job() | {"drafts": drafts()})


@only(Deed.PLAN)
@require_safe
def cell(request: HttpRequest, code: str, week: str) -> HttpResponse:
    """The tasks behind one cell."""
    department = get_object_or_404(Department, code=code)
    plan, shown = published(), _week(week)
    if plan is None or shown not in questions.weeks_of(plan, clock.today()):
        raise Http404
    facts = {
        "plan": plan,
        "department": department,
        "week": shown,
        "today": clock.today(),
        "tasks": questions.behind(plan, department, shown, now=clock.now()),
    }
    template = "planning/_load_cell.html" if wants_fragment(request) else "planning/load_cell.html"
    return render(request, template, facts)


@only(Deed.PLAN)
@require_POST
def plan_anew(request: HttpRequest) -> HttpResponse:
    asked.plan_anew(by=me(request))
    if wants_fragment(request):
        return render(request, "planning/_plan_job.html", _job())
    messages.success(request, "The plan is being made. Nothing waits for it; the last one stands until then.")
    return redirect("planning:load")


@only(Deed.PLAN)
@require_safe
def progress(request: HttpRequest) -> HttpResponse:
    """How the planning is getting on; the page hears of each plan that is there anew."""
    if not wants_fragment(request):
        return redirect("planning:load")
    facts = _job()
    answer = render(request, "planning/_plan_job.html", facts)
    if request.GET.get("plan", "") != str(facts["plan_known"]):
        trigger_client_event(answer, "plan-made")
    if facts["job"] is None:
        trigger_client_event(answer, "say", {"value": "The new plan stands."})
    return answer


@only(Deed.PLAN)
@require_POST
def stop(request: HttpRequest) -> HttpResponse:
    asked.stop(by=me(request))
    if wants_fragment(request):
        return render(request, "planning/_plan_job.html", _job())
    messages.success(request, "Asked to stop: the best plan found so far is kept.")
    return redirect("planning:load")


def _week(written: str) -> IsoWeek:
    try:
        return IsoWeek.parse(written)
    except ComputeError as wrong:
        raise Http404 from wrong


def _job() -> dict[str, Any]:
    """The planning that is under way or went wrong lately; a job that ended well has nothing to say."""
    job = asked.latest()
    said = job if asked.worth_saying(job, clock.now()) else None
    plan = published()
    return {
        "job": said,
        "awake": asked.worker_is_awake() if said and said.is_open else True,
        "plan_known": plan.pk if plan else 0,
    }
