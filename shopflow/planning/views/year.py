"""The set-up's page of a year."""

from __future__ import annotations

from copy import copy
from functools import partial
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from shopflow.catalogue.views.answers import deed_done, kept, me, office, row_for, saved, sent, status_of
from shopflow.common import clock
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.planning.forms.year import ClosedDaysForm, TargetForm
from shopflow.planning.models import AnnualTarget, ClosedDay
from shopflow.planning.selectors.year import target_of, year_sheet
from shopflow.planning.services import year as services


@office("GET", "HEAD")
def year(request: HttpRequest) -> HttpResponse:
    """A year's target, its closed days, and the working weeks that remain; this year unless asked."""
    return _page(request, _year(request.GET.get("year") or str(clock.today().year)))


@office("POST")
def target(request: HttpRequest, year: int) -> HttpResponse:
    access.require(request.user, Deed.TARGET)
    form = TargetForm(sent(request), instance=_target(_year(str(year))))
    deed = partial(services.set_target, year=year, by=me(request))
    made = kept(form, lambda: deed(instruments=form.cleaned_data["instruments"]))
    if made:
        return _back(request, f"{made.instruments} instruments in {year}: that is the target.", year)
    return _page(request, year, target_form=form)


@office("POST")
def close(request: HttpRequest, year: int) -> HttpResponse:
    form = ClosedDaysForm(sent(request))
    days = kept(form, lambda: services.close_days(**form.cleaned_data, by=me(request)))
    if days:
        words = f"Closed on {len(days)} more day{'s' if len(days) > 1 else ''}."
        return _back(request, words, days[0].year)
    return _page(request, _year(str(year)), closed_form=form)


@office("POST")
def reopen(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a closed day off the list."""
    row: ClosedDay = row_for(request, ClosedDay.objects.all(), pk=pk)
    day = row.day
    return deed_done(
        request,
        lambda: _reopen(row, request),
        fragment=lambda refused: render(request, "planning/_closed.html", _facts(request, day.year)),
        page=lambda refused: _page(request, day.year),
        then=(f"{reverse('planning:year')}?year={day.year}",),
    )


def _reopen(row: ClosedDay, request: HttpRequest) -> str:
    words = f"{row.day:%d %B %Y} is a day like any other again."
    services.open_day(closed=row, by=me(request))
    return words


def _year(given: str) -> int:
    if not (given.isascii() and given.isdigit() and len(given) == 4 and int(given) in services.YEARS):
        raise Http404
    return int(given)


def _target(year: int) -> AnnualTarget:
    return copy(target_of(year)) or AnnualTarget(year=year)


def _back(request: HttpRequest, words: str, year: int) -> HttpResponse:
    return saved(request, words, f"{reverse('planning:year')}?year={year}")


def _facts(request: HttpRequest, year: int) -> dict[str, Any]:
    sheet = year_sheet(year)
    neighbours = {"before": year - 1, "after": year + 1}
    return {
        "sheet": sheet,
        "may_set": access.may(request.user, Deed.TARGET),
        **{name: one for name, one in neighbours.items() if one in services.YEARS},
    }


def _page(
    request: HttpRequest,
    year: int,
    *,
    target_form: TargetForm | None = None,
    closed_form: ClosedDaysForm | None = None,
) -> HttpResponse:
    facts = _facts(request, year)
    row = facts["sheet"].target or AnnualTarget(year=year)
    facts["target_form"] = target_form or TargetForm(instance=copy(row))
    facts["closed_form"] = closed_form or ClosedDaysForm()
    status = max(status_of(facts["target_form"]), status_of(facts["closed_form"]))
    return render(request, "planning/year.html", facts, status=status)
