from __future__ import annotations

from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shopflow.common import clock
from shopflow.common.htmx import wants_fragment
from shopflow.common.text import clean, on_one_line
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.reports.selectors.records import Wanted
from shopflow.reports.selectors.records import records as every_record
from shopflow.reports.selectors.year import years


@login_required
@require_safe
def records(request: HttpRequest) -> HttpResponse:
    """Every instrument that was ever here, by words, whereabouts and year."""
    access.require(request.user, Deed.SEE_SHOP)
    known = years(now=clock.now())
    wanted = _wanted(request, known)
    context = {
        "page": every_record(wanted, page=request.GET.get("page")),
        "wanted": wanted,
        "years": known,
        "base": "?" + _query(wanted),
        "may_take_out": access.may(request.user, Deed.EXPORT),
        "may_bring": access.may(request.user, Deed.BRING_IN),
    }
    template = "reports/_records.html" if wants_fragment(request) else "reports/records.html"
    return render(request, template, context)


def _wanted(request: HttpRequest, known: list[int]) -> Wanted:
    """Unknown values fall back to everything; a search longer than any name is cut."""
    where, year = request.GET.get("where", ""), request.GET.get("year", "")
    return Wanted(
        words=on_one_line(clean(request.GET.get("search", "")[:200]))[:60],
        where=where if where in dict(Wanted.WHERE) else "",
        year=next((one for one in known if str(one) == year), None),
        with_owners=access.may(request.user, Deed.SEE_CUSTOMER),
    )


def _query(wanted: Wanted) -> str:
    """The question as it stands in an address, ready for a page number."""
    asked = {"search": wanted.words, "where": wanted.where, "year": wanted.year or ""}
    given = urlencode({name: value for name, value in asked.items() if value})
    return f"{given}&" if given else ""
