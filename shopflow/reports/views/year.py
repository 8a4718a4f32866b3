from __future__ import annotations

from datetime import datetime

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shopflow.common import clock
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.planning.selectors.year_outlook import YearAhead, year_ahead
from shopflow.reports import words
from shopflow.reports.selectors.year import YearPage, year_page, years


@login_required
@require_safe
def year(request: HttpRequest, number: int | None = None) -> HttpResponse:
    """Will we make the year's number? The present year, or an earlier one of the ledger."""
    access.require(request.user, Deed.REPORTS)
    now = clock.now()
    known = years(now=now)
    if number is not None and number not in known:
        raise Http404(f"the ledger has no year {number}")
    page = year_page(number or known[0], now=now)
    context = {
        "page": page,
        "told": page.told,
        "years": known,
        "stats": words.year_stats(page.told, is_running=page.is_running),
        "said": words.year(page.told),
        "ahead": _ahead(page, now=now) if page.is_running else None,
        "may_set_target": access.may(request.user, Deed.TARGET),
        "may_take_out": access.may(request.user, Deed.EXPORT),
    }
    return render(request, "reports/year.html", context)


def _ahead(page: YearPage, *, now: datetime) -> YearAhead | None:
    """What the plan says of the rest of the year."""
    told = page.told
    return year_ahead(told["year"], now=now, weeks=told["weeks"], running=told["running"], aims=told["aims"])
