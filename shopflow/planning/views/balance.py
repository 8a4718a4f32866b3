"""What would help most, and the drafts in which it is tried on paper."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import trigger_client_event

from shopflow.catalogue.views.answers import me
from shopflow.common import clock, job_runs
from shopflow.common.htmx import wants_fragment
from shopflow.common.refusals import Refused
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.planning.asked import worth_saying
from shopflow.planning.models import Plan
from shopflow.planning.selectors import balance as questions
from shopflow.planning.selectors import load
from shopflow.planning.selectors.plans import differences, drafts, published
from shopflow.planning.services import balance as services
from shopflow.planning.services import drafts as papers
from shopflow.planning.services import plans


@only(Deed.PLAN)
@require_safe
def balance(request: HttpRequest) -> HttpResponse:
    return _page(request)


@only(Deed.PLAN)
@require_POST
def ask(request: HttpRequest) -> HttpResponse:
    services.ask(by=me(request))
    return _job_or_page(request)


@only(Deed.PLAN)
@require_POST
def stop(request: HttpRequest) -> HttpResponse:
    services.stop(by=me(request))
    return _job_or_page(request)


@only(Deed.PLAN)
@require_safe
def progress(request: HttpRequest) -> HttpResponse:
    """How the trying is getting on; the answer itself once there is one."""
    if not wants_fragment(request):
        return redirect("planning:balance")
    facts = _found()
    answer = render(request, "planning/_balance.html", facts)
    if facts["job"] is None:
        trigger_client_event(answer, "say", {"value": "What was tried is ranked."})
    return answer


@only(Deed.PLAN)
@require_POST
def try_on_paper(request: HttpRequest) -> HttpResponse:
    """Put a measure of the list into a new draft, or into one that is there."""
    measure = questions.measure_of(_number(request, "found"), _number(request, "row"))
    if measure is None:
        raise Http404
    if not request.POST.get("draft"):
        return _tried(request, lambda: papers.try_on_paper(measures=[measure], by=me(request)))
    draft = _open_draft(_number(request, "draft"))
    return _tried(request, lambda: papers.add_to(draft, measure=measure, by=me(request)))


@only(Deed.PLAN)
@require_safe
def drafts_there(request: HttpRequest) -> HttpResponse:
    """The drafts that are there and that are being made, for the page to look again."""
    if not wants_fragment(request):
        return redirect("planning:balance")
    return render(request, "planning/_drafts.html", _drafts())


@only(Deed.PLAN)
@require_safe
def draft(request: HttpRequest, pk: int) -> HttpResponse:
    """A draft beside today's plan: figures, loads, and what would change."""
    return _draft_page(request, get_object_or_404(Plan.objects.select_related("beside"), pk=pk))


@only(Deed.PLAN)
@require_POST
def publish(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Plan, pk=pk)
    try:
        plans.publish(plan=row, by=me(request))
    except plans.PublishedMeanwhile as late:
        facts = {"draft": row, "now": late.now, "words": late.message, "lines": late.lines}
        return render(request, "planning/published_meanwhile.html", facts, status=late.status)
    except Refused as refused:
        return _draft_page(request, row, refused=refused.message)
    messages.success(request, "Published. This is the plan of the shop now.")
    return redirect("planning:changes")


@only(Deed.PLAN)
@require_POST
def drop(request: HttpRequest, pk: int) -> HttpResponse:
    plans.drop_draft(plan=get_object_or_404(Plan, pk=pk), by=me(request))
    messages.success(request, f"Draft {pk} is put away; nothing of it took effect.")
    return redirect("planning:balance")


@only(Deed.PLAN)
@require_POST
def again(request: HttpRequest, pk: int) -> HttpResponse:
    """Make a draft again beside the plan that stands now."""
    row = _open_draft(pk)
    return _tried(request, lambda: papers.again(row, by=me(request)))


@only(Deed.PLAN)
@require_POST
def without(request: HttpRequest, pk: int, place: int) -> HttpResponse:
    row = _open_draft(pk)
    if place >= len(row.measures):
        raise Http404
    return _tried(request, lambda: papers.without(row, place=place, by=me(request)))


@only(Deed.PLAN)
@require_safe
def changes(request: HttpRequest) -> HttpResponse:
    """What the plan of the shop changed against the one before it."""
    plan = published()
    if plan is None:
        raise Http404
    facts = {
        "plan": plan,
        "before": plan.beside,
        "measures": questions.measures_said(plan),
        "lines": differences(plan.beside, plan) if plan.beside else [],
    }
    return render(request, "planning/changes.html", facts)


def _number(request: HttpRequest, name: str) -> int:
    given = request.POST.get(name, "")
    if not (given.isascii() and given.isdigit() and len(given) < 12):
        raise Http404
    return int(given)


def _open_draft(pk: int) -> Plan:
    return get_object_or_404(Plan, pk=pk, state=Plan.State.DRAFT)


def _tried(request: HttpRequest, deed: Callable[[], Any]) -> HttpResponse:
    try:
        deed()
    except Refused as refused:
        return _page(request, refused=refused.message)
    messages.success(request, papers.BEING_MADE)
    return redirect("planning:balance")


def _job_or_page(request: HttpRequest) -> HttpResponse:
    if wants_fragment(request):
        return render(request, "planning/_balance.html", _found() | _drafts())
    return redirect("planning:balance")


def _found() -> dict[str, Any]:
    job = questions.latest_job()
    said = job if worth_saying(job, clock.now()) else None
    awake = job_runs.is_awake() if said and said.is_open else True
    return {"job": said, "awake": awake, "found": questions.found(), "drafts": drafts()}


def _drafts() -> dict[str, Any]:
    there = [(one, questions.measures_said(one)) for one in drafts()]
    jobs = papers.under_way()
    return {"drafts_there": there, "making": jobs, "any_open": any(job.is_open for job in jobs)}


def _page(request: HttpRequest, *, refused: str = "") -> HttpResponse:
    facts = _found() | _drafts() | {"refused": refused, "plan": published()}
    return render(request, "planning/balance.html", facts, status=422 if refused else 200)


def _draft_page(request: HttpRequest, row: Plan, *, refused: str = "") -> HttpResponse:
    now, today = clock.now(), published()
    is_draft = row.state == Plan.State.DRAFT
    table = load.load_table(row, now=now)
    other = load.load_table(today, now=now) if today and today != row else None
    facts = {
        "draft": row,
        "is_draft": is_draft,
        "is_stale": is_draft and row.beside_id != (today.pk if today else None),
        "plan": today,
        "measures": questions.measures_said(row),
        "figures": questions.figures_beside(today.figures if today else {}, row.figures),
        "same_dice": _same_dice(row),
        "lines": differences(today, row) if today and today != row else [],
        "table": table.against(other) if other else table,
        "table_now": other,
        "refused": refused,
    }
    return render(request, "planning/draft.html", facts, status=422 if refused else 200)


def _same_dice(row: Plan) -> list[questions.Figure]:
    known = row.figures.get("same_dice")
    if not known:
        return []
    before, after = ({**one, "promises_at_risk": one["at_risk"]} for one in (known["before"], known["after"]))
    return questions.figures_beside(before, after)
