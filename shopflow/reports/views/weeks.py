"""The shelf of weekly reports, the report of one week, and having it made."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseClientRedirect, HttpResponseStopPolling

from shopflow.catalogue.selectors import the_shop
from shopflow.common import clock, job_runs
from shopflow.common.htmx import wants_fragment
from shopflow.common.mail import NAME_ONE, goes_out
from shopflow.common.models import Job
from shopflow.common.refusals import Refused
from shopflow.compute.calendar import IsoWeek
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.reports import background, paper, pictures, words
from shopflow.reports.figures import Figures
from shopflow.reports.models import WeeklyReport
from shopflow.reports.selectors import due
from shopflow.reports.selectors.shelf import job_for, neighbours
from shopflow.reports.selectors.shelf import shelf as the_shelf
from shopflow.reports.selectors.week import week_figures


class SeeOther(HttpResponseRedirect):
    status_code = 303


@login_required
@require_safe
def shelf(request: HttpRequest) -> HttpResponse:
    """Every week since the ledger began, latest first."""
    access.require(request.user, Deed.REPORTS)
    page = the_shelf(request.GET.get("page"), now=clock.now())
    return render(request, "reports/shelf.html", {"page": page})


@login_required
@require_safe
def week(request: HttpRequest, week: IsoWeek) -> HttpResponse:
    """The report of a week; of the running week the figures so far; of any other the way to have it made."""
    access.require(request.user, Deed.REPORTS)
    report = due.report_of(week)
    if report is not None:
        return _document(request, week, report.figures, report)
    now = clock.now()
    _is_there(week, now)
    if due.is_over(week, now=now, zone=the_shop().zone):
        return _unmade(request, week)
    return _document(request, week, week_figures(week, until=now), None)


@login_required
@require_safe
def pdf(request: HttpRequest, week: IsoWeek) -> HttpResponse:
    """The report on paper."""
    access.require(request.user, Deed.REPORTS)
    report = due.report_of(week)
    if report is None:
        raise Http404(f"{week} has no report")
    answer = HttpResponse(paper.pdf(report).read_bytes(), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{report}.pdf"'
    return answer


@login_required
@require_POST
def make(request: HttpRequest, week: IsoWeek) -> HttpResponse:
    """Have the report made now. Asked again while that is under way, it is the same job."""
    access.require(request.user, Deed.REPORTS)
    if due.report_of(week) is not None:
        return _see(request, week)
    _is_there(week, clock.now())
    try:
        background.ask_for(week=week, by=request.user)
    except Refused as refused:
        return _refused(request, week, refused)
    if wants_fragment(request):
        return render(request, "reports/_making.html", _progress(week))
    return _see(request, week)


@login_required
@require_safe
def making(request: HttpRequest, week: IsoWeek) -> HttpResponse:
    """How far it is: asked each second by the page while the job is open."""
    access.require(request.user, Deed.REPORTS)
    if due.report_of(week) is not None:
        return _see(request, week)
    _is_there(week, clock.now())
    if not wants_fragment(request):
        return _see(request, week)
    told = _progress(week)
    answer = render(request, "reports/_making.html", told)
    job: Job | None = told["job"]  # type: ignore[assignment]
    return answer if job and job.is_open else HttpResponseStopPolling(answer.content)


def _is_there(week: IsoWeek, now: datetime) -> None:
    zone = the_shop().zone
    first = due.first_week(zone)
    if first is None or not first <= week <= IsoWeek.at(now, zone):
        raise Http404(f"the ledger has no {week}")


def _see(request: HttpRequest, week: IsoWeek) -> HttpResponse:
    url = reverse("reports:week", args=[week])
    return HttpResponseClientRedirect(url) if wants_fragment(request) else SeeOther(url)


def _refused(request: HttpRequest, week: IsoWeek, refused: Refused) -> HttpResponse:
    if wants_fragment(request):
        told = _progress(week) | {"refusal": refused.message}
        return render(request, "reports/_making.html", told, status=refused.status)
    messages.error(request, refused.message)
    figures = week_figures(week, until=clock.now())
    return _document(request, week, figures, None, status=refused.status)


def _progress(week: IsoWeek) -> dict[str, object]:
    return {"week": week, "job": job_for(week), "worker_is_awake": job_runs.is_awake()}


def _unmade(request: HttpRequest, week: IsoWeek) -> HttpResponse:
    told = _progress(week) | {"title": words.title(str(week))}
    return render(request, "reports/unmade.html", told)


def _document(
    request: HttpRequest,
    week: IsoWeek,
    figures: Figures,
    report: WeeklyReport | None,
    *,
    status: int = 200,
) -> HttpResponse:
    earlier, later = neighbours(week, now=clock.now())
    context = {
        "week": week,
        "earlier": earlier,
        "later": later,
        "report": report,
        "not_mailed": "" if goes_out() else f"Not mailed: no mail server is named. {NAME_ONE}",
        "figures": figures,
        "title": words.title(figures["week"]),
        "dates": words.dates(figures),
        "stats": words.stats(figures),
        "summary": words.summary(figures),
        "charts": pictures.of_week(figures),
        "times": words.times(figures),
        "law": words.law(figures),
    }
    return render(request, "reports/week.html", context, status=status)
