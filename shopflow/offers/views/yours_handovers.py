"""The handover report as the customer keeps it."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shopflow.customers.models import PrivateLink
from shopflow.offers.door import for_customer, nothing_here
from shopflow.offers.selectors.handovers import given_or_404


@for_customer
@require_safe
def handover(request: HttpRequest, link: PrivateLink, report_number: int) -> HttpResponse:
    try:
        row = given_or_404(link.instrument, report_number)
    except Http404:
        return nothing_here(request)
    return render(request, "offers/yours_handover.html", {"handover": row, "report": row.frozen})
